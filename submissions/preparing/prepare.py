"""From a file that was sent to a take that can be played: everything in order, once."""

from dataclasses import asdict, dataclass
from pathlib import Path

from submissions.preparing.findings import Finding, Limits, Refusal, Unusable
from submissions.preparing.loudness import Loudness
from submissions.preparing.marker import Beginning, find_marker
from submissions.preparing.opening import Opened, open_recording
from submissions.preparing.reading import Reading
from submissions.preparing.serving import write_served

# A container may promise a little more than it holds: padding of the last frame.
MISSING_SECONDS, MISSING_SHARE = 0.5, 0.02


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

    The copy itself is decoded to its end, so what is measured is what will be heard.
    """
    with open_recording(source) as opened:
        promised = opened.declared_seconds
        if promised is not None and promised > limits.longest_seconds:
            raise Unusable(Refusal.TOO_LONG, minutes=limits.longest_minutes)
        picture, short = opened.had_picture, opened.bytes_missing
        media_type = write_served(opened=opened, to=served, limits=limits)
    loudness, beginning = Loudness(), Beginning()
    with _reopened(served) as copy:
        reading = Reading(copy)
        for block in reading:
            loudness.add(block)
            beginning.add(block)
    seconds = loudness.seconds
    if promised is not None:
        short = short or promised - seconds > max(MISSING_SECONDS, MISSING_SHARE * promised)
    if short and seconds < limits.shortest_rest_seconds:
        raise Unusable(Refusal.CUT_OFF)
    if seconds < limits.shortest_seconds:
        raise Unusable(Refusal.TOO_SHORT)
    marker_seconds = find_marker(beginning.sound(), rate=beginning.rate)
    findings = loudness.findings(marker_seconds=marker_seconds)
    findings += [Finding.HAD_PICTURE] if picture else []
    findings += [Finding.CUT_SHORT] if short else []
    findings += [Finding.DAMAGED] if reading.errors and not short else []
    return Prepared(
        media_type=media_type,
        seconds=round(seconds, 3),
        peaks=loudness.peaks(),
        findings=findings,
        marker_seconds=None if marker_seconds is None else round(marker_seconds, 5),
    )


def _reopened(served: Path) -> Opened:
    """The copy just written; a copy that cannot be opened holds no sound at all."""
    try:
        return open_recording(served)
    except Unusable:
        raise Unusable(Refusal.TOO_SHORT) from None
