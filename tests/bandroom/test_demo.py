"""The demo school: whoever is named when it starts can sign in with what stands there."""

import re
from io import StringIO

import pytest
from django.core.management import call_command
from django.test import Client
from django.utils.timezone import now

from bandroom.demo.people import make_people

pytestmark = pytest.mark.django_db
#: role, sign-in name, password or words, full name; columns stand two spaces apart or more
PRINTED = re.compile(r"^  (\w+) +(\S+) {2,}(\S.*?\S) {2,}\((.+)\)$", re.MULTILINE)


@pytest.fixture
def printed() -> list[tuple[str, ...]]:
    make_people(at=now())
    out = StringIO()
    call_command("demo", "--sign-in-names", stdout=out)
    return PRINTED.findall(out.getvalue())


def test_everybody_the_demo_names_can_sign_in(printed: list[tuple[str, ...]]) -> None:
    assert [role for role, *_ in printed] == ["director", "substitute", "student", "student", "student"]
    for role, name, secret, _full_name in printed:
        if role == "student":
            words = dict(zip(("word_1", "word_2", "word_3"), secret.split(), strict=True))
            answer = Client().post("/sign-in/", {"username": name, **words})
        else:
            answer = Client().post("/sign-in/staff/", {"username": name, "password": secret})
        assert (name, answer.status_code) == (name, 302)
