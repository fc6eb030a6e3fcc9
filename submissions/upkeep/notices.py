"""What a director should know of the school's computer, in words for somebody who is no technician."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum

from bandroom import room
from bandroom.people.models import Band
from submissions.models import Policy
from submissions.upkeep import beats, clock, ending
from submissions.upkeep.ending import Ending
from submissions.upkeep.waiting import Waiting, waiting_long

ENDINGS_SHOWN = 3


class Kind(Enum):
    DISK_FULL = "disk_full"
    WORKER_SILENT = "worker_silent"
    TAKES_WAIT = "takes_wait"
    CLOCK_DOUBTED = "clock_doubted"
    DELETED_NEXT_WEEK = "deleted_next_week"


@dataclass(frozen=True, slots=True)
class Notice:
    """One line on the week page; which of the fields it has follows from its kind."""

    kind: Kind
    since: datetime | None = None
    waiting: Waiting | None = None
    doubt: clock.Doubt | None = None
    endings: list[Ending] = field(default_factory=list)

    @property
    def is_serious(self) -> bool:
        return self.kind in {Kind.DISK_FULL, Kind.WORKER_SILENT}

    @property
    def takes(self) -> int:
        return sum(each.takes for each in self.endings)

    @property
    def shown(self) -> list[Ending]:
        return self.endings[:ENDINGS_SHOWN]

    @property
    def more(self) -> int:
        return len(self.endings) - len(self.shown)


def notices(*, band: Band, policy: Policy, at: datetime) -> list[Notice]:
    """The serious ones first; none where all is well. Four queries, five where something ends soon."""
    found = []
    if room.is_short():
        found.append(Notice(Kind.DISK_FULL))
    last, waiting = beats.last_beat(), waiting_long(band=band, at=at)
    if last is None or at - last > beats.SILENT_AFTER:
        found.append(Notice(Kind.WORKER_SILENT, since=last))
    elif waiting:
        found.append(Notice(Kind.TAKES_WAIT, waiting=waiting))
    if doubt := clock.doubt():
        found.append(Notice(Kind.CLOCK_DOUBTED, doubt=doubt))
    elif endings := ending.next_week(band=band, policy=policy, at=at):
        found.append(Notice(Kind.DELETED_NEXT_WEEK, endings=endings))
    return found
