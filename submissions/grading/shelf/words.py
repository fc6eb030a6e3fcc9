"""The shelf in words: every drawn sign has its sentence, for those who hear the page and for grey print."""

from collections.abc import Sequence

from exercises.music.score import Metre, count_text
from submissions.grading.shelf.notes import EarlierTry, Shelf, ShelfNote
from submissions.listening.evidence import Quality, Verdict

NUMBERS = (
    "none",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
QUALITY = {
    Quality.CLIPPED: "The recording is overloaded in places.",
    Quality.QUIET: "The recording is very quiet.",
    Quality.NOISY: "There is much noise in the recording.",
    Quality.SILENT: "The recording is silent.",
    Quality.NOBODY_PLAYS: "Nobody seems to play in it.",
    Quality.ONLY_CLICKS: "Only clicks were heard.",
    Quality.ONLY_SPEECH: "Only speech was heard.",
    Quality.CUT_OFF: "The recording begins or ends in the middle of a note.",
}
EAR_WORDS = {
    Verdict.AS_WRITTEN: "as written",
    Verdict.OTHER_PITCH: "other pitch",
    Verdict.NOT_HEARD: "not heard",
}
#: An instrument is said to be off from this many cents on.
OUT_OF_TUNE_CENTS = 20
#: A tempo is said where it is off by this share of the one that was asked for.
OTHER_TEMPO = 0.08
#: A beat is said to waver where notes stand this far off it, in the middle (judgement).
UNSTEADY_BEATS = 0.1


def number(count: int) -> str:
    return NUMBERS[count] if 0 <= count < len(NUMBERS) else str(count)


def place(note: ShelfNote, metre: Metre) -> str:
    """ "Bar 2, beat 3"."""
    return f"Bar {note.written.bar}, {count_text(note.written.beat, metre)}"


def half_steps(steps: int) -> str:
    """ "one half step high", "an octave low"."""
    far, way = abs(steps), "high" if steps > 0 else "low"
    if far % 12 == 0 and far:
        return f"{'an octave' if far == 12 else f'{number(far // 12)} octaves'} {way}"
    return f"{number(far)} half step{'' if far == 1 else 's'} {way}"


def beats_off(note: ShelfNote) -> str:
    share = abs(note.beats_off or 0)
    words = (
        "a quarter beat" if share < 0.375 else "half a beat" if share < 0.75 else f"about {share:.1f} beats"
    )
    if 0.75 <= share < 1.25:
        words = "a beat"
    return f"{words} {note.timing}"


def sentence(note: ShelfNote) -> str:
    """ "Written B♭, heard B, one half step high." What the ear decided comes last."""
    parts = [_heard(note)]
    if note.timing:
        parts.append(beats_off(note))
    if note.is_short:
        parts.append("held short")
    said = ", ".join(parts) + "."
    written = f"Written {note.written.name}, " if note.written.name else "A stroke, "
    ear = f" Your ear: {EAR_WORDS[note.ear]}." if note.ear else ""
    return f"{written}{said}{ear}"


def listing(notes: Sequence[ShelfNote], metre: Metre) -> tuple[str, ...]:
    """Several notes, a run that shares its words said at once: "bar 4 beat 1 to bar 8 beat 1 not heard"."""
    runs: list[list[ShelfNote]] = []
    for note in notes:
        last = runs[-1][-1] if runs else None
        if last and last.written.number + 1 == note.written.number and _what(last) == _what(note):
            runs[-1].append(note)
        else:
            runs.append([note])
    return tuple(
        f"{_where(run[0], metre)}{f' to {_where(run[-1], metre)}' if len(run) > 1 else ''} {_what(run[0])}"
        for run in runs
    )


def _where(note: ShelfNote, metre: Metre) -> str:
    return f"bar {note.written.bar} {count_text(note.written.beat, metre)}"


def _what(note: ShelfNote) -> str:
    words = [] if note.verdict is Verdict.AS_WRITTEN else [_short_heard(note)]
    words += [note.timing] if note.timing else []
    words += ["short"] if note.is_short and not words else []
    if not words:
        words = ["as written, by your ear"]
    return " and ".join(words)


def summary(shelf: Shelf) -> str:
    """ "Twelve of 15 as written."."""
    right, all_notes = shelf.count(Verdict.AS_WRITTEN), len(shelf.notes)
    if right == all_notes:
        return f"All {all_notes} as written."
    return f"{number(right).capitalize()} of {all_notes} as written."


def doubts(shelf: Shelf) -> tuple[str, ...]:
    """What a director should know before any note: reasons to distrust, and one cause for many slips."""
    said = [QUALITY[item] for item in shelf.quality]
    if shelf.other_line:
        said.append("This sounds like another line of the exercise.")
    said += [text for text in (shelf.transposed, shelf.misreading) if text]
    return tuple(dict.fromkeys(said))  # another instrument's part is both


def facts(
    shelf: Shelf, metre: Metre, *, asked_bpm: float, counted_bpm: float | None = None
) -> tuple[str, ...]:
    """The take as a whole, one fact a sentence. `counted_bpm`: what the recorder counted off, if it did."""
    said = [_earlier(one, metre) for one in shelf.earlier]
    if shelf.restarted:
        said.append("The last try is shown." if shelf.earlier else "Started again; the last try is shown.")
    if shelf.stopped_early:
        said.append("Stopped before the end.")
    if shelf.extra_seconds:
        count = len(shelf.extra_seconds)
        said.append(f"{number(count).capitalize()} extra note{'' if count == 1 else 's'}.")
    wanted_bpm, why = (counted_bpm, "counted off at") if counted_bpm else (asked_bpm, "asked for")
    if shelf.tempo_bpm and abs(shelf.tempo_bpm / wanted_bpm - 1) >= OTHER_TEMPO:
        said.append(f"Played at {round(shelf.tempo_bpm)}, {why} {round(wanted_bpm)}.")
    if shelf.unsteady_beats is not None and shelf.unsteady_beats >= UNSTEADY_BEATS:
        said.append(f"The beat wavers by about {shelf.unsteady_beats:.1f} of a beat.")
    if shelf.tuning_cents is not None and abs(shelf.tuning_cents) >= OUT_OF_TUNE_CENTS:
        way = "sharp" if shelf.tuning_cents > 0 else "flat"
        said.append(f"The instrument is tuned about {abs(round(shelf.tuning_cents))} cents {way}.")
    for note, gap, usual in shelf.slow_changes:
        where = place(shelf.notes[note], metre)
        said.append(f"{where}: the change took {gap} ms, others about {usual}. See the fingering.")
    return tuple(said)


def _earlier(one: EarlierTry, metre: Metre) -> str:
    return (
        f"An earlier try, {_clock(one.begins_seconds)} to {_clock(one.ends_seconds)}, went from "
        f"bar {one.first.bar} {count_text(one.first.beat, metre)} to "
        f"bar {one.last.bar} {count_text(one.last.beat, metre)}."
    )


def _clock(seconds: float) -> str:
    """ "1:07"."""
    minutes, rest = divmod(int(max(0.0, seconds)), 60)
    return f"{minutes}:{rest:02d}"


def _heard(note: ShelfNote) -> str:
    match note.heard:
        case Verdict.AS_WRITTEN:
            return "heard as written"
        case Verdict.NOT_HEARD:
            return "not heard"
        case Verdict.UNSURE:
            why = f": {note.why_unsure.rstrip('.')}" if note.why_unsure else ""
            return f"unsure, please listen{why}"
    return _other(note)


def _other(note: ShelfNote) -> str:
    if note.steps is None:
        return "another pitch heard"
    name = f" {note.heard_name}" if note.heard_name else ""
    if note.steps % 12 == 0 and note.steps:
        return f"heard {half_steps(note.steps)}"
    return f"heard{name or ' a pitch'}, {half_steps(note.steps)}"


def _short_heard(note: ShelfNote) -> str:
    if note.verdict is Verdict.OTHER_PITCH:
        return f"{note.written.name} heard as {note.heard_name}" if note.heard_name else "another pitch"
    return {Verdict.NOT_HEARD: "not heard", Verdict.UNSURE: "unsure"}[note.verdict]
