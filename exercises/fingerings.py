"""The director's word on fingerings, as the engine takes it."""

from collections.abc import Sequence
from dataclasses import fields

from bandroom.people.models import Band
from exercises.models import FingeringChoice
from exercises.music.fingering_tables import FingeringSettings, OwnRow
from exercises.parts import part_policy


def fingering_choices(*, band: Band, instrument: str) -> tuple[FingeringChoice, ...]:
    """The director's words on this instrument's rows, as they stand now."""
    found = FingeringChoice.objects.filter(band=band, instrument=instrument)
    return tuple(found.select_related("confirmed_by"))


def confirmed_rows(choices: Sequence[FingeringChoice]) -> frozenset[str]:
    return frozenset(choice.row_id for choice in choices if choice.confirmed_at is not None)


def own_rows(choices: Sequence[FingeringChoice]) -> dict[str, OwnRow]:
    """Corrections by row id; a row that was only confirmed has none."""
    return {
        choice.row_id: OwnRow(
            keys=None if choice.own_keys is None else tuple(choice.own_keys),
            hint=choice.hint,
            when=choice.own_when,
        )
        for choice in choices
        if choice.own_keys is not None or choice.hint or choice.own_when
    }


def fingering_settings(band: Band) -> FingeringSettings:
    """The band's switches as the engine takes them."""
    on = set(part_policy(band).switches)
    return FingeringSettings(**{each.name: each.name in on for each in fields(FingeringSettings)})
