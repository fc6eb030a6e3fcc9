"""The nginx example, run: TLS, a take uploaded and played through it, and what it keeps out.

gunicorn runs with the school's own settings, as a group that nginx is a member of, on a database of its own.
"""

import hashlib
import http.client
import http.server
import json
import os
import pwd
import shutil
import socket
import ssl
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.conf import settings
from django.test import RequestFactory, override_settings

from bandroom.people.signing_in import visitor_address
from tests import machine
from tests.serving import free_port
from tests.submissions.takes import sounds
from tests.submissions.takes.line import Line

NGINX = machine.nginx()
pytestmark = pytest.mark.skipif(NGINX is None, reason="nginx is not on this machine")

BASE = Path(settings.BASE_DIR)
SITE = "localhost"
GROUP = "www-data"
PATIENCE_SECONDS = 60

#: A student with a session, an assignment that is open, as JSON.
PEOPLE = """
import django, json
django.setup()
from datetime import timedelta
from django.utils.timezone import now
from tests import factories
from tests.signing_in import signed_in
section = factories.make_section(band=factories.make_band())
seats = [factories.make_seat(section=section) for _ in range(2)]
assignment = factories.make_assignment(
    band=section.band, sections=[section], opens_at=now() - timedelta(days=1),
    due_at=now() + timedelta(days=1), closes_at=now() + timedelta(days=2),
)
print(json.dumps({
    "assignment": assignment.pk,
    "students": [seat.student_id for seat in seats],
    "sessions": [signed_in(seat.student).cookies["sessionid"].value for seat in seats],
}))
"""
TAKE = """
import django, json, sys
django.setup()
from submissions.models import Take
take = Take.objects.get(pk=sys.argv[1])
print(json.dumps({"state": take.state, "served": take.served, "type": take.served_type}))
"""


@dataclass(frozen=True, slots=True)
class Proxy:
    """nginx with the example's settings, its own log, and what stands behind it."""

    https: int
    http: int
    folder: Path
    behind: int

    @property
    def address(self) -> str:
        return f"https://{SITE}:{self.https}"


def unprivileged() -> dict[str, object]:
    """How gunicorn is started: as root's process of the group that nginx belongs to, or as ourselves."""
    if os.geteuid() != 0:
        return {}
    return {"group": pwd.getpwnam(GROUP).pw_gid, "extra_groups": [], "umask": 0o027}


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    """Where everything of the school lies: the group may enter, nobody else."""
    home = Path(tempfile.mkdtemp(prefix="bandroom-nginx-"))
    home.chmod(0o750)
    if os.geteuid() == 0:
        os.chown(home, 0, pwd.getpwnam(GROUP).pw_gid)
    yield home
    shutil.rmtree(home)


@pytest.fixture(scope="module")
def certificate(folder) -> Path:
    path = folder / "certificate.pem"
    subprocess.run(
        [
            *(
                "openssl",
                "req",
                "-x509",
                "-newkey",
                "ec",
                "-pkeyopt",
                "ec_paramgen_curve:prime256v1",
                "-nodes",
            ),
            *("-days", "2", "-subj", f"/CN={SITE}", "-addext", f"subjectAltName=DNS:{SITE}"),
            *("-keyout", str(folder / "key.pem"), "-out", str(path)),
        ],
        check=True,
        capture_output=True,
    )
    return path


def example(*, folder: Path, https: int, http: int, behind: int) -> str:
    """The example with this machine's ports and folders in the place of the school's."""
    text = (BASE / "bandroom" / "deploy" / "nginx.conf").read_text()
    changes = {
        "127.0.0.1:8001": f"127.0.0.1:{behind}",
        "listen 80": f"listen 127.0.0.1:{http}",
        "listen 443": f"listen 127.0.0.1:{https}",
        "band.school.example": SITE,
        "/etc/ssl/bandroom/certificate.pem": f"{folder}/certificate.pem",
        "/etc/ssl/bandroom/key.pem": f"{folder}/key.pem",
        "/var/log/nginx/": f"{folder}/",
        "/var/lib/bandroom/takes/": f"{folder}/var/takes/",
    }
    for old, new in changes.items():
        assert old in text, old
        text = text.replace(old, new)
    user = f"user {GROUP};" if os.geteuid() == 0 else ""
    scratch = "".join(
        f"{name}_temp_path {folder}/nginx-{name};"
        for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    return (
        f"daemon off; {user} pid {folder}/nginx.pid; error_log {folder}/nginx-start.log;"
        f"events {{}} http {{ {scratch} access_log off; {text} }}"
    )


@pytest.fixture(scope="module")
def nginx(folder, certificate) -> Iterator[Proxy]:
    proxy = Proxy(https=free_port(), http=free_port(), folder=folder, behind=free_port())
    config = folder / "nginx.conf"
    config.write_text(example(folder=folder, https=proxy.https, http=proxy.http, behind=proxy.behind))
    running = subprocess.Popen([NGINX, "-c", config, "-e", folder / "nginx-start.log"])
    wait_for_port(proxy.https)
    yield proxy
    running.terminate()
    running.wait()


def wait_for_port(port: int) -> None:
    until = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < until:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    raise TimeoutError(f"Nothing answers on port {port}.")


@pytest.fixture(scope="module")
def school(folder, nginx) -> dict[str, str]:
    """The environment of the school's processes."""
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("S3_", "TAKES_"))}
    return plain | {
        "DJANGO_SETTINGS_MODULE": "bandroom.settings.production",
        "SECRET_KEY": "only-for-this-test-and-long-enough-0123456789-0123456789",
        "ALLOWED_HOSTS": SITE,
        "DATABASE_URL": f"sqlite:///{folder}/var/school.sqlite3",
        "BANDROOM_VAR": f"{folder}/var",
        "TAKES_DELIVERY": "x-accel",
        "GUNICORN_BIND": f"127.0.0.1:{nginx.behind}",
        "GUNICORN_WORKERS": "1",
        "LOG_LEVEL": "WARNING",
    }


def run(school: dict[str, str], *command: str) -> str:
    done = subprocess.run(
        [sys.executable, *command],
        cwd=BASE,
        env=school,
        capture_output=True,
        text=True,
        check=False,
        **unprivileged(),
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def people(school, folder) -> dict[str, list]:
    var = folder / "var"
    var.mkdir(mode=0o750)
    if os.geteuid() == 0:
        os.chown(var, 0, pwd.getpwnam(GROUP).pw_gid)
    run(school, "manage.py", "migrate", "--verbosity", "0")
    run(school, "manage.py", "collectstatic", "--noinput", "--verbosity", "0")
    return json.loads(run(school, "-c", PEOPLE))


@pytest.fixture(scope="module")
def gunicorn(school, people, nginx, folder) -> Iterator[Path]:
    """Its log."""
    with (folder / "gunicorn.log").open("wb") as log:
        running = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "gunicorn",
                "--config",
                "bandroom/deploy/gunicorn.conf.py",
                "bandroom.wsgi",
            ],
            cwd=BASE,
            env=school,
            stdout=log,
            stderr=log,
            **unprivileged(),
        )
        wait_for_port(nginx.behind)
        yield folder / "gunicorn.log"
        running.terminate()
        running.wait()


@pytest.fixture
def phones(gunicorn, people, nginx, certificate) -> Iterator[list[Line]]:
    """Two students who trust the school's certificate."""
    trusted = urllib.request.HTTPSHandler(context=ssl.create_default_context(cafile=str(certificate)))
    urllib.request.install_opener(urllib.request.build_opener(trusted))
    yield [
        Line(server=nginx.address, cookies=f"sessionid={session}; csrftoken={'t' * 32}", student=student)
        for session, student in zip(people["sessions"], people["students"], strict=True)
    ]
    urllib.request.install_opener(None)


@pytest.fixture
def take(phones, people, school, tmp_path) -> tuple[str, dict[str, str]]:
    """A take that came in and was prepared; its id and what is served."""
    content = sounds.webm(tmp_path / "take", sounds.line(seconds=4)).read_bytes()
    sent = phones[0].declare(Assigned(people["assignment"]), content)
    assert phones[0].patch(sent, 0, content)[0] == 204
    until = time.monotonic() + PATIENCE_SECONDS
    while phones[0].receipt(sent) is None:
        assert time.monotonic() < until
        time.sleep(0.1)
    assert phones[0].receipt(sent) == hashlib.sha256(content).hexdigest()
    run(school, "manage.py", "work", "--once")
    return sent, json.loads(run(school, "-c", TAKE, sent))


@dataclass(frozen=True, slots=True)
class Assigned:
    pk: int


def test_a_take_goes_through_and_nginx_hands_it_out_in_pieces(take, phones, folder):
    pk, served = take
    stored = folder / "var" / "takes" / served["served"]
    assert served["state"] == "ready"
    assert [path.stat().st_mode & 0o777 for path in (stored, stored.parent)] == [0o640, 0o750]

    status, headers, body = phones[0].ask("GET", f"/takes/{pk}/sound")
    assert (status, body) == (200, stored.read_bytes())
    assert headers["Content-Type"] == served["type"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "no-store" in headers["Cache-Control"]
    assert headers["X-Accel-Redirect"] is None

    status, headers, part = phones[0].ask("GET", f"/takes/{pk}/sound", Range="bytes=100-199")
    assert (status, part) == (206, body[100:200])
    assert headers["Content-Range"] == f"bytes 100-199/{len(body)}"


def test_a_take_is_not_to_be_had_from_outside(take, phones):
    pk, served = take

    assert phones[0].ask("GET", f"/takes-on-disk/{served['served']}")[0] == 404
    assert phones[0].ask("GET", "/takes-on-disk/")[0] == 404
    assert phones[1].ask("GET", f"/takes/{pk}/sound")[0] == 404


def test_a_piece_of_five_megabytes_passes_and_a_larger_body_does_not(phones, people):
    content = os.urandom(6 * 1024 * 1024)
    take = phones[0].declare(Assigned(people["assignment"]), content)

    five = 5 * 1024 * 1024
    assert phones[0].patch(take, 0, content)[0] == 413
    assert phones[0].patch(take, 0, content[:five])[0] == 204
    assert phones[0].offset(take) == five


def test_plain_http_is_sent_to_https_whatever_it_claims(nginx):
    connection = http.client.HTTPConnection("127.0.0.1", nginx.http, timeout=10)
    connection.request("GET", "/sign-in/", headers={"Host": SITE, "X-Forwarded-Proto": "https"})
    answer = connection.getresponse()

    assert (answer.status, answer.headers["Location"]) == (301, f"https://{SITE}/sign-in/")
    connection.close()


def test_another_name_gets_no_answer(nginx):
    connection = http.client.HTTPConnection("127.0.0.1", nginx.http, timeout=10)
    connection.request("GET", "/", headers={"Host": "elsewhere.example"})

    with pytest.raises(http.client.RemoteDisconnected):
        connection.getresponse()
    connection.close()


def test_the_logs_hold_no_path_and_no_address(phones, nginx, gunicorn):
    answer = phones[0].ask("GET", "/calendar/a-secret-that-nobody-may-read/")
    log = nginx.folder / "bandroom.log"
    until = time.monotonic() + 10  # the line is written after the answer has gone
    while not any(answer[1]["X-Request-ID"] in line for line in log.read_text().splitlines()):
        assert time.monotonic() < until, "the request is not in the log"
        time.sleep(0.05)
    lines = log.read_text().splitlines()

    for text in ("\n".join(lines), gunicorn.read_text(), (nginx.folder / "bandroom-errors.log").read_text()):
        assert "secret" not in text
        assert "127.0.0.1" not in text


class Echo(http.server.BaseHTTPRequestHandler):
    """Answers with the headers that it got."""

    def do_GET(self) -> None:
        body = json.dumps([*self.headers.items()]).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        pass


def test_forged_headers_are_dropped(folder, certificate):
    """Behind the same example stands a program that tells what reaches it."""
    echo = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Echo)
    threading.Thread(target=echo.serve_forever, daemon=True).start()
    own = folder / "echo"
    own.mkdir(mode=0o750)
    for name in ("certificate.pem", "key.pem"):
        shutil.copy(folder / name, own / name)
    https = free_port()
    config = own / "nginx.conf"
    config.write_text(example(folder=own, https=https, http=free_port(), behind=echo.server_port))
    running = subprocess.Popen([NGINX, "-c", config, "-e", own / "nginx-start.log"])
    try:
        wait_for_port(https)
        forged = {
            "X-Forwarded-For": "198.51.100.7",
            "X-Forwarded-Proto": "http",
            "X-Forwarded-Host": "elsewhere.example",
            "Forwarded": "for=198.51.100.7;proto=http",
            "X_Forwarded_For": "198.51.100.8",
        }
        request = urllib.request.Request(f"https://{SITE}:{https}/", headers=forged)
        trusted = ssl.create_default_context(cafile=str(certificate))
        with urllib.request.urlopen(request, context=trusted, timeout=10) as answer:  # noqa: S310 as above
            seen = json.loads(answer.read())
    finally:
        running.terminate()
        running.wait()
        echo.shutdown()
        echo.server_close()

    got = {name.lower(): value for name, value in seen}
    assert len(got) == len(seen)
    assert (got["x-forwarded-for"], got["x-forwarded-proto"]) == ("127.0.0.1", "https")
    assert got["host"] == f"{SITE}:{https}"
    assert not {"x-forwarded-host", "forwarded", "x_forwarded_for"} & set(got)
    with override_settings(PROXY_COUNT=1):
        request = RequestFactory().get("/", headers={"X-Forwarded-For": got["x-forwarded-for"]})
        assert visitor_address(request) == "127.0.0.1"
