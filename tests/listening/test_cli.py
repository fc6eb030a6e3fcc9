"""The command line, as a process of its own and in a batch that bad files cannot stop."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from submissions.listening.cli import main
from tests.listening.simulator.coding import encode
from tests.listening.tones import RATE, line, played, score_of

MIDIS = [62, 64, 65, 67, 69, 67]
KEYS = {"verdict", "heard_midi", "cents", "onset_seconds", "held_seconds", "beats_off", "confidence"}
TAKE_KEYS = {
    "id", "notes", "extra", "tempo_bpm", "tuning_cents", "restarted", "transposed_semitones", "other_line",
    "stopped_early", "quality", "misreading",
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    take = encode(line(played(MIDIS), 6), "webm", rate=RATE)
    (tmp_path / "good.webm").write_bytes(take)
    (tmp_path / "empty.webm").write_bytes(b"")
    (tmp_path / "text.webm").write_text("This is no sound at all.\n" * 30)
    (tmp_path / "header.webm").write_bytes(take[:200])
    (tmp_path / "cut.webm").write_bytes(take[: len(take) // 2])
    (tmp_path / "silent.wav").write_bytes(encode(np.zeros(3 * RATE), "wav", rate=RATE))
    (tmp_path / "score.json").write_text(json.dumps(score_of(MIDIS)))
    return tmp_path


def test_one_take_from_a_shell_without_any_settings(folder):
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "submissions.listening",
            folder / "good.webm",
            "--score",
            folder / "score.json",
        ],
        capture_output=True,
        text=True,
        check=True,
        env={"PATH": "/usr/bin"},
    )
    said = json.loads(done.stdout)
    assert said.keys() >= TAKE_KEYS
    assert said["id"] == "good.webm"
    assert [note["verdict"] for note in said["notes"]] == ["as_written"] * 6
    assert all(note.keys() >= KEYS for note in said["notes"])
    assert [note["heard_midi"] for note in said["notes"]] == MIDIS


def test_a_batch_answers_every_line_in_order_and_goes_on(folder, capsys):
    names = ["good.webm", "empty.webm", "text.webm", "header.webm", "absent.webm", "silent.wav", "cut.webm"]
    score = str(folder / "score.json")
    lines = [json.dumps({"id": name, "audio": str(folder / name), "score": score}) for name in names]
    lines.insert(3, "this is not JSON")
    lines += [
        json.dumps({"id": "no score", "audio": str(folder / "good.webm")}),
        json.dumps({"id": "bad score", "audio": str(folder / "good.webm"), "score": {"notes": []}}),
        json.dumps([1, 2]),
        "",
        json.dumps({"id": "again", "audio": str(folder / "good.webm"), "score": score_of(MIDIS)}),
    ]
    (folder / "manifest.jsonl").write_text("\n".join(lines))
    assert main(["--batch", str(folder / "manifest.jsonl")]) == 0
    said = [json.loads(text) for text in capsys.readouterr().out.splitlines()]
    assert [answer["id"] for answer in said] == [
        *names[:3], None, *names[3:], "no score", "bad score", None, "again",
    ]  # fmt: skip
    failed = [answer["id"] for answer in said if "error" in answer]
    assert failed == [
        "empty.webm", "text.webm", None, "header.webm", "absent.webm", "no score", "bad score", None,
    ]  # fmt: skip
    by_id = {answer["id"]: answer for answer in said}
    assert "no bytes" in by_id["empty.webm"]["error"]
    assert by_id["silent.wav"]["quality"] == ["silent", "nobody_plays"]
    assert by_id["cut.webm"]["stopped_early"]
    assert by_id["again"]["notes"] == by_id["good.webm"]["notes"]


def test_paths_in_a_manifest_may_count_from_its_own_folder(folder, capsys):
    (folder / "manifest.jsonl").write_text('{"id": 1, "audio": "good.webm", "score": "score.json"}\n')
    assert main(["--batch", str(folder / "manifest.jsonl")]) == 0
    assert [note["heard_midi"] for note in json.loads(capsys.readouterr().out)["notes"]] == MIDIS


def bent(**changes) -> dict:
    """A score that differs from the plain one in what is given here."""
    return {**score_of(MIDIS), **changes}


NOTES = score_of(MIDIS)["notes"]


@pytest.mark.parametrize(
    "score",
    [
        bent(tempo_bpm=None, beats_per_bar=None, instrument=None),
        bent(tempo_bpm=75.5, beats_per_bar=2.5),
        bent(beats_per_bar=3),
        bent(instrument="an instrument nobody knows"),
        bent(notes=[{**note, "midi": float(note["midi"])} for note in NOTES]),
        bent(notes=[{**note, "start_beat": note["start_beat"] - 1} for note in NOTES]),
        bent(notes=[{**note, "start_beat": 8 * note["start_beat"], "beats": 8} for note in NOTES]),
        bent(notes=[{**note, "start_beat": note["start_beat"] / 3, "beats": 1 / 3} for note in NOTES]),
        bent(notes=[{**note, "beats": 4} for note in NOTES]),
        bent(title="not asked for", notes=[{**note, "name": "D", "tied": True} for note in NOTES]),
    ],
    ids=[
        "nulls",
        "odd tempo",
        "three",
        "kazoo",
        "whole floats",
        "pickup",
        "ties",
        "triplets",
        "overlap",
        "more",
    ],
)
def test_scores_as_they_come(folder, capsys, score):
    (folder / "score.json").write_text(json.dumps(score), encoding="utf-8-sig")
    assert main([str(folder / "good.webm"), "--score", str(folder / "score.json")]) == 0
    said = json.loads(capsys.readouterr().out)
    assert [note["verdict"] for note in said["notes"]] == ["as_written"] * 6


def test_one_note_has_no_tempo(folder, capsys):
    (folder / "score.json").write_text(json.dumps(bent(notes=NOTES[:1])))
    main([str(folder / "good.webm"), "--score", str(folder / "score.json")])
    said = json.loads(capsys.readouterr().out)
    assert (said["notes"][0]["verdict"], said["tempo_bpm"], said["notes"][0]["held_share"]) == (
        "as_written", None, None,
    )  # fmt: skip


def test_a_take_that_cannot_be_read_says_so_and_fails(folder, capsys):
    code = main([str(folder / "text.webm"), "--score", str(folder / "score.json")])
    assert code == 1
    assert "not a sound recording" in json.loads(capsys.readouterr().out)["error"]


def test_a_manifest_that_is_missing_is_refused(folder, capsys):
    assert main(["--batch", str(folder / "none.jsonl")]) == 2
    assert "cannot be read" in capsys.readouterr().err
