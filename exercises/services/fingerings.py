"""A director's word on fingerings: yes to a row, a correction, an alternate of one's own, all as at first."""

from collections.abc import Collection, Sequence
from datetime import datetime

from django.db import transaction

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, User
from exercises.fingerings import fingering_choices, fingering_settings, own_rows
from exercises.models import FingeringChoice
from exercises.music.errors import MusicError
from exercises.music.fingering_tables import FingeringRow, check_keys, row_id, rows_of

OWN = "own"


@transaction.atomic
def confirm(*, band: Band, instrument: Instrument, rows: Collection[str], by: User, at: datetime) -> int:
    """Say yes to these rows as they stand; how many were not confirmed before. Unknown rows, and those whose
    keys the table does not give, are passed over."""
    known = {row.id: row for choices in table(band=band, instrument=instrument).values() for row in choices}
    fresh = 0
    for ident in rows:
        if ident not in known or known[ident].keys is None:
            continue
        FingeringChoice.objects.get_or_create(band=band, instrument=instrument, row_id=ident)
        waiting = FingeringChoice.objects.filter(
            band=band, instrument=instrument, row_id=ident, confirmed_at__isnull=True
        )
        fresh += waiting.update(confirmed_at=at, confirmed_by=by)
    return fresh


@transaction.atomic
def take_back(*, band: Band, instrument: Instrument, row: str) -> None:
    """The yes is gone: students do not see the row. A correction stays."""
    FingeringChoice.objects.filter(band=band, instrument=instrument, row_id=row).update(
        confirmed_at=None, confirmed_by=None
    )


@transaction.atomic
def correct(
    *,
    band: Band,
    instrument: Instrument,
    row: str,
    keys: Sequence[str],
    hint: str,
    when: str,
    by: User,
    at: datetime,
) -> None:
    """Write a row as the director plays it, or add one (`own_row`). That is a yes as well.

    Raises MusicError for a row or a key that the instrument does not have.
    """
    found = _row(instrument=instrument, band=band, ident=row)
    check_keys(found.table, found.kind, tuple(keys))
    is_own = row == own_row(found)
    FingeringChoice.objects.update_or_create(
        band=band,
        instrument=instrument,
        row_id=row,
        defaults={
            "own_keys": None if not is_own and tuple(keys) == found.keys else list(keys),
            "hint": "" if hint == found.hint else hint,
            "own_when": "" if when == found.when else when,
            "confirmed_at": at,
            "confirmed_by": by,
        },
    )


@transaction.atomic
def reset(*, band: Band, instrument: Instrument, row: str) -> None:
    """The row as the table has it, and no yes; an alternate of one's own is gone."""
    FingeringChoice.objects.filter(band=band, instrument=instrument, row_id=row).delete()


def table(*, band: Band, instrument: Instrument) -> dict[int, tuple[FingeringRow, ...]]:
    """All rows with the director's corrections in them, by written MIDI number."""
    choices = fingering_choices(band=band, instrument=instrument)
    return dict(rows_of(instrument, settings=fingering_settings(band), own=own_rows(choices)))


def own_row(row: FingeringRow) -> str:
    """Name of the alternate that a director adds to this row's note; a note has one."""
    return row_id(row.table, row.midi, OWN)


def _row(*, band: Band, instrument: Instrument, ident: str) -> FingeringRow:
    """The row as the table itself has it; for an alternate of one's own, the first choice of its note."""
    for rows in rows_of(instrument, settings=fingering_settings(band)).values():
        for row in rows:
            if ident in (row.id, own_row(row)):
                return row
    raise MusicError("This instrument’s table does not have this row.")
