"""Which lines of a turn-in are in, in data and in words."""

from datetime import timedelta

import pytest

from bandroom.people.models import Band, Membership, Seat, Section
from submissions.models import CountingTake, Posting, Take
from submissions.turn_ins import services as turn_ins
from submissions.turn_ins.lines_in import NOTHING, LinesIn, lines_in
from tests import factories

AT = factories.MONDAY + timedelta(days=1)


@pytest.mark.parametrize(
    ("here", "to_come", "words"),
    [
        ("AB", "", ""),
        ("A", "B", "Line A is in. Line B is still to play."),
        ("", "A", "Line A is still to play."),
        ("AB", "C", "Lines A and B are in. Line C is still to play."),
        ("A", "BCD", "Line A is in. Lines B, C and D are still to play."),
    ],
)
def test_half_the_work_never_reads_like_all_of_it(here: str, to_come: str, words: str):
    assert LinesIn(here=tuple(here), to_come=tuple(to_come)).words == words


@pytest.mark.django_db
class TestOfATurnIn:
    @pytest.fixture
    def posting(self, band: Band, section: Section) -> Posting:
        return factories.make_assignment(band=band, sections=[section]).postings.get()

    @pytest.fixture
    def takes(self, posting: Posting, seat: Seat) -> list[Take]:
        return [
            Take.objects.create(
                assignment=posting.assignment,
                seat=seat,
                lines=["A"],
                declared_at=AT,
                declared_bytes=1,
                declared_sha256=str(number) * 64,
            )
            for number in range(2)
        ]

    def told(self, seat: Seat) -> LinesIn:
        turn_in = seat.turn_ins.get()
        return lines_in([(turn_in, turn_in.assignment.lines)])[turn_in.pk]

    def test_one_of_two_lines(self, posting: Posting, seat: Seat, takes: list[Take]):
        turn_ins.turn_in(seat=seat, posting=posting, takes={"A": takes[0]}, at=AT)

        assert self.told(seat) == LinesIn(here=("A",), to_come=("B",))

    def test_a_take_that_cannot_be_played_is_still_to_come(
        self, posting: Posting, seat: Seat, takes: list[Take]
    ):
        turn_ins.turn_in(seat=seat, posting=posting, takes={"A": takes[0]}, at=AT)
        Take.objects.update(state=Take.State.REFUSED)

        told = self.told(seat)

        assert told == LinesIn(to_come=("A", "B"), unplayable=("A",))
        assert told.alerts == [
            "The recording you turned in for line A cannot be played. Record line A again."
        ]

    def test_an_earlier_take_that_counts_again_is_in(self, posting: Posting, seat: Seat, takes: list[Take]):
        for take in takes:
            turn_ins.turn_in(seat=seat, posting=posting, takes={"A": take}, at=AT)
        Take.objects.filter(pk=takes[1].pk).update(state=Take.State.REFUSED)

        assert turn_ins.fall_back() == 1

        assert CountingTake.objects.get().take_id == takes[0].pk
        assert self.told(seat) == LinesIn(here=("A",), to_come=("B",), fell_back=("A",))

    def test_what_is_played_live_is_in_as_a_whole(self, posting: Posting, seat: Seat, director: Membership):
        turn_ins.open_live(seat=seat, posting=posting, by=director.user, at=AT)

        assert self.told(seat) == LinesIn(here=("A", "B"))

    def test_of_what_came_back_nothing_is_said(
        self, posting: Posting, seat: Seat, takes: list[Take], director: Membership
    ):
        row = turn_ins.turn_in(seat=seat, posting=posting, takes={"A": takes[0]}, at=AT)
        turn_ins.return_turn_in(turn_in=row, attempt=1, by=director.user, at=AT, unmarked_is_meant=True)

        assert self.told(seat) == NOTHING
