"""Rubrics written, changed, copied, put away; never changed under marks already given."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from bandroom.people.models import Band
from submissions.assigning import standard_rubric
from submissions.assigning.criteria import CriterionWords, check
from submissions.errors import Refused
from submissions.models import Criterion, Level, Rubric


@transaction.atomic
def default_rubric(*, band: Band, at: datetime) -> Rubric:
    """The rubric a new assignment starts with: the one used last, else the newest, else the standard one.

    The standard rubric is made the first time a band needs one.
    """
    Band.objects.select_for_update().get(pk=band.pk)  # two pages opened at once make one rubric
    current = Rubric.objects.filter(band=band, put_away_at__isnull=True)
    used = current.filter(assignments__isnull=False).order_by("-assignments__posted_at", "-assignments__pk")
    rubric = used.first() or current.order_by("-created_at", "-pk").first()
    if rubric is None:
        rubric = write_rubric(band=band, name=standard_rubric.NAME, criteria=standard_rubric.CRITERIA, at=at)
    return rubric


@transaction.atomic
def write_rubric(*, band: Band, name: str, criteria: Sequence[CriterionWords], at: datetime) -> Rubric:
    check(criteria)
    rubric = Rubric.objects.create(band=band, name=name, created_at=at)
    _write_criteria(rubric, criteria)
    return rubric


@transaction.atomic
def edit_rubric(*, rubric: Rubric, name: str, criteria: Sequence[CriterionWords], at: datetime) -> Rubric:
    """The rubric as it now reads. One that was posted stays as it is, put away, and its copy comes back.

    A new name alone changes no mark, so it is written in place.
    """
    check(criteria)
    locked = Rubric.objects.select_for_update().get(pk=rubric.pk)
    if words_of(locked) == tuple(criteria):
        locked.name = name
        locked.save(update_fields=["name"])
        return locked
    if locked.assignments.exists():
        locked.put_away_at = locked.put_away_at or at
        locked.save(update_fields=["put_away_at"])
        return write_rubric(band=locked.band, name=name, criteria=criteria, at=at)
    locked.name = name
    locked.save(update_fields=["name"])
    locked.criteria.all().delete()
    _write_criteria(locked, criteria)
    return locked


def copy_rubric(*, rubric: Rubric, at: datetime) -> Rubric:
    limit = Rubric._meta.get_field("name").max_length or 0
    ending = ", copy"
    name = rubric.name[: limit - len(ending)] + ending
    return write_rubric(band=rubric.band, name=name, criteria=words_of(rubric), at=at)


def put_away(*, rubric: Rubric, at: datetime) -> None:
    """No longer offered for new assignments; those that use it keep it."""
    if not Rubric.objects.filter(pk=rubric.pk, put_away_at__isnull=True).update(put_away_at=at):
        raise Refused("This rubric is put away already.")


def take_out(*, rubric: Rubric) -> None:
    if not Rubric.objects.filter(pk=rubric.pk, put_away_at__isnull=False).update(put_away_at=None):
        raise Refused("This rubric is in use already.")


def words_of(rubric: Rubric) -> tuple[CriterionWords, ...]:
    """Its criteria in words; two queries, none where criteria and levels were prefetched."""
    criteria = rubric.criteria.all()
    if "criteria" not in getattr(rubric, "_prefetched_objects_cache", {}):
        criteria = criteria.prefetch_related("levels")
    return tuple(
        CriterionWords(name=criterion.name, levels=tuple(level.words for level in criterion.levels.all()))
        for criterion in criteria
    )


def _write_criteria(rubric: Rubric, criteria: Sequence[CriterionWords]) -> None:
    for order, words in enumerate(criteria):
        criterion = Criterion.objects.create(rubric=rubric, name=words.name, order=order)
        Level.objects.bulk_create(
            Level(criterion=criterion, value=value, words=level)
            for value, level in enumerate(words.levels, 1)
        )
