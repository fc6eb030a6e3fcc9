"""The container file, the compose file and the systemd units, parsed or read by who reads them."""

import json
import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest
import yaml
from django.conf import settings
from django.core.management import get_commands

BASE = Path(settings.BASE_DIR)
DEPLOY = BASE / "bandroom" / "deploy"
SERVICES = sorted(path.name for path in DEPLOY.glob("*.service"))
#: Of the 10 that systemd gives to a unit without any protection.
MOST_EXPOSED = 2.5


def instructions() -> list[tuple[str, str]]:
    """The container file's instructions in order; a line that ends in a backslash goes on."""
    text = re.sub(r"^\s*#.*\n", "", (DEPLOY / "Containerfile").read_text(), flags=re.MULTILINE)
    lines = re.sub(r"\\\n", " ", text).splitlines()
    return [(word, rest.strip()) for line in lines if line.strip() for word, _, rest in [line.partition(" ")]]


def test_the_container_runs_as_nobody_in_particular_and_copies_what_is_there():
    found = instructions()
    words = [word for word, _ in found]
    known = {"FROM", "RUN", "ENV", "WORKDIR", "COPY", "USER", "VOLUME", "EXPOSE", "CMD"}

    assert words[0] == "FROM"
    assert set(words) <= known
    (user,) = (rest for word, rest in found if word == "USER")
    assert user.split(":") == ["10001", "10001"]
    assert "RUN" not in words[words.index("USER") :]
    for word, rest in found:
        if word == "COPY":
            assert all((BASE / source).exists() for source in rest.split()[:-1]), rest
    (command,) = (json.loads(rest) for word, rest in found if word == "CMD")
    assert (command[0], (BASE / command[2]).exists()) == ("gunicorn", True)
    assert not any("migrate" in rest for word, rest in found if word in {"RUN", "CMD"})


def test_the_container_has_everything_that_is_imported():
    """What the repository holds for the program, and nothing of the tests."""
    copied = {source for word, rest in instructions() if word == "COPY" for source in rest.split()[:-1]}

    assert copied == {
        "requirements.txt",
        "manage.py",
        "locale",
        "templates",
        "bandroom",
        "exercises",
        "submissions",
    }
    (install,) = (rest for word, rest in instructions() if rest.startswith("pip install"))
    assert "--require-hashes" in install


@pytest.fixture
def compose() -> dict:
    return yaml.safe_load((DEPLOY / "compose.yaml").read_text())


def test_compose_migrates_once_before_web_and_worker(compose):
    services = compose["services"]

    assert set(services) == {"migrate", "bucket", "web", "worker", "database", "objects"}
    for name in ("web", "worker"):
        waits = services[name]["depends_on"]
        assert waits["migrate"] == waits["bucket"] == {"condition": "service_completed_successfully"}
    assert services["migrate"]["command"] == ["python", "manage.py", "migrate", "--noinput"]
    assert services["migrate"]["depends_on"] == {"database": {"condition": "service_healthy"}}


def test_compose_lets_bandroom_write_to_its_volumes_alone(compose):
    for name in ("migrate", "bucket", "web", "worker"):
        service = compose["services"][name]
        assert (service["read_only"], service["user"], service["cap_drop"]) == (True, "10001:10001", ["ALL"])
        assert [volume.rpartition(":")[2] for volume in service["volumes"]] == [
            "/var/lib/bandroom",
            "/backups",
        ]
    assert compose["services"]["web"]["ports"] == ["127.0.0.1:8001:8001"]
    assert not any("ports" in compose["services"][name] for name in ("database", "objects"))


def test_compose_starts_commands_that_there_are(compose):
    for name in ("migrate", "bucket", "worker"):
        assert compose["services"][name]["command"][2] in get_commands()
    dockerfile = compose["services"]["web"]["build"]
    assert (DEPLOY / dockerfile["context"]).resolve() == BASE
    assert (BASE / dockerfile["dockerfile"]).exists()
    told = json.loads(compose["configs"]["objects"]["content"])
    assert told["identities"][0]["credentials"][0]["accessKey"] == "bandroom"


def test_every_variable_of_compose_stands_in_the_example():
    asked = set(re.findall(r"\$\{(\w+)", (DEPLOY / "compose.yaml").read_text()))
    given = set(re.findall(r"^(\w+)=", (DEPLOY / "environment.example").read_text(), re.MULTILINE))

    assert asked - given == set()


@pytest.fixture
def units(tmp_path) -> Path:
    """The units as they are, but with this copy of Bandroom in the place of the school's."""
    for path in DEPLOY.glob("bandroom-*"):
        text = path.read_text().replace("/srv/bandroom/.venv", str(Path(shutil.which("true")).parent))
        text = re.sub(r"(ExecStart=)\S+/(python|gunicorn) ", r"\1/bin/true ", text)
        (tmp_path / path.name).write_text(text.replace("/srv/bandroom", str(BASE)))
    return tmp_path


ANALYZE = shutil.which("systemd-analyze")


@pytest.mark.skipif(ANALYZE is None, reason="systemd-analyze is not on this machine")
def test_systemd_understands_every_line(units):
    done = subprocess.run(
        [ANALYZE, "verify", "--man=no", *map(str, sorted(units.iterdir()))],
        capture_output=True,
        text=True,
        check=False,
    )

    said = [line for line in done.stderr.splitlines() if str(units) in line or "bandroom" in line]
    assert (done.returncode, said) == (0, [])


@pytest.mark.skipif(ANALYZE is None, reason="systemd-analyze is not on this machine")
@pytest.mark.parametrize("name", SERVICES)
def test_systemd_calls_the_units_little_exposed(units, name):
    done = subprocess.run(
        [
            ANALYZE,
            "security",
            "--offline=true",
            "--no-pager",
            f"--threshold={int(10 * MOST_EXPOSED)}",
            units / name,
        ],
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stdout[-300:] + done.stderr


def test_units_start_commands_that_there_are():
    for name in SERVICES:
        for line in (DEPLOY / name).read_text().splitlines():
            if not line.startswith("ExecStart="):
                continue
            words = shlex.split(line.removeprefix("ExecStart="))
            words = shlex.split(words[2]) if words[:2] == ["/bin/sh", "-c"] else words
            if "manage.py" in words:
                assert words[words.index("manage.py") + 1] in get_commands(), line
            else:
                assert (BASE / words[words.index("--config") + 1]).exists(), line
