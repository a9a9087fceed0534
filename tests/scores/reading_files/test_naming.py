"""Ids that are fit for XML, HTML and SVG, the same each time, quickly found."""

import pytest
from lxml import etree

from scores.reading_files.naming import free_name, is_fit, name_notes
from tests.scores.reading_files.samples import PLAIN


@pytest.mark.parametrize("name", ["a", "_x", "note-L12F3", "m1.n2", "A" * 80])
def test_fit_names(name: str):
    assert is_fit(name)


@pytest.mark.parametrize("name", ["", None, "1a", "-a", "a b", "a:b", "é", "a\n", "a<", 'a"', "A" * 81])
def test_unfit_names(name: str | None):
    assert not is_fit(name)


def test_a_free_name_is_found_and_taken():
    taken = {"a", "a-2"}
    assert free_name("b", taken) == "b"
    assert free_name("a", taken) == "a-3"
    assert {"b", "a-3"} <= taken


def test_naming_again_changes_nothing():
    root = etree.fromstring(PLAIN)
    name_notes(root)
    once = etree.tostring(root)
    name_notes(root)
    assert etree.tostring(root) == once


def test_instruments_keep_their_references():
    text = PLAIN.decode().replace(
        "<part-name>Piano</part-name>",
        "<part-name>Piano</part-name><score-instrument id='1 2'><instrument-name>x</instrument-name></score-instrument>"
        "<midi-instrument id='1 2'/>",
    )
    text = text.replace("<voice>1</voice>", "<instrument id='1 2'/><voice>1</voice>", 1)
    root = etree.fromstring(text.encode())
    name_notes(root)
    ids = {
        element.get("id") for tag in ("score-instrument", "midi-instrument", "instrument") for element in root.iter(tag)
    }
    assert ids == {"I1"}
