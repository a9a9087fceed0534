"""The same little piece in MEI, Humdrum and ABC: what comes in is what was written, read by eye."""

import re
from fractions import Fraction

import music21
import pytest
from lxml import etree

from scores.music.notation import Ornament, Tuplet
from scores.reading_files import ReadEdition
from scores.reading_files.reading import read
from tests.scores.reading_files.samples import ABC, KERN, MEI, corpus_file

SOURCES = {"MEI": ("kettle.mei", MEI), "Humdrum": ("kettle.krn", KERN), "ABC": ("kettle.abc", ABC)}
THIRD = Fraction(1, 3)

# name, octave, hand, onset, length; the left hand's bass note in measure 2 is crossed to the upper staff in MEI only.
RIGHT = [
    ("D", 5, 0, 1),
    ("A", 4, 1, 0),
    ("B", 4, 1, Fraction(3, 2)),
    ("C", 5, Fraction(5, 2), Fraction(1, 2)),
    ("D", 5, 3, 1),
    ("D", 5, 4, 1),
    ("F♯", 4, 5, THIRD),
    ("G", 4, 5 + THIRD, THIRD),
    ("A", 4, 5 + 2 * THIRD, THIRD),
    ("G", 4, 6, 1),
    ("G", 4, 7, 3),
]
LEFT = [("G", 2, 1, 3), ("D", 3, 1, 3), ("B", 2, 4, 2), ("D", 3, 6, 1)]


@pytest.fixture(scope="module", params=SOURCES)
def kettle(request: pytest.FixtureRequest) -> ReadEdition:
    name, text = SOURCES[request.param]
    edition = read(name, text.encode())
    assert edition.format == request.param
    return edition


def rows(edition: ReadEdition, side: str) -> list[tuple]:
    notes = [note for note in edition.score.notes if note.side == side]
    return [(note.pitch.name, note.pitch.octave, note.onset, note.length) for note in notes]


def test_pitches_onsets_and_hands_come_in_right(kettle: ReadEdition):
    right, left = rows(kettle, "right"), rows(kettle, "left")
    if kettle.format == "MEI":
        crossed = ("B", 2, 4, 2)
        right.remove(crossed)
        left.insert(2, crossed)
    if kettle.format == "Humdrum":
        assert left.pop() == ("G", 2, 7, 3)
    assert right == RIGHT
    assert left == LEFT


def test_measures_pick_up_and_repeats_come_in_right(kettle: ReadEdition):
    measures = kettle.score.measures
    assert [measure.number for measure in measures] == ["0", "1", "2", "3"]
    assert [measure.length for measure in measures] == [1, 3, 3, 3]
    assert measures[0].is_pickup
    assert {(measure.beats, measure.beat_type, measure.fifths) for measure in measures} == {(3, 4, 1)}
    assert [measure.repeat_end for measure in measures] == [False, False, True, False]
    if kettle.format != "Humdrum":  # which names sections, not endings
        assert [measure.ending for measure in measures] == ["", "", "1", "2"]


def test_ties_tuplets_and_the_grace_come_in_right(kettle: ReadEdition):
    right = [note for note in kettle.score.notes if note.side == "right" and note.pitch.octave > 3]
    assert [note.tie_start for note in right] == [False] * 4 + [True] + [False] * 6
    assert [note.tie_stop for note in right] == [False] * 5 + [True] + [False] * 5
    assert [note.tuplet for note in right] == [None] * 6 + [Tuplet(3, 2)] * 3 + [None] * 2
    assert [note.is_grace for note in right] == [False, True] + [False] * 9
    assert right[1].grace.slash
    assert (right[2].type, right[2].dots) == ("quarter", 1)


def test_ornaments_and_printed_fingers_come_in_right(kettle: ReadEdition):
    by_place = {(note.pitch.name, note.onset, note.is_grace): note for note in kettle.score.notes}
    assert by_place["B", 1, False].ornaments[0].kind == "trill-mark"
    assert by_place["G", 6, False].ornaments[0].kind == "mordent"
    printed = {(note.pitch.name, note.onset): note.printed for note in kettle.score.notes if note.printed}
    assert (
        printed
        == {
            "MEI": {("C", Fraction(5, 2)): "4-5", ("G", 1): "5", ("D", 1): "1", ("G", 6): "2"},
            "Humdrum": {("D", 0): "2", ("B", 1): "3", ("C", Fraction(5, 2)): "4", ("F♯", 5): "1"},
            "ABC": {("D", 0): "2", ("C", Fraction(5, 2)): "4-5", ("G", 1): "5", ("D", 1): "1"},
        }[kettle.format]
    )


def test_title_and_composer_come_in(kettle: ReadEdition):
    assert (kettle.score.title, kettle.score.composer) == ("Song of the Kettle", "Invented")


def test_what_was_converted_is_valid_by_the_w3c_schema(kettle: ReadEdition, schema: etree.XMLSchema):
    schema.assertValid(etree.fromstring(kettle.music))


def test_ids_are_the_same_each_time(kettle: ReadEdition):
    name, text = SOURCES[kettle.format]
    assert read(name, text.encode()).music == kettle.music


def test_mei_keeps_its_own_ids_and_the_details_of_its_signs():
    notes = read("kettle.mei", MEI.encode()).score.by_id
    assert {"a1", "g1", "a2", "b1", "t3"} <= notes.keys()
    assert notes["a2"].ornaments == (Ornament("trill-mark", (("accidental-mark-above", "sharp"),)),)
    assert notes["a5"].ornaments == (Ornament("delayed-turn"),)
    assert notes["b1"].ornaments == notes["b2"].ornaments == (Ornament("arpeggiate"),)
    assert notes["b3"].staff == 1
    assert b'alternate="yes">3<' in read("kettle.mei", MEI.encode()).music


def test_mei_without_sounding_accidentals_goes_by_measure_and_key():
    text = MEI.replace('xml:id="t2" pname="g"', 'xml:id="t2" pname="f" accid="n"').replace(
        'xml:id="t3" pname="a"', 'xml:id="t3" pname="f"'
    )
    notes = read("kettle.mei", text.encode()).score.by_id
    assert [notes[name].pitch.name for name in ("t1", "t2", "t3")] == ["F♯", "F", "F"]


def test_mei_with_sounding_accidentals_takes_them_as_they_are():
    text = MEI.replace('xml:id="t2" pname="g"', 'xml:id="t2" pname="g" accid.ges="f"')
    notes = read("kettle.mei", text.encode()).score.by_id
    assert notes["t2"].pitch.name == "G♭"
    assert notes["t1"].pitch.name == "F"


def test_mei_of_more_instruments_keeps_the_braced_pair():
    text = MEI.replace(
        '<staffGrp symbol="brace">', '<staffGrp><staffDef n="9" label="Flute" lines="5"/><staffGrp symbol="brace">'
    ).replace("</staffGrp></scoreDef>", "</staffGrp></staffGrp></scoreDef>")
    text = text.replace(
        '<measure n="1">',
        '<measure n="1"><staff n="9"><layer><note pname="c" oct="6" dur="2" dots="1"/></layer></staff>',
    )
    edition = read("kettle.mei", text.encode())
    assert len(edition.score.notes) == len(RIGHT) + len(LEFT)
    assert [message % params for message, params in edition.notices] == [
        "Only the part “Piano” was taken; left out: Flute."
    ]


def test_mei_repeats_a_measure_where_the_sign_says_so():
    text = MEI.replace('<mRest xml:id="r2"/>', "<mRpt/>")
    edition = read("kettle.mei", text.encode())
    assert [note.pitch.name for note in edition.score.in_measures(3, 3, "left")] == ["D"]
    assert [note.pitch.name for note in edition.score.in_measures(3, 3, "right")] == ["B", "G"]


def test_mei_tuplets_written_beside_the_layer_count_too():
    inside = (
        '<note xml:id="t1" pname="f" oct="4" dur="8"/><note xml:id="t2" pname="g" oct="4" dur="8"/>'
        '<note xml:id="t3" pname="a" oct="4" dur="8"/>'
    )
    start, end = MEI.index("<tuplet"), MEI.index("</tuplet>") + len("</tuplet>")
    text = MEI[:start] + inside + MEI[end:]
    text = text.replace("<mordent", '<tupletSpan num="3" numbase="2" startid="#t1" endid="#t3"/><mordent')
    notes = read("kettle.mei", text.encode()).score.by_id
    assert [notes[name].length for name in ("t1", "t2", "t3", "a6")] == [THIRD, THIRD, THIRD, 1]


def test_mei_octave_lines_move_the_notes_to_where_they_sound():
    text = MEI.replace("<mordent", '<octave dis="8" dis.place="above" staff="1" startid="#t1" endid="#t3"/><mordent')
    notes = read("kettle.mei", text.encode()).score.by_id
    assert [notes[name].pitch.octave for name in ("a5", "t1", "t2", "t3", "a6")] == [5, 5, 5, 5, 4]
    known = text.replace('xml:id="t2" pname="g" oct="4"', 'xml:id="t2" pname="g" oct="4" oct.ges="5"')
    assert read("kettle.mei", known.encode()).score.by_id["t2"].pitch.octave == 5


def test_the_corpus_piano_piece_in_humdrum_comes_in_as_it_is_written():
    """A mazurka of two spines: its notes counted in the text itself, and heard by music21."""
    data = corpus_file("chopin/mazurka06-2.krn")
    score = read("mazurka.krn", data).score
    spines = [line.split("\t") for line in data.decode().splitlines() if line and line[0] not in "!*="]
    tokens = [part for fields in spines for field in fields for part in field.split(" ")]
    written = [token for token in tokens if re.match(r"[\[(&{]*\d+\.*[\[(]*[A-Ga-g]", token)]
    assert len(score.notes) == len(written) == 789
    stream = music21.converter.parseData(data.decode(), format="humdrum")
    heard = {(float(element.offset), pitch.midi) for element in stream.flatten().notes for pitch in element.pitches}
    ours = {(float(note.onset), note.pitch.midi) for note in score.notes}
    assert {(round(at, 3), key) for at, key in heard} == {(round(at, 3), key) for at, key in ours}
    assert {note.side for note in score.notes} == {"left", "right"}
    assert score.measures[0].fifths == 4


def test_humdrum_whose_spines_do_not_fit_is_refused_with_its_line():
    with pytest.raises(Exception, match="Line 9 of the Humdrum file"):
        read("kettle.krn", KERN.replace("=1\t=1\t=1", "=1\t=1").encode())
