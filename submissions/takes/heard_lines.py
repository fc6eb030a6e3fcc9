"""What was heard of one line, read from the hearing of its take."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from submissions.listening.errors import HearingError
from submissions.listening.evidence import Evidence, Verdict
from submissions.models import Hearing

NOT_LISTENED_TO = "This line could not be listened to."
OTHER_FORM = (
    "What was heard was kept by another version of the listener. "
    "Whoever runs the server can have it heard again with: manage.py hear --stale"
)


@dataclass(frozen=True, slots=True)
class HeardLine:
    """One hearing's answer for one line. `evidence` is there when the state is DONE.

    ear  the director's own word beside the evidence, by note
    """

    hearing: Hearing
    line: str
    state: Hearing.State
    reason: str
    evidence: Evidence | None
    ear: Mapping[int, Verdict]

    @property
    def is_done(self) -> bool:
        return self.state == Hearing.State.DONE


def heard_line(hearing: Hearing, line: str) -> HeardLine:
    """A take that was heard may have a line that could not be: it had nothing to listen for."""
    state, reason, evidence = Hearing.State(hearing.state), hearing.reason, None
    if state == Hearing.State.DONE:
        try:
            evidence = evidence_of(hearing.evidence, line)
            reason = "" if evidence else reason or NOT_LISTENED_TO
        except HearingError:
            reason = OTHER_FORM
        if evidence is None:
            state = Hearing.State.FAILED
    return HeardLine(hearing, line, state, reason, evidence, ear_of(hearing.overruled, line))


def evidence_of(kept: Mapping[str, Any] | None, line: str) -> Evidence | None:
    """`kept` is a hearing's evidence by line. Raises HearingError for a form that cannot be read."""
    own = (kept or {}).get(line)
    return None if own is None else Evidence.from_json(own)


def readable(kept: Mapping[str, Any] | None, line: str) -> Evidence | None:
    """The same, None also for what cannot be read."""
    try:
        return evidence_of(kept, line)
    except HearingError:
        return None


def ear_of(overruled: Mapping[str, Any], line: str) -> dict[int, Verdict]:
    """`overruled` is a hearing's, by line and note."""
    return {int(note): Verdict(verdict) for note, verdict in overruled.get(line, {}).items()}
