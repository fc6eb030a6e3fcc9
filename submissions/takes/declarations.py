"""What a phone says before it sends any bytes."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from submissions.models import Take


@dataclass(frozen=True, slots=True)
class Declaration:
    """One recording as the phone announces it, before any of its bytes."""

    id: UUID
    lines: tuple[str, ...]
    bytes: int
    sha256: str
    origin: Take.Origin
    recorded_at: datetime | None
    lead_seconds: float | None
    # Quarter notes a minute counted off, by line; empty for a file.
    tempos: dict[str, int]


@dataclass(frozen=True, slots=True)
class Press:
    """A student pressed "turn in": which take counts for each line, and when by the phone's clock."""

    takes: dict[str, UUID]
    declarations: tuple[Declaration, ...]
    pressed_at: datetime | None
