"""What is served plays in a real browser, tells its length and jumps to any place, under the site's CSP."""

from collections.abc import Callable

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.utils.timezone import now

from submissions.models import Take
from submissions.preparing.findings import Limits
from submissions.preparing.prepare import prepare
from submissions.takes.files import random_name
from tests import factories
from tests.browser.conftest import PHONE
from tests.submissions.takes import sounds

pytestmark = pytest.mark.django_db(transaction=True)
# Plays muted; asks for the length, then for a place near the end before anything else was loaded.
PLAY = """
async (address) => {
  const audio = new Audio();
  const once = (name) => new Promise((done, failed) => {
    audio.addEventListener(name, done, { once: true });
    audio.addEventListener("error", () => failed(new Error(audio.error?.message || "error")), { once: true });
  });
  audio.muted = true;
  audio.preload = "metadata";
  audio.src = address;
  await once("loadedmetadata");
  const seconds = audio.duration;
  audio.currentTime = seconds - 3;
  await once("seeked");
  const there = audio.currentTime;
  audio.preservesPitch = true;
  audio.playbackRate = 0.5;
  await audio.play();
  const began = performance.now();
  while (audio.currentTime < there + 0.2) await new Promise((done) => setTimeout(done, 20));
  audio.pause();
  return { seconds, there, played: audio.currentTime - there, took: (performance.now() - began) / 1000 };
}
"""


@pytest.fixture
def serve(seat, section, tmp_path) -> Callable[[Callable], Take]:
    def made(write: Callable) -> Take:
        source = write(tmp_path / "source", sounds.line(seconds=20))
        prepared = prepare(source=source, served=tmp_path / "served", limits=Limits())
        content = (tmp_path / "served").read_bytes()
        name = random_name()
        storages["takes"].save(name, ContentFile(content))
        return Take.objects.create(
            assignment=factories.make_assignment(band=section.band, sections=[section]),
            seat=seat,
            lines=["A"],
            state=Take.State.READY,
            declared_at=now(),
            declared_bytes=1,
            declared_sha256="0" * 64,
            served=name,
            served_type=prepared.media_type,
            served_bytes=len(content),
            seconds=prepared.seconds,
        )

    return made


@pytest.mark.parametrize(
    "write",
    [sounds.webm, sounds.m4a, sounds.mp3, sounds.wav],
    ids=["webm of a browser, without length", "m4a", "mp3", "wav, served as flac"],
)
def test_it_plays_and_jumps(page_at, serve, seat, write):
    take = serve(write)
    page = page_at(PHONE, seat.student)
    statuses: list[int] = []
    page.on("response", lambda answer: statuses.append(answer.status) if "/sound" in answer.url else None)
    page.goto("/nowhere")

    heard = page.evaluate(PLAY, f"/takes/{take.pk}/sound")

    assert heard["seconds"] == pytest.approx(take.seconds, abs=0.1)
    assert heard["there"] == pytest.approx(heard["seconds"] - 3, abs=0.1)
    assert 0.2 <= heard["played"] < heard["took"] * 0.5 + 0.1
    assert statuses
    assert set(statuses) == {206}
