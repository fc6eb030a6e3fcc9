"""`make bench`: every measurement in turn, each as a process of its own. Name some to run only those."""

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent


def main() -> int:
    available = sorted(path.stem.removeprefix("bench_") for path in HERE.glob("bench_*.py"))
    chosen = sys.argv[1:] or available
    if unknown := set(chosen) - set(available):
        print(f"No such measurement: {', '.join(sorted(unknown))}. There are: {', '.join(available)}.")
        return 2
    failed = [
        name
        for name in chosen
        if subprocess.run([sys.executable, "-m", f"tests.bench.bench_{name}"], check=False).returncode != 0
    ]
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
