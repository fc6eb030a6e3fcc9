"""Do to the band what the plan said: all of it, or nothing."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import Max

from bandroom.people.models import Band, Membership, RecordingPermission, Role, Seat, Section, User
from bandroom.people.name_ids import new_name_ids
from bandroom.people.roster_import.band_state import BandState, SectionKey, band_state
from bandroom.people.roster_import.draft import RosterDraft
from bandroom.people.roster_import.plan import Plan, PlannedRow, RowOutcome, make_plan

# Two imports that draw the same name-id at the same moment: the second starts anew.
TRIES = 3


class BandHasChanged(Exception):
    """The band is not as it was when the plan was shown. Nothing was written; `plan` is how it looks now."""

    def __init__(self, plan: Plan) -> None:
        super().__init__("The band has changed since the preview was made.")
        self.plan = plan


@dataclass(frozen=True, slots=True)
class Imported:
    new: int
    changed: int
    left: int  # rows with problems that were left out


def apply_draft(*, band: Band, draft: RosterDraft, at: datetime) -> Imported:
    """Write exactly the plan whose fingerprint is `draft.seen`; its rows with problems are left out.

    Raises BandHasChanged if the same rows would do something else by now. The number of queries does not
    grow with the rows.
    """
    for tried in range(TRIES):
        try:
            with transaction.atomic():
                return _apply(band=band, draft=draft, at=at)
        except IntegrityError:
            if tried == TRIES - 1:
                raise
    raise AssertionError("unreachable")


def _apply(*, band: Band, draft: RosterDraft, at: datetime) -> Imported:
    Band.objects.select_for_update().get(pk=band.pk)  # one import of a band at a time
    state = band_state(band)
    plan = make_plan(table=draft.table, choices=draft.choices, state=state)
    if plan.fingerprint != draft.seen:
        raise BandHasChanged(plan)
    sections = _sections(band=band, keys=plan.new_sections, state=state)
    today = band.local(at).date()
    new, changed = plan.of(RowOutcome.NEW), plan.of(RowOutcome.CHANGED)
    users = _new_students(band=band, rows=new, recording=draft.choices.recording)
    _change_students(rows=changed)
    _correct_seats(rows=changed, sections=sections, today=today)
    _close_seats(rows=changed, today=today)
    seats = [
        _seat(row, student=user.pk, sections=sections, since=today)
        for row, user in zip(new, users, strict=True)
    ]
    seats += [
        _seat(row, student=row.student.user, sections=sections, since=today)
        for row in changed
        if row.student and row.section and not _began_today(row, today)
    ]
    Seat.objects.bulk_create(seats)
    return Imported(new=len(new), changed=len(changed), left=len(plan.of(RowOutcome.PROBLEM)))


def _sections(*, band: Band, keys: tuple[SectionKey, ...], state: BandState) -> dict[tuple[str, str], int]:
    """The pk of every section by what it is called; new ones stand last, in the order of the list."""
    last = Section.objects.filter(band=band).aggregate(last=Max("order"))["last"]
    first = 0 if last is None else last + 1
    made = Section.objects.bulk_create(
        Section(band=band, name=key.name, period=key.period, order=first + index)
        for index, key in enumerate(keys)
    )
    return state.section_pks | {key.match: section.pk for key, section in zip(keys, made, strict=True)}


def _new_students(*, band: Band, rows: tuple[PlannedRow, ...], recording: RecordingPermission) -> list[User]:
    users = []
    for row, name_id in zip(rows, new_name_ids(row.first_name for row in rows), strict=True):
        user = User(sign_in_name=name_id, first_name=row.first_name, last_name=row.last_name)
        user.set_unusable_password()
        users.append(user)
    users = User.objects.bulk_create(users)
    Membership.objects.bulk_create(
        Membership(band=band, user=user, role=Role.STUDENT, recording=recording) for user in users
    )
    return users


def _change_students(*, rows: tuple[PlannedRow, ...]) -> None:
    renamed = [
        User(pk=row.student.user, first_name=row.first_name, last_name=row.last_name)
        for row in rows
        if row.student and row.renames
    ]
    User.objects.bulk_update(renamed, ["first_name", "last_name"])
    back = [row.student.membership for row in rows if row.student and row.comes_back]
    Membership.objects.filter(pk__in=back).update(ended_at=None)


def _began_today(row: PlannedRow, today: date) -> bool:
    return row.closes is not None and row.closes.since >= today


def _correct_seats(
    *, rows: tuple[PlannedRow, ...], sections: dict[tuple[str, str], int], today: date
) -> None:
    """A seat that began today has no day of its own to keep: it is put right in place."""
    seats = [
        Seat(pk=row.closes.pk, section_id=sections[row.section.match], instrument=row.instrument)
        for row in rows
        if row.closes and row.section and row.instrument and _began_today(row, today)
    ]
    Seat.objects.bulk_update(seats, ["section", "instrument"])


def _close_seats(*, rows: tuple[PlannedRow, ...], today: date) -> None:
    """Old seats end yesterday, the new ones begin today."""
    closing = [row.closes.pk for row in rows if row.closes and not _began_today(row, today)]
    Seat.objects.filter(pk__in=closing).update(until=today - timedelta(days=1))


def _seat(row: PlannedRow, *, student: int, sections: dict[tuple[str, str], int], since: date) -> Seat:
    if row.section is None or row.instrument is None:
        raise ValueError(f"Row {row.number} takes a seat without a section or an instrument.")
    return Seat(
        section_id=sections[row.section.match], student_id=student, instrument=row.instrument, since=since
    )
