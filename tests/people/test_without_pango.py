"""On a machine without Pango a page says so in a sentence, and nothing else is different.

Pango is really not to be had in these processes: in front of it lies an empty file of its name.
"""

import json
import subprocess
import sys

import pytest
from django.conf import settings
from django.urls import reverse

from bandroom.people.printing import can_print
from tests import factories
from tests.submissions.takes.processes import environment

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(sys.platform != "linux", reason="takes a library away as Linux finds it"),
]
SENTENCE = "This server cannot print yet: whoever looks after it installs Pango (on Debian or Ubuntu: apt-get"

ASK = """
import django, json, sys
django.setup()
from django.test import Client
from bandroom.people.models import User
for pk, method, address, form in json.loads(sys.argv[1]):
    client = Client()
    client.force_login(User.objects.get(pk=pk), backend="bandroom.people.signing_in.NameBackend")
    answer = getattr(client, method)(address, form, follow=True)
    print(json.dumps([answer.status_code, " ".join(answer.content.decode().split())]))
"""


@pytest.fixture
def without_pango(tmp_path) -> dict[str, str]:
    for name in ("libpango-1.0.so.0", "libpangoft2-1.0.so.0"):
        (tmp_path / name).touch()
    return environment() | {"LD_LIBRARY_PATH": str(tmp_path)}


def run(*command: str, within: dict[str, str]) -> str:
    done = subprocess.run(
        [sys.executable, *command],
        cwd=settings.BASE_DIR,
        env=within,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_each_page_that_prints_says_what_to_install(without_pango, director, section, band):
    seat = factories.make_seat(section=section)
    assignment = factories.make_assignment(band=band, sections=[section])
    asked = [
        (
            director.user.pk,
            "post",
            reverse("people:cards-print"),
            {"students": [seat.student.memberships.get().pk], "paper": "letter"},
        ),
        (
            director.user.pk,
            "get",
            reverse("exercises:print", args=[assignment.exercise.pk]),
            {"who": f"section-{section.pk}", "paper": "letter", "guide": "bare"},
        ),
        (director.user.pk, "get", f"/assignments/{assignment.pk}/sheets/", {"seat": seat.pk}),
        (seat.student.pk, "get", f"/work/{assignment.pk}/sheet/", {}),
    ]

    told = [json.loads(line) for line in run("-c", ASK, json.dumps(asked), within=without_pango).splitlines()]

    assert [status for status, _ in told] == [422, 422, 200, 200]
    assert [SENTENCE in page for _, page in told] == [True, True, True, False]
    assert "This page cannot be made here. Ask your director for it on paper." in told[3][1]
    # Nobody's old card ended.
    assert seat.student.memberships.get().card_issued_at is None


def test_the_question_is_answered_and_nothing_is_printed_beside_it(without_pango):
    ask = "import bandroom.people.printing as printing; print(printing.can_print())"

    assert run("-c", ask, within=without_pango) == "False\n"
    assert can_print()


def test_the_first_look_says_the_line_to_install_once(without_pango, tmp_path):
    """`make run`, until it serves; the band that is here already keeps it from making the demo school."""
    demo = without_pango | {
        "DJANGO_SETTINGS_MODULE": "bandroom.settings.dev",
        "BANDROOM_VAR": str(tmp_path / "var"),
    }
    band = "import django; django.setup(); from tests import factories; factories.make_band()"
    (tmp_path / "var").mkdir()
    run("manage.py", "migrate", "--verbosity", "0", within=demo)
    run("-c", band, within=demo)
    serving = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", "0"],
        cwd=settings.BASE_DIR,
        env=demo,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    said = []
    for line in serving.stdout:
        said.append(line.strip())
        if line.startswith("Bandroom is at"):
            break
    serving.terminate()
    serving.communicate(timeout=60)

    install = "For printed parts and cards install Pango (on Debian or Ubuntu: apt-get install"
    assert [line.startswith(install) for line in said].count(True) == 1
    assert not any("WeasyPrint" in line for line in said)
