"""Whatever the bytes are, reading gives an edition or says why not: nothing else comes out."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree

from scores.reading_files import CannotRead, Limits
from scores.reading_files.reading import read, read_abc
from scores.reading_files.stored import from_json, to_json
from tests.music import LAENDLER
from tests.scores.reading_files.samples import ABC, KERN, MEI, midi, zipped

LIMITS = Limits(measures=200, notes=2000)
SEEDS = {
    "laendler.xml": LAENDLER.encode(),
    "laendler.mxl": zipped({"score.musicxml": LAENDLER}),
    "kettle.mei": MEI.encode(),
    "kettle.abc": ABC.encode(),
    "kettle.mid": midi([[(0, 1, 60), (1, 0.5, 64), (1.5, 0.5, 65)], [(0, 2, 48)]]),
}
PIECES = [
    *(b"<", b">", b"&", b'"', b"/>", b"0", b"-1", b"999999999999999", b"\x00", b"\xff\xfe", b"]]>", b"<!--", b"1e9"),
    *(
        "¼".encode(),
        b"<chord/>",
        b"<grace/>",
        b"<backup><duration>99</duration></backup>",
        b"(3",
        b"|:",
        b"[",
        b"{",
        b"&",
    ),
    *(b"\t", b"\n", b"<divisions>0</divisions>", b"<duration>-5</duration>", b"<staff>9</staff>", b"dur='7'"),
]


def attempt(name: str, data: bytes) -> None:
    edition, words = None, ""
    try:
        edition = read(name, data, LIMITS)
    except CannotRead as problem:
        words = str(problem)
    if edition is None:
        assert words
        return
    ids = [element.get("id") for element in etree.fromstring(edition.music).iter("note")]
    assert len(set(ids)) == len(ids)
    assert from_json(to_json(edition.score)) == edition.score
    assert all(message % params for message, params in edition.notices)


@pytest.mark.parametrize("name", SEEDS)
@settings(deadline=None, max_examples=120, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_mutated_files_raise_nothing_but_cannot_read(name: str, data: st.DataObject):
    body = SEEDS[name]
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(body)))
        length = data.draw(st.sampled_from((0, 0, 1, 2, 8, 60)))
        piece = data.draw(st.sampled_from(PIECES) | st.binary(max_size=6))
        body = body[:start] + piece + body[start + length :]
    attempt(name, body)


@pytest.mark.parametrize("name", SEEDS)
def test_truncated_files_raise_nothing_but_cannot_read(name: str):
    body = SEEDS[name]
    for cut in range(0, len(body), max(1, len(body) // 60)):
        attempt(name, body[:cut])


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=200))
def test_any_bytes_raise_nothing_but_cannot_read(data: bytes):
    for head in (b"", b"MThd\x00\x00\x00\x06", b"<", b"PK\x03\x04", b"X:1\nK:C\n"):
        attempt("any", head + data)


@settings(deadline=None, max_examples=200)
@given(st.text(alphabet="ABCDEFGabcdefgzZx,'^_=/0123456789()[]{}|:<>-!.~T\"&% \nVKMLQ", max_size=80))
def test_anything_typed_as_abc_raises_nothing_but_cannot_read(text: str):
    words = ""
    try:
        assert read_abc(text, LIMITS).score.notes
    except CannotRead as problem:
        words = str(problem)
    assert "%" not in words or "%%" in words


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_humdrum_with_lines_lost_or_changed_raises_nothing_but_cannot_read(data: st.DataObject):
    lines = KERN.split("\n")
    place = data.draw(st.integers(0, len(lines) - 1))
    if data.draw(st.booleans()):
        del lines[place]
    else:
        lines[place] = data.draw(st.sampled_from(("", "*\t*\t*", "=\t=\t=", ".\t.\t.", "4c\t4d\t1", "!\t!\t!", "x")))
    attempt("kettle.krn", "\n".join(lines).encode())
