"""Piano pieces of the music21 corpus, counted on the raw XML by other means than the reader's."""

import tempfile
from dataclasses import replace
from pathlib import Path

import music21
import pytest
import verovio
from lxml import etree

from scores.music.notation import Note, Ornament
from scores.reading_files import ReadEdition
from scores.reading_files.reading import read
from scores.reading_files.walking import score_of
from tests.scores.reading_files.samples import corpus_file, raw_tree

# Between them: graces, ornaments, arpeggios, tuplets (nested ones too), printed fingerings, crossed staves.
PIECES = (
    "schumann_clara/polonaise_op1n1.mxl",
    "schumann_clara/polonaise_op1n2.mxl",
    "schumann_clara/polonaise_op1n3.mxl",
    "schumann_clara/polonaise_op1n4.mxl",
    "schoenberg/opus19/movement6.mxl",
    "mozart/k545/movement1_exposition.mxl",
    "joplin/maple_leaf_rag.mxl",
)
PITCHED = "//note[pitch][not(cue)][not(@print-object='no')]"


@pytest.fixture(scope="module", params=PIECES)
def piece(request: pytest.FixtureRequest):
    data = corpus_file(request.param)
    return raw_tree(data), read(request.param, data)


def test_measures_notes_graces_tuplets_and_fingerings_are_as_many_as_in_the_file(piece):
    raw, edition = piece
    notes = edition.score.notes

    def count(path: str) -> int:
        return int(raw.xpath(f"count({path})"))

    assert len(edition.score.measures) == count("//part/measure")
    assert len(notes) == count(PITCHED)
    assert sum(note.is_grace for note in notes) == count(f"{PITCHED}[grace]")
    assert sum(note.tuplet is not None for note in notes) == count(f"{PITCHED}[time-modification]")
    assert sum(bool(note.printed) for note in notes) == count(f"{PITCHED}[.//fingering]")
    assert sum(note.tie_start for note in notes) == count(f"{PITCHED}[tie/@type='start']")
    assert sum(note.side == "right" for note in notes) == count(f"{PITCHED}[staff='1' or not(staff)]")
    signs = "notations/ornaments/*[not(self::accidental-mark)]", "notations/arpeggiate", "notations/non-arpeggiate"
    assert sum(len(note.ornaments) for note in notes) == sum(count(f"{PITCHED}/{path}") for path in signs)
    assert sum(measure.repeat_end for measure in edition.score.measures) == count(
        "//measure[barline/repeat/@direction='backward']"
    )


def test_the_pieces_together_have_something_of_everything():
    counted = [raw_tree(corpus_file(name)) for name in PIECES]
    for tag in ("grace", "turn", "trill-mark", "arpeggiate", "fingering", "time-modification", "tie"):
        assert any(tree.find(f".//{tag}") is not None for tree in counted), tag


def test_onsets_and_pitches_are_those_that_music21_hears(piece):
    raw, edition = piece
    stream = music21.converter.parseData(etree.tostring(raw).decode(), format="musicxml")
    heard = set()
    for element in stream.flatten().notes:
        for one in element.notes if element.isChord else [element]:
            if not element.duration.isGrace:
                heard.add((float(element.offset), one.pitch.midi))
    ours = {(float(note.onset), note.pitch.midi) for note in edition.score.notes if not note.is_grace}
    same = {(round(at, 3), key) for at, key in ours} & {(round(at, 3), key) for at, key in heard}
    assert len(same) == len(ours) == len(heard)


def test_every_id_survives_verovio(piece):
    _, edition = piece
    toolkit = verovio.toolkit()
    assert toolkit.loadData(edition.music.decode())
    names = {element.get("{http://www.w3.org/XML/1998/namespace}id") for element in mei_notes(toolkit.getMEI())}
    assert {note.id for note in edition.score.notes} <= names


def test_the_same_piece_as_mei_from_verovio_reads_the_same(piece):
    """Another program's MEI of the piece: each note keeps its id, time, hand, tie, tuplet, fingering and sign."""
    _, edition = piece
    toolkit = verovio.toolkit()
    assert toolkit.loadData(edition.music.decode())
    again = read("piece.mei", toolkit.getMEI().encode())
    assert again.format == "MEI"
    assert {note.id: plain(note) for note in again.score.notes} == {
        note.id: plain(note) for note in edition.score.notes
    }
    for ours, theirs in zip(edition.score.measures, again.score.measures, strict=True):
        assert ours == theirs


def plain(note: Note) -> Note:
    """Without what verovio's MEI has no words for: details of graces and signs, and lines after a trill."""
    kinds = tuple(Ornament(sign.kind) for sign in note.ornaments if sign.kind != "wavy-line")
    return replace(note, ornaments=kinds, grace=None, voice="", staff=0)


def test_a_piece_from_midi_has_every_attack_in_its_hand():
    """music21 writes the MIDI file of a piece with triplets and sixteenths; both hands come back, note for note."""
    edition = read("polonaise", corpus_file(PIECES[0]))
    tree = etree.fromstring(edition.music)
    for repeat in list(tree.iter("repeat")):  # which music21 would play
        repeat.getparent().remove(repeat)
    stream = music21.converter.parseData(etree.tostring(tree).decode(), format="musicxml")
    with tempfile.NamedTemporaryFile(suffix=".mid") as file:
        stream.write("midi", fp=file.name)
        again = read("polonaise.mid", Path(file.name).read_bytes())

    def attacks(edition: ReadEdition) -> set[tuple]:
        return {(note.side, note.pitch.midi, note.onset) for note in edition.score.notes if note.is_attack}

    assert attacks(again) == attacks(edition)


def mei_notes(mei: str) -> list[etree._Element]:
    return list(etree.fromstring(mei.encode()).iter("{http://www.music-encoding.org/ns/mei}note"))


def test_reading_twice_gives_the_same_ids_and_reading_the_result_changes_nothing(piece):
    raw, edition = piece
    assert read("again.xml", etree.tostring(raw)).music == edition.music
    again = read("canonical.musicxml", edition.music)
    assert again.music == edition.music
    assert again.score == edition.score == score_of(edition.music)


def test_a_piece_is_valid_by_the_w3c_schema_after_reading(piece, schema):
    """Only what the file itself has wrong may be wrong: these files were written for MusicXML 2.0 and 3.0."""
    raw, edition = piece
    for element in raw.iter("note"):
        element.attrib.pop("id", None)
    before = schema_errors(schema, etree.fromstring(etree.tostring(raw)))
    after = schema_errors(schema, etree.fromstring(edition.music))
    assert after <= before


def schema_errors(schema: etree.XMLSchema, tree: etree._Element) -> int:
    schema.validate(tree)
    return len(schema.error_log)
