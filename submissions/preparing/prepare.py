"""From a file that was sent to a take that can be played: everything in order, once."""

from dataclasses import asdict, dataclass
from pathlib import Path

from submissions.preparing.findings import Finding, Limits, Refusal, Unusable
from submissions.preparing.marker import find_marker
from submissions.preparing.measuring import measure
from submissions.preparing.opening import open_recording
from submissions.preparing.serving import write_served

# A container may promise a little more than it holds: padding of the last frame.
MISSING_SECONDS, MISSING_SHARE = 0.5, 0.02
# Holes shorter than this in all are not heard: WebKit's recorder leaves such in nearly every take.
HEARD_SECONDS = 0.1


@dataclass(frozen=True, slots=True)
class Prepared:
    """What is known of a take that can be played. All times are on the served file's own time line."""

    media_type: str
    seconds: float
    peaks: list[int]
    findings: list[Finding]
    marker_seconds: float | None

    def to_json(self) -> dict[str, object]:
        return asdict(self)


def prepare(*, source: Path, served: Path, limits: Limits) -> Prepared:
    """Write the served copy of `source` to `served` and measure it; raise Unusable where there is none.

    What came and the copy are both decoded to their end and compared, so what is measured is what will be
    heard, and nothing of what came is missing from it.
    """
    with open_recording(source) as opened:
        promised, picture, short = opened.declared_seconds, opened.had_picture, opened.bytes_missing
        came = measure(opened, limits=limits)
    short = short or came.ends_broken
    if promised is not None:
        short = short or promised - came.seconds > max(MISSING_SECONDS, MISSING_SHARE * promised)
    if short and came.sounding < limits.shortest_rest_seconds:
        raise Unusable(Refusal.CUT_OFF)
    if came.sounding < limits.shortest_seconds:
        raise Unusable(Refusal.TOO_SHORT)
    media_type, copy = write_served(source=source, like=came, to=served, limits=limits)
    marker_seconds = find_marker(copy.beginning.sound(), rate=copy.beginning.rate)
    findings = copy.loudness.findings(marker_seconds=marker_seconds)
    findings += [Finding.HAD_PICTURE] if picture else []
    findings += [Finding.CUT_SHORT] if short else []
    lost = came.lost_seconds > HEARD_SECONDS
    findings += [Finding.DAMAGED] if lost and not short else []
    findings += [Finding.GAPS] if came.gap_seconds > HEARD_SECONDS and not lost else []
    return Prepared(
        media_type=media_type,
        seconds=round(copy.seconds, 3),
        peaks=copy.loudness.peaks(),
        findings=findings,
        marker_seconds=None if marker_seconds is None else round(marker_seconds, 5),
    )
