"""What is written is valid by the W3C schema and is read back by others."""

from importlib.util import find_spec
from pathlib import Path

import music21
import pytest
import verovio
from lxml import etree

from scores.engraving.glyphs import DATA
from scores.writing_files import excerpt, fingers_of, with_choices
from tests.scores.corpus_music import PIECES, corpus_music, laendler, pitched, some_fingers

# The two schemas that MusicXML's own imports, as far as it uses them; their names are those of the W3C.
XML_SHIM = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/XML/1998/namespace">
<xs:attribute name="lang" type="xs:language"/>
<xs:attribute name="space"><xs:simpleType><xs:restriction base="xs:NCName">
<xs:enumeration value="default"/><xs:enumeration value="preserve"/></xs:restriction></xs:simpleType></xs:attribute>
</xs:schema>"""
XLINK_SHIM = (
    '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">'
    + "".join(
        f'<xs:attribute name="{name}" type="xs:{kind}"/>'
        for name, kind in (
            ("href", "anyURI"),
            ("type", "NMTOKEN"),
            ("role", "token"),
            ("title", "token"),
            ("show", "NMTOKEN"),
            ("actuate", "NMTOKEN"),
        )
    )
    + "</xs:schema>"
)


@pytest.fixture(scope="session")
def musicxml_schema(tmp_path_factory) -> etree.XMLSchema:
    """The W3C's musicxml.xsd (4.0), from the package `musicxml`, with its imports made local."""
    package = Path(find_spec("musicxml").origin).parent
    source = next(package.rglob("musicxml_4_0.xsd")).read_text()
    home = tmp_path_factory.mktemp("schema")
    (home / "xml.xsd").write_text(XML_SHIM)
    (home / "xlink.xsd").write_text(XLINK_SHIM)
    for name in ("xml", "xlink"):
        source = source.replace(f"http://www.musicxml.org/xsd/{name}.xsd", f"{name}.xsd")
    (home / "musicxml.xsd").write_text(source)
    return etree.XMLSchema(etree.parse(home / "musicxml.xsd"))


@pytest.mark.parametrize("name", PIECES)
def test_written_files_are_valid_by_the_w3c_schema(name: str, musicxml_schema: etree.XMLSchema):
    music = corpus_music(name)
    graces = [note.get("id") for note in etree.fromstring(music).iter("note") if note.find("grace") is not None]
    placements = {note: "on" if place % 2 else "before" for place, note in enumerate(graces)}
    whole = with_choices(music, some_fingers(pitched(music)), placements=placements)
    for written in (whole, excerpt(whole, 3, 6)):
        musicxml_schema.assertValid(etree.fromstring(written))


def test_the_schema_finds_a_fingering_in_the_wrong_place(musicxml_schema: etree.XMLSchema):
    root = etree.fromstring(with_choices(laendler(), {}))
    note = next(note for note in root.iter("note") if note.find("pitch") is not None)
    note.insert(0, etree.fromstring("<notations><technical><fingering>1</fingering></technical></notations>"))
    assert not musicxml_schema.validate(root)


@pytest.mark.parametrize("name", PIECES[:3])
def test_all_fingers_are_read_back_by_music21(name: str):
    music = corpus_music(name)
    fingers = some_fingers(pitched(music))
    # music21's stream holds no ids of MusicXML notes, so fingers are compared as what stands on what pitch.
    score = music21.converter.parseData(with_choices(music, fingers).decode(), format="musicxml")
    found = sorted(
        (mark.fingerNumber, mark.substitution)
        for thing in score.recurse().notes
        for mark in thing.articulations
        if isinstance(mark, music21.articulations.Fingering)
    )
    wanted = sorted((int(digit), place > 0) for text in fingers.values() for place, digit in enumerate(text.split("-")))
    assert found == wanted


@pytest.mark.parametrize("name", PIECES[:3])
def test_all_fingers_are_read_back_by_verovio_on_their_notes(name: str):
    music = corpus_music(name)
    fingers = some_fingers(pitched(music))
    toolkit = verovio.toolkit(False)
    toolkit.setResourcePath(str(DATA))
    toolkit.loadData(with_choices(music, fingers).decode())
    mei = etree.fromstring(toolkit.getMEI().encode())
    found: dict[str, list[str]] = {}
    for finger in mei.iter("{*}fing"):
        found.setdefault(finger.get("startid").lstrip("#"), []).append("".join(finger.itertext()).strip())
    assert {note: "-".join(digits) for note, digits in found.items()} == fingers


def test_a_substitution_is_written_as_one_after_its_first_finger():
    note = pitched(laendler())[1]
    written = etree.fromstring(with_choices(laendler(), {note: "4-5"}))
    marks = written.xpath(f"//note[@id='{note}']/notations/technical/fingering")
    assert [(mark.text, mark.get("substitution")) for mark in marks] == [("4", None), ("5", "yes")]


def test_printed_fingers_go_or_stay_where_no_other_is_chosen():
    music = laendler()
    printed = fingers_of(music)
    assert sorted(printed.values()) == ["2", "5"]
    first, second = printed
    assert fingers_of(with_choices(music, {first: "1"})) == {first: "1"}
    assert fingers_of(with_choices(music, {first: "1"}, keep_printed=True)) == {first: "1", second: printed[second]}


@pytest.mark.parametrize(("placement", "name"), [("before", "steal-time-previous"), ("on", "steal-time-following")])
def test_the_placement_of_a_grace_says_whose_time_it_takes(placement: str, name: str):
    music = laendler()
    grace = next(note.get("id") for note in etree.fromstring(music).iter("note") if note.find("grace") is not None)
    other = with_choices(music, {}, placements={grace: "on" if placement == "before" else "before"})
    element = etree.fromstring(with_choices(other, {}, placements={grace: placement})).find(".//grace")
    assert {key: value for key, value in element.attrib.items() if "time" in key} == {name: "50"}


def test_what_was_not_chosen_is_written_as_it_came():
    music = corpus_music("mozart/k545/movement1_exposition")
    before, after = etree.fromstring(music), etree.fromstring(with_choices(music, fingers_of(music)))
    assert [(e.tag, (e.text or "").strip(), dict(e.attrib)) for e in before.iter() if isinstance(e.tag, str)] == [
        (e.tag, (e.text or "").strip(), dict(e.attrib)) for e in after.iter() if isinstance(e.tag, str)
    ]


def test_an_excerpt_has_its_measures_and_what_was_in_force_before():
    root = etree.fromstring(excerpt(laendler(), 2, 3))
    assert [measure.get("number") for measure in root.iter("measure")] == ["2", "3"]
    first = root.find("part/measure/attributes")
    assert (first.findtext("key/fifths"), first.findtext("time/beats"), len(first.findall("clef"))) == ("-3", "3", 2)
    # The tie into the last measure is let ring.
    assert [tied.get("type") for tied in root.iter("tied")] == ["let-ring"]
    assert not list(root.iter("tie"))
    with pytest.raises(IndexError):
        excerpt(laendler(), 3, 9)
