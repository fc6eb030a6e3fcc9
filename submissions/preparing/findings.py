"""What can be said of a file without listening for notes: why it is refused, and what is worth telling."""

from dataclasses import dataclass
from enum import StrEnum


class Finding(StrEnum):
    """Worth saying of a take that can be played. None of them refuses it."""

    SILENT = "silent"
    VERY_QUIET = "very quiet"
    CLIPPED = "clipped"
    HAD_PICTURE = "had a picture"
    CUT_SHORT = "cut short"
    GAPS = "gaps"
    DAMAGED = "damaged"


FINDING_SENTENCES = {
    Finding.SILENT: "Nothing can be heard in this recording; check the microphone and record it again.",
    Finding.VERY_QUIET: "This recording is very quiet; move closer to the microphone next time.",
    Finding.CLIPPED: "This recording is too loud in places; move back from the microphone next time.",
    Finding.HAD_PICTURE: "This was a video; only its sound was kept.",
    Finding.CUT_SHORT: "The end of this file is missing; what came before it was kept.",
    Finding.GAPS: "For a moment nothing was recorded; "
    "listen to it, and record it again if a note is missing.",
    Finding.DAMAGED: "Parts of this file could not be read; the rest was kept.",
}


class Refusal(StrEnum):
    """Why a file cannot be used."""

    EMPTY = "empty"
    NOT_A_RECORDING = "not a recording"
    NO_SOUND = "no sound"
    CUT_OFF = "cut off"
    TOO_SHORT = "too short"
    TOO_LONG = "too long"


REFUSAL_SENTENCES = {
    Refusal.EMPTY: "This file is empty; record it again or choose another file.",
    Refusal.NOT_A_RECORDING: "This file is not a recording that can be read; "
    "send an m4a, mp3, wav, webm, ogg, flac or mp4 file.",
    Refusal.NO_SOUND: "There is no sound in this file; record it again or choose another file.",
    Refusal.CUT_OFF: "This file was cut off before its end, so it cannot be played; "
    "send it again from where it was made, or record it again.",
    Refusal.TOO_SHORT: "This recording is less than half a second long; record it again.",
    Refusal.TOO_LONG: "This recording is longer than {minutes} minutes; "
    "cut it, or record just the line that is asked for.",
}


class Unusable(Exception):
    """The file cannot be used as a take; `refusal` says why and `sentence` says it to a student."""

    def __init__(self, refusal: Refusal, *, minutes: int = 0) -> None:
        self.refusal = refusal
        self.sentence = REFUSAL_SENTENCES[refusal].format(minutes=minutes)
        super().__init__(self.sentence)


@dataclass(frozen=True, slots=True)
class Limits:
    """What a take may be. The longest is the school's setting; the shortest is common sense."""

    longest_seconds: float = 15 * 60
    # Less than half a second is a slip of the finger on the button.
    shortest_seconds: float = 0.5
    # What is left of a damaged file is worth keeping from one second on.
    shortest_rest_seconds: float = 1.0

    @property
    def longest_minutes(self) -> int:
        return round(self.longest_seconds / 60)
