"""Which part is the pianist's and which staff which hand; two parts of one staff made one."""

import music21
import pytest
import verovio
from lxml import etree

from scores.reading_files import CannotRead
from scores.reading_files.reading import read
from tests.music import ATTRIBUTES, BACK, finger, grace, note, rest
from tests.scores.reading_files.samples import (
    PLAIN,
    PLAIN_MEASURE,
    corpus_file,
    measure,
    one_staff,
    part,
    piano,
    three_quarters,
    whole,
)

UPPER = one_staff(three_quarters("C5", "D5", "E5"))
LOWER = one_staff(three_quarters("C3", "D3", "E3"), sign="F")


def words(edition) -> list[str]:
    return [message % params for message, params in edition.notices]


def hands(edition) -> list[tuple[str, str]]:
    return [(note.pitch.name + str(note.pitch.octave), note.side) for note in edition.score.notes]


def test_two_staves_are_two_hands_and_nothing_is_said():
    edition = read("plain.xml", PLAIN)
    assert {(note.staff, note.side) for note in edition.score.notes} == {(1, "right"), (2, "left")}
    assert edition.notices == ()


def test_the_staff_of_a_note_decides_its_hand_whatever_its_voice():
    crossed = note("C4", "quarter", staff=2).replace("<staff>2</staff>", "<staff>1</staff>")
    edition = read("crossed.xml", piano(three_quarters("C5", "D5", "E5") + BACK + crossed + rest(24, staff=2)))
    assert ("C4", "right") in hands(edition)


@pytest.mark.parametrize(
    ("inside", "side", "said"),
    [
        (UPPER, "right", "one staff; it was taken as the right hand"),
        (LOWER, "left", "bass clef; it was taken as the left hand"),
    ],
)
def test_one_staff_is_one_hand_by_its_clef(inside: str, side: str, said: str):
    edition = read("one.xml", whole(part(measure(inside))))
    assert {note.side for note in edition.score.notes} == {side}
    assert said in words(edition)[0]


def test_two_parts_of_one_staff_become_one_part_of_two_staves(schema: etree.XMLSchema):
    data = whole(
        part(measure(UPPER)) + part(measure(LOWER), id="P2"), names=(("P1", "Right hand"), ("P2", "Left hand"))
    )
    edition = read("two.xml", data)
    assert hands(edition) == [
        ("C3", "left"),
        ("C5", "right"),
        ("D3", "left"),
        ("D5", "right"),
        ("E3", "left"),
        ("E5", "right"),
    ]
    assert words(edition) == [
        "The file has two parts of one staff each: “Right hand” was taken as the right hand, “Left hand” as the left."
    ]
    tree = etree.fromstring(edition.music)
    schema.assertValid(tree)
    assert len(tree.findall("part")) == len(tree.findall("part-list/score-part")) == 1
    assert tree.findtext("part/measure/attributes/staves") == "2"
    assert [clef.findtext("sign") for clef in tree.iter("clef")] == ["G", "F"]


def test_joining_brings_unlike_divisions_slurs_and_fingers_along(schema: etree.XMLSchema):
    slur = '<slur type="{}" number="1"/>'
    above = one_staff(
        note("C5", "quarter", extra=slur.format("start") + finger("3"))
        + note("D5", "eighth", extra="tied_start")
        + note("D5", "eighth", extra="tied_stop")
        + grace("F5")
        + note("E5", "quarter", extra=slur.format("stop"))
    )
    below = one_staff(three_quarters("C3", "D3", "E3").replace("<duration>12<", "<duration>5<"), sign="F", divisions=5)
    below = below.replace("<type>", "<type>", 1)
    second = three_quarters("C5", "D5", "E5").replace("<staff>1</staff>", "")
    second_below = second.replace("<duration>12<", "<duration>5<").replace("<octave>5<", "<octave>3<")
    data = whole(
        part(measure(above) + measure(second, "2")) + part(measure(below) + measure(second_below, "2"), id="P2"),
        names=(("P1", ""), ("P2", "")),
    )
    edition = read("two.xml", data)
    assert [bar.length for bar in edition.score.measures] == [3, 3]
    left = [note for note in edition.score.notes if note.side == "left"]
    assert [(note.onset, note.length) for note in left] == [(place, 1) for place in range(6)]
    right = [note for note in edition.score.notes if note.side == "right"]
    assert [note.printed for note in right][:1] == ["3"]
    assert [note.is_grace for note in right] == [False, False, False, True, False, False, False, False]
    assert {note.voice for note in left}.isdisjoint({note.voice for note in right})
    schema.assertValid(etree.fromstring(edition.music))


def test_joining_fills_the_shorter_part():
    data = whole(
        part(measure(UPPER)) + part(measure(LOWER) + measure(three_quarters("C3", "D3", "E3"), "2"), id="P2"),
        names=(("P1", ""), ("P2", "")),
    )
    score = read("two.xml", data).score
    assert [bar.length for bar in score.measures] == [3, 3]
    assert [note.side for note in score.in_measures(1, 1)] == ["left"] * 3


def test_a_joined_corpus_piece_sounds_as_its_two_parts_do():
    data = corpus_file("demos/chord_realization_exercise.mxl")
    edition = read("exercise.mxl", data)
    stream = music21.converter.parseData(edition.music.decode(), format="musicxml")
    before = music21.corpus.parse("demos/chord_realization_exercise.mxl")

    def sounding(one) -> set[tuple[float, int]]:
        played = one.flatten().getElementsByClass(["Note", "Chord"]).getElementsNotOfClass("ChordSymbol")
        return {(float(element.offset), pitch.midi) for element in played for pitch in element.pitches}

    assert sounding(stream) == sounding(before)
    assert sounding(before) == {(float(note.onset), note.pitch.midi) for note in edition.score.notes}
    toolkit = verovio.toolkit()
    assert toolkit.loadData(edition.music.decode())
    assert all(f'xml:id="{note.id}"' in toolkit.getMEI() for note in edition.score.notes)


def test_a_piano_beside_other_parts_is_kept_and_they_are_named():
    data = whole(
        part(measure(UPPER)) + part(measure(ATTRIBUTES + PLAIN_MEASURE), id="P2"),
        names=(("P1", "Soprano"), ("P2", "Piano")),
    )
    edition = read("song.xml", data)
    assert len(edition.score.notes) == 6
    assert words(edition) == ["Only the part “Piano” was taken; left out: Soprano."]
    assert b"Soprano" not in edition.music


@pytest.mark.parametrize("name", ["Klavier", "Fortepiano", "ピアノ", "Фортепиано", "Harpsichord", "Pno."])
def test_a_keyboard_of_one_staff_among_many_is_known_by_its_name(name: str):
    data = whole(
        part(measure(UPPER)) + part(measure(UPPER), id="P2") + part(measure(LOWER), id="P3"),
        names=(("P1", "Violin"), ("P2", "Viola"), ("P3", name)),
    )
    assert {note.side for note in read("trio.xml", data).score.notes} == {"left"}


def test_parts_of_which_none_is_a_piano_are_named():
    parts = "".join(part(measure(UPPER), id=f"P{place}") for place in range(1, 5))
    names = [(f"P{place}", name) for place, name in enumerate(("Soprano", "Alto", "Tenor", "Bass"), 1)]
    with pytest.raises(CannotRead, match="4 parts and none is known as a piano: Soprano, Alto, Tenor, Bass"):
        read("choir.xml", whole(parts, names=names))


def test_several_pianos_are_named():
    parts = "".join(part(measure(ATTRIBUTES + PLAIN_MEASURE), id=f"P{place}") for place in (1, 2))
    with pytest.raises(CannotRead, match="several parts for a keyboard: Piano I, Piano II"):
        read("duo.xml", whole(parts, names=(("P1", "Piano I"), ("P2", "Piano II"))))


def test_three_staves_are_refused_with_what_to_do():
    third = BACK + three_quarters("C2", "C2", "C2", staff=3)
    data = piano(PLAIN_MEASURE + third).replace(b"<staves>2<", b"<staves>3<")
    with pytest.raises(CannotRead, match="“Piano” has notes on 3 staves; a pianist's part has one or two"):
        read("organ.xml", data)


def test_three_staves_of_which_one_is_empty_are_two_hands():
    data = piano(PLAIN_MEASURE.replace("<staff>2<", "<staff>3<")).replace(b"<staves>2<", b"<staves>3<")
    assert {(note.staff, note.side) for note in read("three.xml", data).score.notes} == {(1, "right"), (3, "left")}
