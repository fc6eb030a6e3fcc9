"""A section's misses in words: what was played, why that is likely, and one thing to do tomorrow.

Likelihoods are said as such. The table of things to do is our own; each takes a minute of rehearsal.
"""

from collections.abc import Sequence

from exercises.music.reading import ACCIDENTAL_OF_ALTER, ACCIDENTAL_WORDS
from exercises.music.score import Line, NoteRef, count_text
from submissions.listening.evidence import Cause
from submissions.section_misses.misses import NoteMisses, SectionMisses
from submissions.section_misses.places import MissedPlace, Shared

#: "4 of 5 likely …"
SHARED_WORDS = {
    Cause.KEY_FORGOTTEN: "forgot a {kind} of the key signature",
    Cause.SIGN_OVERLOOKED: "overlooked a sign in front of a note",
    Cause.NATURAL_MISSED: "overlooked a natural sign",
    Cause.SIGN_NOT_CARRIED: "took a sign for one note only",
    Cause.SIGN_AFTER_TIE: "kept a tied sign after the tie had ended",
    Cause.SIGN_CARRIED_OVER_BARLINE: "carried a sign on over the bar line",
    Cause.SIGN_OF_OTHER_OCTAVE: "read a sign for the other octave as well",
    Cause.NEIGHBOUR_NOTE: "played the neighbour of a note",
    Cause.ADDED_SIGN: "played a sharp or flat that is not on the page",
}


def headline(shared: Shared | None, counted: SectionMisses, *, line: Line) -> str:
    """The one sentence for tomorrow."""
    if counted.is_clean:
        if counted.heard == 1:
            return "The one player heard so far played every note as written."
        return f"All {counted.heard} heard so far played every note as written."
    if shared is None:
        return "No one misreading is shared so far."
    words = SHARED_WORDS[shared.cause].format(kind="sharp" if line.fifths > 0 else "flat")
    return f"{shared.players} of {counted.heard} likely {words}, most of all in bar {shared.bar}."


def title(place: MissedPlace, *, heard: int, line: Line) -> str:
    """ "Bar 5, beat 2: 4 of 5 played G sharp." """
    misses, likely = place.misses, place.likely
    where = f"{_where(misses.note.ref, line).capitalize()}: "
    match likely.cause:
        case Cause.NOT_HEARD:
            return f"{where}{misses.not_heard} of {heard} not heard{_rest(misses.missed - misses.not_heard)}."
        case Cause.MIXED:
            return f"{where}{misses.missed} of {heard} missed {misses.note.name}, in different ways."
    return f"{where}{misses.same} of {heard} played {_played(place)}{_rest(misses.missed - misses.same)}."


def why(place: MissedPlace, *, line: Line) -> str:
    """Why that is likely, and where else it happened."""
    said = _why(place, line=line)
    if place.also:
        said += f" The same in {_listed([_where(misses.note.ref, line) for misses in place.also])}."
    return said


def tomorrow(place: MissedPlace) -> str:
    """One thing to do about it."""
    misses, likely = place.misses, place.likely
    note, bar = misses.note.name, misses.note.ref.bar
    played = likely.read_as.spoken if likely.read_as else "what was played"
    letter = misses.note.pitch.letter if misses.note.pitch else ""
    source = likely.source
    sign = likely.source_pitch.spoken if likely.source_pitch else ""
    match likely.cause:
        case Cause.KEY_FORGOTTEN:
            return f"say the key aloud, point to every {letter} in the line, then play it slowly."
        case Cause.SIGN_OVERLOOKED | Cause.ADDED_SIGN:
            return f"play {note} and {played} back to back, then bar {bar}."
        case Cause.NATURAL_MISSED:
            return f"say the letter names of bar {bar} twice, then play it."
        case Cause.SIGN_NOT_CARRIED:
            return f"trace bar {bar} with a finger from the sign to the bar line, naming every {letter}."
        case Cause.SIGN_AFTER_TIE if source:
            return f"clap bars {source.bar} and {bar}, say “{sign}, hold, {note}”."
        case Cause.SIGN_CARRIED_OVER_BARLINE if source:
            return f"play bar {source.bar}, stop at the bar line, say “{note}”, go on."
        case Cause.SIGN_OF_OTHER_OCTAVE:
            return f"finger both notes called {letter} in bar {bar}, naming each with its sign."
        case Cause.NEIGHBOUR_NOTE:
            return f"name the notes of bar {bar} aloud, then finger {note} and {played} in turn."
        case Cause.OTHER_OCTAVE:
            return f"sing {note}, then play bar {bar} slowly and listen for it."
        case Cause.STAYED:
            return f"call each note of bar {bar} one beat ahead while they finger along."
        case Cause.NOT_HEARD:
            return f"count bar {bar} aloud, then play it with a clear start on {note}."
        case Cause.MIXED:
            return f"play bar {bar} three times, slowly enough that everybody gets it."
    return f"finger bar {bar} without sound, then play it slowly."


def in_words(misses: NoteMisses, *, line: Line) -> str:
    """One note of the drawing: "Bar 2, beat 2, B flat: 11 missed it; 9 played B, 2 something else." """
    counts = []
    if misses.same:
        counts.append(f"{misses.same} the same other note")
    if misses.different:
        counts.append(f"{misses.different} {'another note' if not misses.same else 'something else'}")
    if misses.not_heard:
        counts.append(f"{misses.not_heard} not heard")
    said = f"{misses.missed} missed it ({', '.join(counts)})" if misses.missed else "nobody surely missed it"
    if misses.unsure:
        said += f"; {misses.unsure} unsure, please listen"
    return f"{_where(misses.note.ref, line).capitalize()}, {misses.note.name}: {said}."


def heard_so_far(counted: SectionMisses, *, expected: int) -> str:
    """ "4 of 7 heard so far.", and who is not in the count."""
    said = [f"{counted.heard + counted.left_out} of {expected} heard so far."]
    if counted.left_out:
        count = counted.left_out
        said.append(f"{count} of these cannot be compared: another line, another part, or no playing in it.")
    if counted.stopped:
        count = counted.stopped
        said.append(f"{count} stopped before the end: the notes after that are not counted as missed.")
    return " ".join(said)


def _why(place: MissedPlace, *, line: Line) -> str:
    likely, note = place.likely, place.misses.note
    letter = note.pitch.letter if note.pitch else ""
    kind = ACCIDENTAL_WORDS[ACCIDENTAL_OF_ALTER[note.pitch.alter]] if note.pitch else ""
    source, sign = likely.source, likely.source_pitch
    there = _seen_from(source, note.ref, line) if source else ""
    sign_kind = ACCIDENTAL_WORDS[ACCIDENTAL_OF_ALTER[sign.alter]] if sign else ""
    match likely.cause:
        case Cause.KEY_FORGOTTEN:
            return f"The key signature was likely forgotten: it turns every {letter} into {note.name}."
        case Cause.SIGN_OVERLOOKED:
            return f"The {kind} in front of it was likely overlooked."
        case Cause.NATURAL_MISSED if sign:
            return f"The natural sign was likely overlooked: {sign.spoken} {there} was still in the fingers."
        case Cause.NATURAL_MISSED:
            return "The natural sign was likely overlooked, and the note played as in the key signature."
        case Cause.SIGN_NOT_CARRIED:
            return f"The {sign_kind} {there} was likely taken for one note only; it lasts to the bar line."
        case Cause.SIGN_AFTER_TIE:
            return (
                f"The {sign_kind} tied over the bar line was likely read as lasting the whole bar; "
                "it ends with the tie."
            )
        case Cause.SIGN_CARRIED_OVER_BARLINE:
            return f"The {sign_kind} {there} was likely carried on over the bar line, which ends it."
        case Cause.SIGN_OF_OTHER_OCTAVE:
            return (
                f"The {sign_kind} {there} was likely read for this {letter} as well; "
                "a sign holds on its own line or space."
            )
        case Cause.NEIGHBOUR_NOTE if likely.read_as and note.pitch:
            way = "above" if likely.read_as.midi > note.pitch.midi else "below"
            return f"Likely the neighbour: {likely.read_as.spoken} is the next note {way} {note.name}."
        case Cause.ADDED_SIGN:
            return f"Likely from habit: neither the key nor a sign on the page makes this {letter} so."
        case Cause.OTHER_OCTAVE:
            return "Likely the right name, but the note spoke in another octave."
        case Cause.STAYED:
            return "They likely stayed on the note before, and changed late or not at all."
        case Cause.NOT_HEARD:
            return "Likely left out, or too soft to hear."
        case Cause.MIXED:
            return "No one reason stands out; the spot itself is likely not secure yet."
    return "No sign explains it; likely a slip of the fingers."


def _played(place: MissedPlace) -> str:
    written, read_as = place.misses.note.pitch, place.likely.read_as
    if read_as is None or written is None:
        return "another note"
    if place.likely.cause is Cause.OTHER_OCTAVE:
        far = abs(read_as.octave - written.octave)
        way = "high" if read_as.octave > written.octave else "low"
        return f"{read_as.spoken} {'an octave' if far == 1 else f'{far} octaves'} too {way}"
    return read_as.spoken


def _rest(count: int) -> str:
    return f", {count} missed it in another way" if count else ""


def _where(ref: NoteRef, line: Line) -> str:
    return f"bar {ref.bar}, {count_text(ref.beat, line.metre)}"


def _seen_from(source: NoteRef, here: NoteRef, line: Line) -> str:
    """ "on beat 1", or "of bar 4"."""
    if source.bar != here.bar:
        return f"of bar {source.bar}"
    count = count_text(source.beat, line.metre)
    return f"on {count}" if count.startswith(("beat", "the")) else count


def _listed(places: Sequence[str]) -> str:
    return places[0] if len(places) == 1 else f"{'; '.join(places[:-1])} and {places[-1]}"
