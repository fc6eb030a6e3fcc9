"""The pages a band opens every day, at 30, 200 and 1,000 seats with full years behind them.

For each page: queries, server milliseconds (median and 95 % of 30 requests, caches warm) and kilobytes of
HTML, with the part of them that is notation. Run: python -m tests.bench.bench_pages
"""

import re
import statistics
import time
from datetime import UTC, date, datetime, timedelta

from tests.bench.scratch import scratch_database

SIZES = ((30, 1), (200, 1), (1000, 1), (200, 3))
WEEKS = 36
SEATS_IN_SECTION = 25
REQUESTS = 30
SCORE = re.compile(r'<g class="score">.*?</g></svg>|<defs>.*?</defs>', re.DOTALL)


def make_band(*, seats: int, years: int):
    """A band with `seats` seats, and `years` years of weekly work turned in, marked and returned."""
    from bandroom.people.models import Membership, Role, Seat, User  # noqa: PLC0415 only after django.setup()
    from submissions.models import Mark, Return, TurnIn  # noqa: PLC0415 as above
    from tests import factories  # noqa: PLC0415 as above

    band = factories.make_band(name=f"Band of {seats}, {years} years")
    director = factories.make_staff(band=band)
    first = datetime.now(UTC) - timedelta(weeks=52 * years)
    users = User.objects.bulk_create(
        User(sign_in_name=f"s{band.pk}-{n}", first_name="Student", last_name=f"Number{n:04d}", password="!")
        for n in range(seats)
    )
    Membership.objects.bulk_create(Membership(band=band, user=user, role=Role.STUDENT) for user in users)
    sections = [
        factories.make_section(band=band, name=f"Section {n}", period=str(1 + n % 6))
        for n in range(-(-seats // SEATS_IN_SECTION))
    ]
    instruments = ("flute", "clarinet", "alto_sax", "trumpet", "horn", "trombone", "tuba", "bells")
    rows = Seat.objects.bulk_create(
        Seat(
            section=sections[n // SEATS_IN_SECTION],
            student=user,
            instrument=instruments[n % len(instruments)],
            since=date(2020, 8, 1),
        )
        for n, user in enumerate(users)
    )
    exercise, rubric = factories.make_exercise(band=band), factories.make_rubric(band=band)
    levels = [(criterion, criterion.levels.last()) for criterion in rubric.criteria.all()]
    assignment = None
    for week in range(52 * years - WEEKS * years, 52 * years + 1):
        opens = first + timedelta(weeks=week, days=-2)
        assignment = factories.make_assignment(
            band=band, sections=sections, opens_at=opens, exercise=exercise, rubric=rubric
        )
        postings = {posting.section_id: posting for posting in assignment.postings.all()}
        current = week == 52 * years
        turn_ins = TurnIn.objects.bulk_create(
            TurnIn(
                assignment=assignment,
                posting=postings[seat.section_id],
                seat=seat,
                state=TurnIn.State.WAITING if current else TurnIn.State.RETURNED,
                route=TurnIn.Route.RECORDING,
                turned_in_at=opens + timedelta(days=1),
                first_in_at=opens + timedelta(days=1),
                state_changed_at=opens + timedelta(days=1),
            )
            for seat in rows[: len(rows) * 4 // 5]
        )
        if not current:
            Mark.objects.bulk_create(
                Mark(turn_in=row, attempt=1, line=line, criterion=criterion, level=level, given_at=opens)
                for row in turn_ins
                for line in "AB"
                for criterion, level in levels
            )
            Return.objects.bulk_create(
                Return(turn_in=row, attempt=1, returned_at=opens, seen_at=opens) for row in turn_ins
            )
    return director.user, rows[0], assignment


def measure(*, user, url: str) -> tuple[int, float, float, float, float]:
    """Queries, median and 95 % milliseconds, kB in all and kB without notation."""
    from django.db import connection  # noqa: PLC0415 only after django.setup()
    from django.test import Client  # noqa: PLC0415 as above
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415 as above

    client = Client()
    client.force_login(user, backend="bandroom.people.signing_in.NameBackend")
    response = client.get(url)
    assert response.status_code == 200, (url, response.status_code)
    with CaptureQueriesContext(connection) as queries:
        client.get(url)
        count = len(queries)  # the next request empties the log
    times = []
    for _ in range(REQUESTS):
        started = time.perf_counter()
        client.get(url)
        times.append((time.perf_counter() - started) * 1000)
    html = response.content.decode()
    bare = SCORE.sub("", html)
    return (
        count,
        statistics.median(times),
        statistics.quantiles(times, n=20)[-1],
        len(html.encode()) / 1000,
        len(bare.encode()) / 1000,
    )


def main() -> None:
    from django.urls import reverse  # noqa: PLC0415 only after django.setup()

    heads = ("queries", "median ms", "95 % ms", "kB", "bare kB")
    print(f"{'seats':>5} {'years':>5} {'page':<24}" + "".join(f"{head:>11}" for head in heads))
    for seats, years in SIZES:
        director, seat, assignment = make_band(seats=seats, years=years)
        pages = {
            "desk, roster": (director, reverse("submissions:desk", args=[assignment.pk])),
            "desk, one student": (director, reverse("submissions:desk-seat", args=[assignment.pk, seat.pk])),
            "overview": (director, reverse("submissions:assignment", args=[assignment.pk])),
            "week board": (director, reverse("submissions:week")),
            "student, my work": (seat.student, reverse("submissions:my-work")),
            "student, one assignment": (
                seat.student,
                reverse("submissions:my-assignment", args=[assignment.pk]),
            ),
        }
        for name, (user, url) in pages.items():
            queries, *figures = measure(user=user, url=url)
            print(f"{seats:>5} {years:>5} {name:<24}{queries:>11}" + "".join(f"{f:>11.1f}" for f in figures))


if __name__ == "__main__":
    with scratch_database():
        main()
