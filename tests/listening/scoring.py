"""How right is the evidence? Counts over takes whose truth is known.

A note counts as heard where its verdict leans (an unsure one by its leaning). Extra notes are matched by
mir_eval's MIREX convention: onset within 50 ms, pitch within 50 cents.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, field

import mir_eval
import numpy as np

EARLY_OR_LATE_BEATS = 0.25
CALLED_EARLY_OR_LATE = 0.2
NEAR_LIMIT = 0.05
"""Truths this close to the limit are neither right nor wrong."""


@dataclass
class Counts:
    takes: int = 0
    perfect: int = 0
    notes: Counter = field(default_factory=Counter)
    other: Counter = field(default_factory=Counter)
    missing: Counter = field(default_factory=Counter)
    extra: Counter = field(default_factory=Counter)
    timing: Counter = field(default_factory=Counter)
    restart: Counter = field(default_factory=Counter)
    transposed: Counter = field(default_factory=Counter)
    mirex: Counter = field(default_factory=Counter)
    onsets: list = field(default_factory=list)
    cents: list = field(default_factory=list)
    tempo: list = field(default_factory=list)
    by_instrument: dict = field(default_factory=lambda: defaultdict(Counter))
    faults: list = field(default_factory=list)


def f1(counts: Counter) -> float:
    hits, wrong = counts["hit"], counts["false"] + counts["miss"]
    return 2 * hits / (2 * hits + wrong) if hits + wrong else float("nan")


def add(counts: Counts, take, evidence: dict) -> None:
    truth = take.truth
    counts.takes += 1
    faults: list[str] = []
    for index, (true, note) in enumerate(zip(truth.notes, evidence["notes"], strict=True)):
        said, right = note["leaning"], note["leaning"] == true.verdict
        tally = counts.by_instrument[take.instrument]
        tally["notes"] += 1
        tally["right"] += right
        counts.notes["all"] += 1
        counts.notes["right"] += right
        if note["verdict"] == "unsure":
            counts.notes["unsure"] += 1
            counts.notes["unsure and wrong"] += not right
        if not right:
            faults.append(f"{index}:{true.verdict}/{said}{'?' if note['verdict'] == 'unsure' else ''}")
        if true.verdict == "as_written":
            counts.notes["played right"] += 1
            counts.notes["false alarm"] += not right and note["verdict"] != "unsure"
        for kind, tally_of in (("other_pitch", counts.other), ("not_heard", counts.missing)):
            tally_of["hit"] += said == kind == true.verdict
            tally_of["false"] += said == kind != true.verdict
            tally_of["miss"] += true.verdict == kind != said
        if said == true.verdict == "other_pitch":
            counts.other["pitch"] += 1
            counts.other["pitch exact"] += note["heard_midi"] == true.heard_midi
        if true.onset is not None and note["onset_seconds"] is not None:
            counts.onsets.append(note["onset_seconds"] - true.onset)
            if right and note["cents"] is not None:
                counts.cents.append(note["cents"] - true.cents)
            if true.beats_off is not None and abs(abs(true.beats_off) - EARLY_OR_LATE_BEATS) > NEAR_LIMIT:
                late = abs(true.beats_off) > EARLY_OR_LATE_BEATS
                called = note["beats_off"] is not None and abs(note["beats_off"]) > CALLED_EARLY_OR_LATE
                counts.timing["hit"] += late and called
                counts.timing["false"] += called and not late
                counts.timing["miss"] += late and not called
    _extras(counts, truth.extra, evidence["extra"], faults)
    _mirex(counts, truth, evidence)
    if truth.tempo_bpm and evidence["tempo_bpm"] and not truth.other_line:
        counts.tempo.append(evidence["tempo_bpm"] / truth.tempo_bpm - 1)
    counts.restart["hit"] += bool(truth.restarted and evidence["restarted"])
    counts.restart["false"] += bool(evidence["restarted"] and not truth.restarted)
    counts.restart["miss"] += bool(truth.restarted and not evidence["restarted"])
    if truth.restarted != bool(evidence["restarted"]):
        faults.append(f"restart {truth.restarted}")
    moved = evidence["transposed_semitones"] or 0
    counts.transposed["hit"] += bool(truth.transposed and moved == truth.transposed)
    counts.transposed["false"] += bool(moved and not truth.transposed)
    counts.transposed["miss"] += bool(truth.transposed and moved != truth.transposed)
    if moved != truth.transposed:
        faults.append(f"transposed {truth.transposed} heard {moved}")
    counts.perfect += not faults
    if faults:
        counts.faults.append((take.seed, take.kind, take.level, take.instrument, faults))


def _extras(counts: Counts, true: list, said: list, faults: list[str]) -> None:
    if true and said:
        matched = mir_eval.transcription.match_notes(
            np.array([(at, at + max(0.01, held)) for _, at, held in true]),
            np.array([440 * 2 ** ((midi - 69) / 12) for midi, _, _ in true]),
            np.array([(e["onset_seconds"], e["onset_seconds"] + max(0.01, e["held_seconds"])) for e in said]),
            np.array([440 * 2 ** ((e["midi"] - 69) / 12) for e in said]),
            offset_ratio=None,
        )
    else:
        matched = []
    counts.extra["hit"] += len(matched)
    counts.extra["false"] += len(said) - len(matched)
    counts.extra["miss"] += len(true) - len(matched)
    if len(said) > len(matched):
        faults.append(f"{len(said) - len(matched)} extra said")
    if len(true) > len(matched):
        faults.append(f"{len(true) - len(matched)} extra missed")


def _mirex(counts: Counts, truth, evidence: dict) -> None:
    true = [(n.onset, n.heard_midi) for n in truth.notes if n.onset is not None]
    said = [
        (n["onset_seconds"], n["heard_midi"]) for n in evidence["notes"] if n["onset_seconds"] is not None
    ]
    if not true or not said:
        counts.mirex["miss"] += len(true)
        counts.mirex["false"] += len(said)
        return
    matched = mir_eval.transcription.match_notes(
        np.array([(at, at + 0.1) for at, _ in true]),
        np.array([440 * 2 ** ((midi - 69) / 12) for _, midi in true]),
        np.array([(max(0.0, at), max(0.0, at) + 0.1) for at, _ in said]),
        np.array([440 * 2 ** ((midi - 69) / 12) for _, midi in said]),
        offset_ratio=None,
    )
    counts.mirex["hit"] += len(matched)
    counts.mirex["false"] += len(said) - len(matched)
    counts.mirex["miss"] += len(true) - len(matched)


def table(counts: Counts) -> list[tuple[str, str]]:
    """Rows of (what, figure)."""
    notes, restart, moved = counts.notes, counts.restart, counts.transposed
    onset, cents, tempo = (
        np.abs(np.array(values)) if values else np.array([np.nan])
        for values in (counts.onsets, counts.cents, counts.tempo)
    )
    bias = 1000 * float(np.median(counts.onsets)) if counts.onsets else float("nan")
    precision = _ratio(restart["hit"], restart["hit"] + restart["false"])
    recall = _ratio(restart["hit"], restart["hit"] + restart["miss"])
    worst = sorted(counts.by_instrument.items(), key=lambda item: item[1]["right"] / item[1]["notes"])
    return [
        ("takes, notes", f"{counts.takes}, {notes['all']}"),
        ("verdicts right", _percent(notes["right"], notes["all"])),
        ("false alarms", _percent(notes["false alarm"], notes["played right"])),
        ("other pitch F1", f"{f1(counts.other):.3f}"),
        ("heard pitch exact", _percent(counts.other["pitch exact"], counts.other["pitch"])),
        ("not heard F1", _f1_with_counts(counts.missing)),
        ("extra F1", _f1_with_counts(counts.extra)),
        ("onset ms median, 95 %", f"{1000 * np.median(onset):.1f}, {1000 * np.percentile(onset, 95):.0f}"),
        ("onset within 50 ms, bias", f"{_percent((onset < 0.05).sum(), len(onset))}, {bias:.1f} ms"),
        ("cents median, 95 %", f"{np.median(cents):.2f}, {np.percentile(cents, 95):.1f}"),
        ("tempo median, 95 %", f"{100 * np.median(tempo):.2f} %, {100 * np.percentile(tempo, 95):.2f} %"),
        ("early/late F1", _f1_with_counts(counts.timing)),
        ("restart precision, recall", f"{precision:.3f}, {recall:.3f}"),
        ("transposed found, false", f"{moved['hit']} of {moved['hit'] + moved['miss']}, {moved['false']}"),
        ("MIREX note F1", f"{f1(counts.mirex):.3f}"),
        ("takes without error", _percent(counts.perfect, counts.takes)),
        ("unsure", _percent(notes["unsure"], notes["all"])),
        ("unsure and rightly so", f"{notes['unsure and wrong']} of {notes['unsure']}"),
        ("worst instruments", ", ".join(f"{n} {100 * t['right'] / t['notes']:.1f}" for n, t in worst[:4])),
    ]


def _percent(part: float, whole: float) -> str:
    return f"{100 * part / whole:.2f} %" if whole else "none"


def _ratio(part: float, whole: float) -> float:
    return part / whole if whole else float("nan")


def _f1_with_counts(counts: Counter) -> str:
    return f"{f1(counts):.3f} ({counts['hit']} hit, {counts['false']} false, {counts['miss']} missed)"
