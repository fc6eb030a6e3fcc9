"""`make check`: what is quick to look at while working, and the tests that stand beside what changed."""

import subprocess
import sys
import time
from pathlib import PurePosixPath

from tests.check import PYTEST, ROOT, Leg, Report, reading

#: Where tests do not stand at the path of what they test.
MIRRORS = {
    "bandroom/people": "tests/people",
    "bandroom": "tests/bandroom",
    "exercises/music": "tests/music",
    "exercises": "tests/exercises",
    "submissions/listening": "tests/listening",
    "submissions/preparing": "tests/preparing",
    "submissions": "tests/submissions",
    "locale": "tests/translation",
    "templates/people": "tests/people",
    "templates/exercises": "tests/exercises",
    "templates/submissions": "tests/submissions",
}
#: These drive a browser or take minutes: `make test` runs them.
SLOW = ("tests/browser", "tests/bench", "tests/listening", "tests/machines")


def changed_files() -> list[str]:
    """What differs from the last commit, or, with a clean tree, what that commit changed."""
    unsaved = _git("diff", "--name-only", "HEAD") + _git("ls-files", "--others", "--exclude-standard")
    return unsaved or _git("diff", "--name-only", "HEAD~1")


def mirroring(changed: list[str]) -> list[str]:
    """Test files that changed, and the nearest folder or file of tests that mirrors each other change."""
    found = {place for path in changed if (place := _mirror(PurePosixPath(path)))}
    whole = {
        place for place in found if any(other != place and place.startswith(f"{other}/") for other in found)
    }
    return sorted(place for place in found - whole if not place.startswith(SLOW))


def _mirror(path: PurePosixPath) -> str:
    if path.parts[0] == "tests":
        is_test = path.name.startswith("test_") and (ROOT / path).exists()
        return str(path) if is_test else ""
    for code, tests in MIRRORS.items():
        if path.is_relative_to(code):
            inside = path.relative_to(code)
            one = ROOT / tests / inside.parent / f"test_{path.stem}.py"
            if one.exists():
                return str(one.relative_to(ROOT))
            folders = [ROOT / tests / parent for parent in inside.parents]
            nearest = next((folder for folder in folders if folder.is_dir()), None)
            return str(nearest.relative_to(ROOT)) if nearest else ""
    return ""


def main() -> int:
    started = time.monotonic()
    report = Report()
    tests = mirroring(changed_files())
    with report.beside([leg for leg in reading() if leg.name != "deployment settings"]):
        if tests:
            report.run(Leg("tests beside what changed", (*PYTEST, "-n", "2", "-m", "not bench", *tests)))
    print(f"\nAll of it took {time.monotonic() - started:.0f} s.")
    for leg in report.failed:
        print(f"Failed: {leg}")
    return 1 if report.failed else 0


def _git(*words: str) -> list[str]:
    done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.split("\n")[:-1]


if __name__ == "__main__":
    sys.exit(main())
