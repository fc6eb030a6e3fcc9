"""The music engine: every instrument's part of a 16-bar exercise, both lines, cold and cached.

Cold is a new process that engraves each part once with its reasons and fingerings; cached is a stored drawing
taken up again. Times are those of this process on its core, so that a busy machine does not lengthen them;
the time on the wall stands beside the whole. Run: python -m tests.bench music
"""

import gc
import json
import statistics
import subprocess
import sys
import time
from dataclasses import replace

from exercises.music.engraving import Engraving, engrave, line_svg
from exercises.music.fingerings import finger
from exercises.music.instruments import INSTRUMENTS
from exercises.music.midi_out import score_to_midi
from exercises.music.musicxml_out import score_to_musicxml
from exercises.music.notation import parse_notation
from exercises.music.part import Part, make_parts
from exercises.music.reading import read_part
from exercises.music.score import FOUR_FOUR, Line

LINE_A = "Bb3:2 A | G Ab | G A | C4 F3 | G F# | F G | A C4 | Bb3:4"
LINE_B = "Bb3:1 A G A | G Ab A Ab | G F# G F# | F:2 F#~ | F#:1 F G rest | Eb E F Eb | D C4 A F | Bb3:4"
WIDTH_PX, BARS_PER_SYSTEM = 1200, 4
CACHED_ROUNDS = 20
AIM_COLD_SECONDS, AIM_CACHED_MS = 1.0, 5.0


def exercise(bars: int) -> tuple[Line, Line]:
    """Both lines with this many bars: the eight written ones over and over."""

    def long(text: str, label: str) -> Line:
        line = parse_notation(text, label=label, metre=FOUR_FOUR, fifths=-2)
        return replace(line, bars=(line.bars * (bars // 8 + 1))[:bars])

    return long(LINE_A, "A"), long(LINE_B, "B")


def whole_part(part: Part) -> Engraving:
    """All that a student's page needs of one part."""
    read_part(part)
    finger(part)
    prefix = f"{part.instrument_id}-{part.line.label}"
    return engrave(part, prefix=prefix, width_px=WIDTH_PX, bars_per_system=BARS_PER_SYSTEM)


def timed(work, /, *arguments):
    """Result, and seconds of this process."""
    start = time.process_time()
    result = work(*arguments)
    return result, time.process_time() - start


def all_parts(lines: tuple[Line, Line]) -> list[tuple[Engraving, float]]:
    """Every part of every instrument with the seconds it took, transposing included."""
    done: list[tuple[Engraving, float]] = []
    for one in INSTRUMENTS:
        parts, making = timed(make_parts, lines, one)
        for part in parts:
            engraving, seconds = timed(whole_part, part)
            done.append((engraving, seconds + making / len(parts)))
    return done


def cached(stored: str) -> str:
    return line_svg(Engraving.from_json(json.loads(stored)), label="Line")


def import_seconds(module: str) -> float:
    """Processor time that one import adds to a new interpreter."""
    code = f"import time; t = time.process_time(); import {module}; print(time.process_time() - t)"
    runs = [
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        for _ in range(3)
    ]
    return min(float(run.stdout) for run in runs)


def row(what: str, value: str, aim: str = "") -> None:
    print(f"  {what:<58} {value:>12}  {aim}")


def main() -> None:
    lines = exercise(16)
    start = time.perf_counter()
    cold, total = timed(all_parts, lines)
    on_the_wall = time.perf_counter() - start
    per_part = [seconds * 1000 for _, seconds in cold]
    print(f"Parts of a 16-bar exercise: {len(INSTRUMENTS)} instruments, 2 lines")
    row(f"cold, all {len(cold)} with reasons and fingerings", f"{total:.2f} s", f"aim {AIM_COLD_SECONDS:g} s")
    row("the same on the wall", f"{on_the_wall:.2f} s")
    row("cold, one part, median", f"{statistics.median(per_part):.1f} ms")
    row("cold, one part, slowest (the first loads the engraver)", f"{max(per_part):.1f} ms")
    _, warm = timed(all_parts, lines)
    row("again in the same process, nothing cached", f"{warm:.2f} s")

    stored = [json.dumps(engraving.to_json()) for engraving, _ in cold]
    taken = [timed(cached, one)[1] * 1000 for one in stored * CACHED_ROUNDS]
    row("cached, one part, median", f"{statistics.median(taken):.2f} ms", f"aim {AIM_CACHED_MS:g} ms")
    row(f"cached, one part, slowest of {len(taken)}", f"{max(taken):.2f} ms")
    row("cached, all parts", f"{sum(taken) / CACHED_ROUNDS:.0f} ms")
    row("one drawing, mean", f"{statistics.mean(len(engraving.svg) for engraving, _ in cold) / 1000:.0f} kB")

    parts = [make_parts(lines, one) for one in INSTRUMENTS]
    row(
        "whole score as MusicXML",
        f"{timed(lambda: score_to_musicxml(parts, title='x', tempos=[72, 80]))[1] * 1000:.0f} ms",
    )
    row("whole score as MIDI", f"{timed(lambda: score_to_midi(parts, tempos=[72, 80]))[1] * 1000:.0f} ms")

    print("Growth with length, one alto saxophone part of line B")
    for bars in (8, 16, 32, 64):
        part = make_parts(exercise(bars), "alto_sax")[1]
        gc.collect()
        seconds = min(timed(whole_part, part)[1] for _ in range(5))
        row(f"{bars} bars", f"{seconds * 1000:.1f} ms", f"{seconds * 1000 / bars:.2f} ms a bar")

    print("What an import costs")
    for module in ("exercises.music.part", "exercises.music.engraver", "exercises.music.midi_in"):
        row(module, f"{import_seconds(module) * 1000:.0f} ms")


if __name__ == "__main__":
    main()
