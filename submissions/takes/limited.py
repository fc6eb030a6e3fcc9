"""Runs an engine with limits of its own.

`python -m submissions.takes.limited SECONDS MEGABYTES MODULE ARGUMENT…`

A file from a stranger is decoded by a large library written in C. The process that does it may use so
much processor time and memory and no more, writes no core file, and nothing of the web server lives in it.
"""

import os
import runpy
import sys

MEGABYTE = 1024 * 1024
LARGEST_FILE_MEGABYTES = 1024
# A page or a receipt that somebody waits for goes first.
GIVES_WAY = 5


def limit(*, seconds: int, megabytes: int) -> None:
    """Bind this process for good. Where a system has no such limits, the clock outside alone binds it."""
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    resource.setrlimit(resource.RLIMIT_AS, (megabytes * MEGABYTE,) * 2)
    resource.setrlimit(resource.RLIMIT_FSIZE, (LARGEST_FILE_MEGABYTES * MEGABYTE,) * 2)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    os.nice(GIVES_WAY)


def main() -> None:
    seconds, megabytes, module, *arguments = sys.argv[1:]
    limit(seconds=int(seconds), megabytes=int(megabytes))
    sys.argv = [module, *arguments]
    runpy.run_module(module, run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    main()
