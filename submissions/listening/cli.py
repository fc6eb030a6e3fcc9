"""The engine from a command line: one take, or a list of them in one process.

    python -m submissions.listening TAKE --score SCORE.json
    python -m submissions.listening --batch MANIFEST.jsonl

Where a score names the lines that it is made of, "lines" holds what was heard of each.

A batch prints one JSON line for every line it reads, in order, and never stops at a bad file: that line
carries "error", one sentence, instead of evidence. Relative paths count from the working directory, or else
from the manifest's folder.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, TextIO

from submissions.listening.errors import HearingError
from submissions.listening.hear import hear_take
from submissions.listening.lines import by_line
from submissions.listening.score import Score


def main(arguments: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m submissions.listening", description="Say what was heard of each written note."
    )
    parser.add_argument("take", nargs="?", type=Path, metavar="TAKE", help="a recording")
    parser.add_argument("--score", type=Path, metavar="SCORE.json", help="the notes of the student's part")
    parser.add_argument(
        "--batch", type=Path, metavar="MANIFEST.jsonl", help='one {"id", "audio", "score"} a line'
    )
    options = parser.parse_args(arguments)
    if options.batch is not None:
        if options.take is not None or options.score is not None:
            parser.error("give either a take with --score, or --batch")
        return _batch(options.batch, sys.stdout)
    if options.take is None or options.score is None:
        parser.error("give a take with --score, or --batch")
    result = _answer({"id": options.take.name, "audio": str(options.take), "score": str(options.score)})
    print(json.dumps(result))
    return 1 if "error" in result else 0


def _batch(manifest: Path, out: TextIO) -> int:
    try:
        lines = manifest.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        print(f"The manifest cannot be read: {error}", file=sys.stderr)
        return 2
    for line in lines:
        if not line.strip():
            continue
        try:
            request = json.loads(line)
            if not isinstance(request, dict):
                raise HearingError("A manifest line must be a JSON object.")
        except (json.JSONDecodeError, HearingError) as error:
            print(json.dumps({"id": None, "error": f"The manifest line cannot be read: {error}"}), file=out)
            continue
        print(json.dumps(_answer(request, beside=manifest.parent)), file=out, flush=True)
    return 0


def _answer(request: dict[str, Any], *, beside: Path = Path()) -> dict[str, Any]:
    """Evidence for one manifest line, or why there is none."""
    take = request.get("id")
    try:
        audio = request.get("audio")
        if not isinstance(audio, str):
            raise HearingError('The line needs "audio", the path of a recording.')
        score = _score(request.get("score"), beside=beside)
        evidence = hear_take(audio=_found(audio, beside=beside), score=score)
    except HearingError as error:
        return {"id": take, "error": str(error)}
    except Exception as error:  # a batch outlives whatever one file does to the engine
        return {"id": take, "error": f"The take could not be heard ({type(error).__name__}: {error})."}
    said = {"id": take, **evidence.to_json()}
    if score.lines:
        said["lines"] = {label: own.to_json() for label, own in by_line(evidence, score).items()}
    return said


def _found(path: str, *, beside: Path) -> Path:
    """A path counted from the working directory where there is such a file, else from `beside`."""
    return Path(path) if Path(path).exists() else beside / path


def _score(given: object, *, beside: Path) -> Score:
    """A score given in the line itself, or the path of one."""
    if isinstance(given, dict):
        return Score.from_json(given)
    if not isinstance(given, str):
        raise HearingError('The line needs "score", the path of a score or the score itself.')
    try:
        data = json.loads(_found(given, beside=beside).read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise HearingError(f"The score cannot be opened: {error.strerror or error}.") from error
    except (json.JSONDecodeError, UnicodeDecodeError) as error:
        raise HearingError("The score is not JSON.") from error
    return Score.from_json(data)
