"""Every ornament of pieces from music21's installed corpus, both placements: time is neither lost nor won.

Counts come from the raw XML, independently of how the files are read here.
"""

import zipfile
from functools import cache
from pathlib import Path

import music21
import pytest
from lxml import etree

from scores.music.notation import Placement
from scores.music.ornaments import realise
from scores.reading_files import ReadEdition
from scores.reading_files.reading import read
from tests.scores.music.test_ornaments import PLACEMENTS, check_sums

CORPUS = Path(music21.__file__).parent / "corpus"
PIECES = [
    "schumann_clara/polonaise_op1n1.mxl",
    "schumann_clara/polonaise_op1n2.mxl",
    "schumann_clara/polonaise_op1n3.mxl",
    "schumann_clara/polonaise_op1n4.mxl",
    "schubert/Lindenbaum.xml",
]


@cache
def piece(name: str) -> ReadEdition:
    return read(Path(name).name, (CORPUS / name).read_bytes())


def raw(name: str) -> etree._Element:
    path = CORPUS / name
    if path.suffix != ".mxl":
        return etree.fromstring(path.read_bytes())
    with zipfile.ZipFile(path) as packed:
        inside = next(one for one in packed.namelist() if not one.startswith("META-INF") and one.endswith("xml"))
        return etree.fromstring(packed.read(inside))


@pytest.mark.parametrize("name", PIECES)
@pytest.mark.parametrize("placement", PLACEMENTS)
def test_lengths_add_up_in_every_voice_of_every_measure(name: str, placement: Placement) -> None:
    score = piece(name).score
    check_sums(score, realise(score, placement=placement))


@pytest.mark.parametrize("name", [one for one in PIECES if "polonaise" in one])
@pytest.mark.parametrize("placement", PLACEMENTS)
def test_every_sign_and_grace_of_the_file_is_written_out(name: str, placement: Placement) -> None:
    tree = raw(name)
    made = realise(piece(name).score, placement=placement).ornaments
    for kind in ("trill-mark", "turn", "mordent", "inverted-mordent", "tremolo"):
        signs = len(tree.findall(f".//{kind}"))
        assert sum(one.kind == kind and bool(one.notes) for one in made) == signs
    graces = {note.source for one in made if one.kind == "grace" for note in one.notes if note.role == "ornament"}
    groups = len([one for one in tree.iter("note") if one.find("grace") is not None and one.find("chord") is None])
    assert len(graces) == groups
