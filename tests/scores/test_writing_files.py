"""What is written is valid by the W3C schema and is read back by others."""

from importlib.util import find_spec
from pathlib import Path

import music21
import pytest
import verovio
from lxml import etree

from scores.engraving.glyphs import DATA
from scores.music.notation import Placement, Score
from scores.music.ornaments import Choice, realise
from scores.reading_files.reading import read
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


def every_choice(score: Score) -> dict[str, Choice]:
    """Something chosen for every ornament, in turns."""
    ways = (
        Choice("before", 7, "main", True),
        Choice("on", 5, "upper", False, True),
        Choice("before", 4, "lower", None, False),
        Choice("on"),
    )
    return {one.key: ways[place % len(ways)] for place, one in enumerate(realise(score).ornaments)}


@pytest.mark.parametrize("name", PIECES)
def test_written_files_are_valid_by_the_w3c_schema(name: str, musicxml_schema: etree.XMLSchema):
    found = read("piece.musicxml", corpus_music(name))
    fingers = some_fingers(pitched(found.music))
    whole = with_choices(found.music, fingers, score=found.score, choices=every_choice(found.score))
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
def test_the_placement_of_a_grace_says_whose_time_it_takes(placement: Placement, name: str):
    found = read("piece.musicxml", laendler())
    [grace] = [note.id for note in found.score.notes if note.is_grace]
    given = {"score": found.score, "tempo": 120}
    other = with_choices(found.music, {}, choices={grace: Choice("on" if placement == "before" else "before")}, **given)
    element = etree.fromstring(with_choices(other, {}, choices={grace: Choice(placement)}, **given)).find(".//grace")
    # At 120 a 32nd lasts 62.5 ms and a 64th less than 50; both neighbours are eighths: the 32nd is a quarter of each.
    assert {key: value for key, value in element.attrib.items() if "time" in key} == {name: "25"}


@pytest.mark.parametrize(("long", "slash"), [(True, "no"), (False, "yes"), (None, "yes")])
def test_a_leaning_note_has_no_stroke_and_a_crushed_one_has(long: bool | None, slash: str):
    # MusicXML: "The slash attribute for a grace note is yes for slashed grace notes." The file's own has a stroke.
    found = read("piece.musicxml", laendler())
    [grace] = [note.id for note in found.score.notes if note.is_grace]
    choices = {grace: Choice("on", long=long)}
    written = with_choices(found.music, {}, score=found.score, choices=choices)
    assert etree.fromstring(written).find(".//grace").get("slash") == slash


def test_what_was_chosen_for_a_sign_leaves_as_its_trill_sound():
    found = read("piece.musicxml", laendler())
    [turn] = [note.id for note in found.score.notes if note.ornaments]
    written = with_choices(found.music, {}, score=found.score, choices={turn: Choice("on", 5, "main")})
    assert dict(etree.fromstring(written).find(".//turn").attrib) == {"start-note": "main", "beats": "5"}


@pytest.mark.parametrize(("placement", "name"), [("before", "stealTimePrevious"), ("on", "stealTimeFollowing")])
def test_the_time_of_a_grace_is_read_by_music21(placement: Placement, name: str):
    """It takes whole percentages alone. At 60 the grace is a 64th, an eighth of its neighbours: 12.5 %."""
    found = read("piece.musicxml", laendler())
    [grace] = [note.id for note in found.score.notes if note.is_grace]
    written = with_choices(found.music, {}, score=found.score, choices={grace: Choice(placement)}, tempo=60)
    again = music21.converter.parseData(written, format="musicxml")
    [other] = [one for one in again.recurse().notes if one.duration.isGrace]
    assert getattr(other.duration, name) == pytest.approx(0.13)


@pytest.mark.parametrize("placement", ["before", "on"])
@pytest.mark.parametrize("name", PIECES[:4])
def test_graces_sound_the_same_when_the_file_is_read_again(name: str, placement: Placement):
    found = read("piece.musicxml", corpus_music(name))
    keys = [one.key for one in realise(found.score).ornaments if one.kind == "grace"]
    choices = {key: Choice(placement) for key in keys}
    written = read("piece.musicxml", with_choices(found.music, {}, score=found.score, choices=choices))
    before, after = realise(found.score, choices).by_key, realise(written.score).by_key
    for key in keys:
        assert after[key].placement == before[key].placement
        assert [(note.pitch, note.onset, note.length) for note in after[key].notes] == [
            (note.pitch, note.onset, note.length) for note in before[key].notes
        ]


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
