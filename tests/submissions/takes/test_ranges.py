"""Range headers by RFC 9110, section 14.1.2; the examples of a 10,000 byte file are the standard's own."""

import pytest

from submissions.takes.ranges import ByteRange, Unsatisfiable, read_range


@pytest.mark.parametrize(
    ("header", "first", "last"),
    [
        ("bytes=0-499", 0, 499),
        ("bytes=500-999", 500, 999),
        ("bytes=-500", 9500, 9999),
        ("bytes=9500-", 9500, 9999),
        ("bytes=0-", 0, 9999),
        ("bytes=0-99999", 0, 9999),
        ("bytes=-99999", 0, 9999),
        ("bytes=9999-9999", 9999, 9999),
        (" bytes=1-2 ", 1, 2),
    ],
)
def test_one_range(header, first, last):
    assert read_range(header, size=10_000) == ByteRange(first, last)


@pytest.mark.parametrize(
    "header",
    [
        None,
        "",
        "bytes",
        "bytes=",
        "bytes=-",
        "bytes=a-b",
        "bytes=5-2",
        "items=0-5",
        "bytes=0-1,4-5",
        "bytes=٣-٤",
    ],
)
def test_what_is_not_understood_asks_for_the_whole(header):
    assert read_range(header, size=10_000) is None


@pytest.mark.parametrize("header", ["bytes=10000-", "bytes=20000-30000", "bytes=-0"])
def test_behind_the_end(header):
    with pytest.raises(Unsatisfiable):
        read_range(header, size=10_000)


def test_an_empty_file_has_no_range():
    with pytest.raises(Unsatisfiable):
        read_range("bytes=-5", size=0)
