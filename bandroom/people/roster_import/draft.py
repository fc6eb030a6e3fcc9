"""What a director has given and chosen so far, carried signed from one page of the import to the next.

Nothing about a child is stored before the director says so: the whole draft travels in the page, compressed
and signed for this director and band, and is good for a day.
"""

from dataclasses import dataclass, field, replace
from datetime import timedelta

from django.core import signing

from bandroom.people.instruments import Instrument
from bandroom.people.models import Membership, RecordingPermission
from bandroom.people.roster_import.columns import Column, ColumnLayout
from bandroom.people.roster_import.table import FileRow, Table

GOOD_FOR = timedelta(days=1)


class DraftError(ValueError):
    """The draft is not one of ours, another director's, or too old."""


@dataclass(frozen=True, slots=True)
class Choices:
    """How to read the table.

    `section`: the pk of the section all rows go to where no column says it; None: a section for each
    instrument. `period`: the class period where no column says it. `instrument`: likewise. `meanings`: what
    unknown names of instruments mean, as the director said, by the name as written.
    """

    layout: ColumnLayout
    section: int | None = None
    period: str = ""
    instrument: Instrument | None = None
    meanings: dict[str, Instrument] = field(default_factory=dict)
    recording: RecordingPermission = RecordingPermission.PENDING


@dataclass(frozen=True, slots=True)
class RosterDraft:
    """`seen` is the fingerprint of the plan that the director was shown, empty before."""

    table: Table
    choices: Choices
    seen: str = ""

    def shown(self, fingerprint: str) -> "RosterDraft":
        return replace(self, seen=fingerprint)


def _salt(membership: Membership) -> str:
    return f"roster-import:{membership.band_id}:{membership.user_id}"


def signed_draft(draft: RosterDraft, *, membership: Membership) -> str:
    choices = draft.choices
    return signing.dumps(
        {
            "rows": [[row.number, *row.cells] for row in draft.table.rows],
            "head": choices.layout.head,
            "columns": [column.value for column in choices.layout.columns],
            "section": choices.section,
            "period": choices.period,
            "instrument": choices.instrument and choices.instrument.value,
            "meanings": {name: instrument.value for name, instrument in choices.meanings.items()},
            "recording": choices.recording.value,
            "seen": draft.seen,
        },
        salt=_salt(membership),
        compress=True,
    )


def opened_draft(token: str, *, membership: Membership) -> RosterDraft:
    """The draft that `signed_draft` made for the same director and band. DraftError otherwise."""
    try:
        data = signing.loads(token, salt=_salt(membership), max_age=GOOD_FOR)
    except signing.BadSignature:
        raise DraftError("This import was left open for too long: give us the list again.") from None
    return RosterDraft(
        table=Table(tuple(FileRow(number, tuple(cells)) for number, *cells in data["rows"])),
        choices=Choices(
            layout=ColumnLayout(
                head=data["head"], columns=tuple(Column(column) for column in data["columns"])
            ),
            section=data["section"],
            period=data["period"],
            instrument=Instrument(data["instrument"]) if data["instrument"] else None,
            meanings={name: Instrument(value) for name, value in data["meanings"].items()},
            recording=RecordingPermission(data["recording"]),
        ),
        seen=data["seen"],
    )
