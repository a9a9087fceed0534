"""An ornament on a rest is a slip of the pen: it is said, and nothing sounds."""

from scores.music.ornaments import realise
from scores.reading_files.reading import read
from tests.music import LAENDLER, TURN, rest


def test_an_ornament_on_a_rest_is_named_with_its_measure():
    slip = rest(12, staff=2).replace("</note>", f"<notations>{TURN}</notations></note>")
    edition = read("slip.xml", LAENDLER.replace(rest(12, staff=2), slip).encode())
    [(message, params)] = edition.notices
    assert message % params == (
        "An ornament stands on a rest, where no key is struck: it is not written out. Measures: 0."
    )
    assert [one.kind for one in realise(edition.score).ornaments] == ["grace", "turn"]


def test_ornaments_on_notes_are_not_remarked():
    assert read("fair.xml", LAENDLER.encode()).notices == ()
