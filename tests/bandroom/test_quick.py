"""Which tests `make check` runs for a change."""

import pytest

from tests.quick import mirroring


@pytest.mark.parametrize(
    ("changed", "run"),
    [
        (["submissions/grading/services/marks.py"], ["tests/submissions/grading"]),
        (["submissions/turn_ins/roster.py"], ["tests/submissions/turn_ins/test_roster.py"]),
        (["exercises/music/pitch.py"], ["tests/music"]),
        (["exercises/pages/wall.py"], ["tests/exercises"]),
        (["bandroom/people/seating.py"], ["tests/people/test_seating.py"]),
        (["templates/submissions/grading/desk.html"], ["tests/submissions/grading"]),
        (["tests/people/test_look.py"], ["tests/people/test_look.py"]),
        # a folder takes in its own files
        (
            ["tests/submissions/grading/test_desk_view.py", "submissions/grading/stand.py"],
            ["tests/submissions/grading"],
        ),
        # these drive a browser or take minutes
        (["tests/browser/test_desk.py", "submissions/listening/hear.py"], []),
        (["tests/people/test_that_was_deleted.py", "README.md"], []),
    ],
)
def test_a_change_runs_the_tests_that_mirror_it(changed: list[str], run: list[str]):
    assert mirroring(changed) == run
