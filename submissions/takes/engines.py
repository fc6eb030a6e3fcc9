"""Runs an engine in a process of its own, within limits, and reads its JSON."""

import errno
import json
import os
import re
import subprocess
import sys
from dataclasses import dataclass
from typing import Any

from django.conf import settings

# What a process needs to start; no address of a database and no secret of the school goes along.
PASSED_ON = ("PATH", "HOME", "LANG", "LC_ALL", "TMPDIR", "SYSTEMROOT", "VIRTUAL_ENV", "LD_LIBRARY_PATH")
# One engine uses one core; number libraries would otherwise start a thread, and memory, for each.
ONE_THREAD = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
# The C library otherwise sets address space aside for each core, which the limit counts.
FEW_ARENAS = {"MALLOC_ARENA_MAX": "2"}


# These say nothing of the recording: the disk is full, broken, or may not be written.
FAULTS_OF_THE_MACHINE = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EROFS})
ERROR_NUMBER = re.compile(r"\[Errno (\d+)\]")


class EngineFailed(Exception):
    """The engine ended without an answer; the message says how, for the log and the director."""

    def __init__(self, says: str) -> None:
        super().__init__(says)
        number = ERROR_NUMBER.search(says)
        self.is_of_the_machine = number is not None and int(number[1]) in FAULTS_OF_THE_MACHINE


@dataclass(frozen=True, slots=True)
class EngineLimits:
    wall_seconds: int
    processor_seconds: int
    megabytes: int


def run(module: str, *arguments: str, limits: EngineLimits) -> dict[str, Any]:
    """The JSON object that `python -m module arguments…` prints; raises EngineFailed."""
    command = [
        sys.executable,
        "-m",
        "submissions.takes.limited",
        str(limits.processor_seconds),
        str(limits.megabytes),
        module,
        *arguments,
    ]
    environment = (
        {name: os.environ[name] for name in PASSED_ON if name in os.environ} | ONE_THREAD | FEW_ARENAS
    )
    try:
        ended = subprocess.run(  # noqa: S603 - our own module, no shell
            command,
            cwd=settings.BASE_DIR,
            env=environment,
            capture_output=True,
            timeout=limits.wall_seconds,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise EngineFailed(f"It took longer than {limits.wall_seconds} seconds.") from None
    answer = _json(ended.stdout)
    # An engine that says what is wrong with its input ends with 1; that is an answer as well.
    if answer is not None and (ended.returncode == 0 or "error" in answer):
        return answer
    raise EngineFailed(_how_it_ended(ended.returncode, ended.stderr))


def _json(printed: bytes) -> dict[str, Any] | None:
    try:
        answer = json.loads(printed)
    except ValueError:
        return None
    return answer if isinstance(answer, dict) else None


def _how_it_ended(code: int, stderr: bytes) -> str:
    if code == 0:
        return "It printed no answer."
    if code < 0:
        return f"It was ended by signal {-code}."
    lines = stderr.decode(errors="replace").strip().splitlines()
    return (lines[-1] if lines else f"It ended with code {code}.")[:300]
