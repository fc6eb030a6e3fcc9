"""The engine on a command line: one instrument's part of a file or a typed line, with its reasons.

python -m exercises.music alto_sax exercise.musicxml
python -m exercises.music horn --notes "Bb3:2 A | Bb3:4" --key -2 --svg horn.svg
"""

import argparse
import sys
from pathlib import Path

from exercises.music.errors import MusicError
from exercises.music.fingerings import finger
from exercises.music.instruments import INSTRUMENTS
from exercises.music.keys import key_words
from exercises.music.notation import format_notation, parse_notation
from exercises.music.part import Part, make_parts
from exercises.music.reading import read_part
from exercises.music.score import Line, Metre, count_text
from exercises.music.uploads import read_upload

SVG_WIDTH_PX, SVG_BARS = 1200, 4


def main(arguments: list[str] | None = None) -> int:
    """Print the parts of one instrument; 1 when the music cannot be used."""
    parser = argparse.ArgumentParser(prog="python -m exercises.music", description="One instrument's part.")
    parser.add_argument("instrument", choices=list(INSTRUMENTS))
    parser.add_argument("file", nargs="?", type=Path, help="MusicXML, MIDI or ABC in concert pitch")
    parser.add_argument(
        "--written-for", choices=list(INSTRUMENTS), help="instrument whose notes the file has"
    )
    parser.add_argument("--notes", help="a typed line instead of a file, like “Bb3:2 A | Bb3:4”")
    parser.add_argument("--metre", default="4/4")
    parser.add_argument("--key", type=int, default=0, help="sharps, or flats as a negative number")
    parser.add_argument("--svg", type=Path, help="write the engraved first line here")
    options = parser.parse_args(arguments)
    if (options.file is None) is (options.notes is None):
        parser.error("give a file or --notes")
    try:
        parts = make_parts(_lines(options), options.instrument)
        for part in parts:
            print("\n".join(_described(part)))
        if options.svg:
            options.svg.write_text(_svg(parts[0]), encoding="utf-8")
    except (MusicError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def _lines(options: argparse.Namespace) -> tuple[Line, ...]:
    if options.notes is not None:
        metre = Metre.parse(options.metre)
        return (parse_notation(options.notes, label="A", metre=metre, fifths=options.key),)
    result = read_upload(options.file.read_bytes(), written_for=options.written_for)
    for problem in result.problems:
        print(problem.message, file=sys.stderr)
    return result.lines


def _described(part: Part) -> list[str]:
    """Key, verdict and notes of a part, then one row for each note."""
    rows = [
        f"{part.instrument.name}, line {part.line.label}: {key_words(part.line.fifths)}, {part.verdict}",
        format_notation(part.line),
        *part.warnings,
    ]
    for reading, note, fingering in zip(read_part(part), part.line.notes, finger(part), strict=True):
        name = (
            note.pitch.printed
            if note.pitch and part.instrument.pitched
            else "rest"
            if note.is_rest
            else "stroke"
        )
        place = f"bar {reading.ref.bar}, {count_text(reading.ref.beat, part.line.metre)}"
        how = f" [{fingering.words}; {fingering.trust}]" if fingering else ""
        rows.append(f"  {place}: {name}. {reading.words}{how}")
    return rows


def _svg(part: Part) -> str:
    from exercises.music.engraving import engrave, line_svg  # noqa: PLC0415 - verovio, only when drawing

    engraving = engrave(part, prefix="part", width_px=SVG_WIDTH_PX, bars_per_system=SVG_BARS)
    return line_svg(engraving, label=f"{part.instrument.name}, line {part.line.label}")


if __name__ == "__main__":
    sys.exit(main())
