"""What phones write becomes a take that plays; of a damaged file the rest plays, or a sentence says why."""

import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from submissions.preparing.findings import Finding, Limits, Refusal, Unusable
from submissions.preparing.prepare import Prepared, prepare
from tests.preparing import phones

LIMITS = Limits()
#: Lengths of those that are not three seconds.
SECONDS = {"webkit": 12.04, "webm whose clock jumps": 63.0}
TOLD = {"webm whose clock jumps": [Finding.GAPS], "video of a changing frame rate": [Finding.HAD_PICTURE]}


def outcome(content: bytes, folder: Path) -> Prepared | Unusable:
    source = folder / "source"
    source.write_bytes(content)
    try:
        return prepare(source=source, served=folder / "served", limits=LIMITS)
    except Unusable as unusable:
        return unusable


@pytest.mark.parametrize("name", phones.MADE)
def test_whole_it_plays_with_its_length(tmp_path, name):
    take = outcome(phones.written(name), tmp_path)

    assert isinstance(take, Prepared)
    assert take.seconds == pytest.approx(SECONDS.get(name, 3), abs=0.1)
    assert take.findings == TOLD.get(name, [])


def test_the_fragments_of_a_phone_name_their_priming():
    assert b"elst" in phones.written("aac in fragments")
    assert phones.written("aac in fragments").count(b"moof") > 3


def check(content: bytes) -> None:
    """What is left plays, or is refused with a sentence although FFmpeg has less than a second of it."""
    with tempfile.TemporaryDirectory() as folder:
        take = outcome(content, Path(folder))
        heard = phones.heard_seconds(Path(folder) / "source")
        if isinstance(take, Prepared):
            assert phones.heard_seconds(Path(folder) / "served") >= min(heard, LIMITS.shortest_seconds) - 0.05
            assert take.seconds > 0
        elif take.refusal == Refusal.TOO_LONG:  # a damaged header can make each sample last a second
            assert heard > LIMITS.longest_seconds
        else:
            assert heard < LIMITS.shortest_rest_seconds, (take.sentence, heard)


@pytest.mark.parametrize("tenths", range(1, 10))
@pytest.mark.parametrize("name", phones.MADE)
def test_cut_at_each_tenth_of_its_length(tmp_path, name, tenths):
    whole = phones.written(name)
    cut = whole[: len(whole) * tenths // 10]

    check(cut)

    take = outcome(cut, tmp_path)
    if isinstance(take, Prepared):
        assert Finding.CUT_SHORT in take.findings


DAMAGES = st.tuples(
    st.sampled_from(["cut", "noise", "zeros", "left out", "twice"]),
    st.floats(0, 1),
    st.sampled_from([1, 2, 4, 40, 400, 4_000, 20_000]),
    st.integers(0, 2**32 - 1),
)


def damaged(content: bytes, kind: str, where: float, count: int, seed: int) -> bytes:
    place = round(where * (len(content) - 1))
    before, hit, after = content[:place], content[place : place + count], content[place + count :]
    match kind:
        case "cut":
            return before
        case "noise":
            return before + bytes((seed >> (n % 25)) * (n + 1) & 0xFF for n in range(len(hit))) + after
        case "zeros":
            return before + bytes(len(hit)) + after
        case "left out":
            return before + after
        case _:
            return before + hit + hit + after


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(name=st.sampled_from(list(phones.MADE)), damages=st.lists(DAMAGES, min_size=1, max_size=3))
# a header that names a codec nobody knows
@example(name="wav at 48 kHz", damages=[("noise", 0.000_07, 4, 0xFFFF_FFFF)])
# one that says no rate
@example(name="aac without container", damages=[("noise", 0.0001, 2, 0)])
# one that says more channels than there are
@example(name="aac in fragments, stereo", damages=[("twice", 0.625, 40, 0)])
def test_damaged_anywhere_it_plays_or_says_why(name, damages):
    content = phones.written(name)
    for damage in damages:
        content = damaged(content, *damage) or b"\0"
    check(content)


LONG = phones.sounds.line(seconds=40)
INDEX_FIRST = {"movflags": "faststart"}
LASTING: dict[str, Callable[[Path], object]] = {
    "aac": lambda p: phones.sounds.m4a(p, LONG, options=INDEX_FIRST),
    "alac": lambda p: phones.sounds.write(p, LONG, codec="alac", format="mp4", options=INDEX_FIRST),
    "webm": lambda p: phones.sounds.webm(p, LONG),
    "mp3": lambda p: phones.sounds.mp3(p, LONG),
}


@pytest.mark.parametrize("make", LASTING.values(), ids=LASTING.keys())
def test_sound_behind_a_long_damage_is_kept_and_the_damage_told(tmp_path, make):
    """Hundreds of packets that do not decode are no reason to stop before those that do."""
    make(tmp_path / "made")
    content = (tmp_path / "made").read_bytes()
    size = len(content)
    noise = np.random.default_rng(1).bytes(size * 6 // 10 - size // 20)

    take = outcome(content[: size // 20] + noise + content[size * 6 // 10 :], tmp_path)

    assert isinstance(take, Prepared)
    assert phones.heard_seconds(tmp_path / "source") > 15
    assert phones.heard_seconds(tmp_path / "served") > 15
    assert len({Finding.DAMAGED, Finding.GAPS} & set(take.findings)) == 1


def test_a_file_cut_inside_a_fragments_index_keeps_the_fragments_before_it(tmp_path):
    """FFmpeg alone opens nothing of such a file."""
    whole = phones.written("webkit")
    cut = whole[: whole.rindex(b"moof", 0, len(whole) * 9 // 10) + 100]
    (tmp_path / "cut").write_bytes(cut)
    assert phones.heard_seconds(tmp_path / "cut") == 0

    take = outcome(cut, tmp_path)

    assert isinstance(take, Prepared)
    assert take.seconds == pytest.approx(11, abs=0.1)  # fragments of a second, eleven of them whole
    assert take.findings == [Finding.CUT_SHORT]


def test_a_damaged_clock_makes_no_take_too_long(tmp_path):
    """What counts is how long it sounds, not what its time stamps say."""
    phones.sounds.webm(tmp_path / "made", LONG, hole=(1, 59))

    take = prepare(source=tmp_path / "made", served=tmp_path / "served", limits=Limits(longest_seconds=45))

    assert take.seconds == pytest.approx(99, abs=0.2)
    assert take.findings == [Finding.GAPS]


OTHER_KINDS = {
    "flash video": ("aac", "flv", 44_100),
    "telephone over the net": ("g722", "wav", 16_000),
    "tta": ("tta", "tta", 44_100),
    "studio wave": ("pcm_f64be", "aiff", 48_000),
}


@pytest.mark.parametrize("how", OTHER_KINDS.values(), ids=OTHER_KINDS.keys())
def test_rarer_kinds_play_as_well(tmp_path, how):
    codec, container, rate = how
    written = phones.sounds.write(tmp_path / "made", phones.LINE, codec=codec, format=container, rate=rate)

    take = outcome(written.read_bytes(), tmp_path)

    assert isinstance(take, Prepared)
    assert take.seconds == pytest.approx(3, abs=0.1)
