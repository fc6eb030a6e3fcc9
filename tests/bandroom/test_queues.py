"""Which queue and which cache: settings that are refused say what to write."""

import os
import subprocess
import sys

import pytest
from django.conf import settings


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("TASK_QUEUE", "fast", "TASK_QUEUE is 'fast': write database or procrastinate."),
        ("CACHE", "big", "CACHE is 'big': write memory or database."),
        (
            "TASK_QUEUE",
            "procrastinate",
            "TASK_QUEUE is procrastinate, which needs PostgreSQL: set DATABASE_URL to one, "
            "or leave TASK_QUEUE out.",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(name, value, sentence):
    on_sqlite = {
        "DJANGO_SETTINGS_MODULE": "bandroom.settings.test",
        "TEST_DATABASE_URL": "sqlite:///:memory:",
    }

    ended = subprocess.run(
        [sys.executable, "manage.py", "check"],
        cwd=settings.BASE_DIR,
        env=os.environ | on_sqlite | {name: value},
        capture_output=True,
        text=True,
        check=False,
    )

    assert ended.returncode == 1
    assert sentence in ended.stderr
