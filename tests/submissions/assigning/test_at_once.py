"""Two directors press at once: numbers stay in order, and a band gets one standard rubric."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from submissions.assigning import services
from submissions.assigning.deadlines import usual_window
from submissions.assigning.rubrics import default_rubric
from submissions.models import Assignment, Rubric

pytestmark = pytest.mark.django_db(transaction=True)
PEOPLE = 6


def all_at_once[T](act: Callable[[], T]) -> list[T]:
    """What each of several threads got, each on a connection of its own."""
    ready = Barrier(PEOPLE)

    def run(_: int) -> T:
        try:
            ready.wait()
            return act()
        finally:
            connection.close()

    with ThreadPoolExecutor(PEOPLE) as pool:
        return list(pool.map(run, range(PEOPLE)))


def test_numbers_given_at_once_are_all_different(band, section, exercise, at):
    rubric = default_rubric(band=band, at=at)
    window = usual_window(zone=band.zone, at=at)
    all_at_once(
        lambda: services.post(
            band=band,
            exercise=exercise,
            windows={section: window},
            rubric=rubric,
            lines=["A"],
            by=None,
            at=at,
        )
    )
    assert sorted(Assignment.objects.values_list("number", flat=True)) == [1, 2, 3, 4, 5, 6]


def test_pages_opened_at_once_make_one_standard_rubric(band, at):
    made = all_at_once(lambda: default_rubric(band=band, at=at))
    assert {rubric.pk for rubric in made} == {Rubric.objects.get().pk}


def test_withdrawn_at_once_counts_once(assignment, at):
    def withdraw() -> bool:
        try:
            services.withdraw(assignment=assignment, at=at)
        except services.Refused:
            return False
        return True

    assert sorted(all_at_once(withdraw)) == [False] * (PEOPLE - 1) + [True]
