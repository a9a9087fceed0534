"""Reading as a whole: kinds, limits, what is said to the teacher, ids, progress; and bad input with its cause."""

import pickle

import pytest
from lxml import etree

from scores.reading_files import CannotRead, Limits
from scores.reading_files.reading import read
from tests.music import ATTRIBUTES, LAENDLER, note, rest
from tests.scores.reading_files.samples import (
    PLAIN,
    PLAIN_MEASURE,
    measure,
    one_staff,
    part,
    piano,
    three_quarters,
    whole,
    zipped,
)


def words(edition) -> list[str]:
    return [message % params for message, params in edition.notices]


def test_a_small_piece_comes_in_whole():
    edition = read("laendler.musicxml", LAENDLER.encode())
    assert edition.format == "MusicXML"
    assert (edition.score.title, edition.score.composer) == ("Ländler in E-flat", "Invented")
    assert [measure.number for measure in edition.score.measures] == ["0", "1", "2", "3", "4"]
    assert edition.score.measures[0].is_pickup
    assert [note.printed for note in edition.score.notes if note.printed] == ["2", "5"]
    assert edition.notices == ()


def test_the_name_does_not_decide_the_kind():
    assert read("wrong-name.pdf", PLAIN).format == "MusicXML"
    assert read("wrong-name.abc", zipped({"score.musicxml": PLAIN})).format == "Compressed MusicXML"


@pytest.mark.parametrize(
    ("start", "cause"),
    [
        (b"%PDF-1.7 ...", "is a PDF, a picture of music"),
        (b"\x89PNG\r\n\x1a\n", "is a picture"),
        (b"\xff\xd8\xff\xe0", "is a picture"),
        (b"RIFF\x00\x00\x00\x00WEBP", "is a picture"),
        (b"RIFF\x00\x00\x00\x00WAVEfmt ", "is a sound recording"),
        (b"ID3\x04", "is a sound recording"),
        (b"\x00\x00\x00\x20ftypisom", "is a video"),
        (b"\x1f\x8b\x08", "archive of another kind"),
        (b"{\\rtf1", "is a text document"),
        (b"\x7fELF", "is a computer program"),
        (b"<!DOCTYPE html><html>", "is a web page"),
        (b"<html><body>", "is a web page"),
        (b'\\version "2.24"\n{ c\' }', "source text of an engraving"),
        (b"", "is empty"),
        (b"  \n\n", "is empty"),
        (b"Dear teacher, here is my score.", "not a score of a kind that can be read"),
        (b"\x00\x01\x02\x03\x04\x05\x06\x07\x08", "not a score of a kind that can be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a score: its outermost element is <svg>"),
        (b"<opus><title>All</title></opus>", "a list of scores"),
    ],
)
def test_a_file_that_is_no_score_is_told_what_it_is(start: bytes, cause: str):
    with pytest.raises(CannotRead, match=cause):
        read("score.musicxml", start)


def test_a_file_that_is_too_large_is_refused_unread():
    with pytest.raises(CannotRead, match="has 2 MB; at most 1 MB"):
        read("large.xml", b"<" * (1024**2 + 1), Limits(bytes=1024**2))


def test_ten_thousand_measures_are_refused():
    body = measure(ATTRIBUTES + three_quarters("C5", "D5", "E5")) + "<measure number='2'/>" * 9_999
    with pytest.raises(CannotRead, match="has 10000 measures; at most 5000"):
        read("long.xml", whole(part(body)))


def test_too_many_notes_are_refused():
    with pytest.raises(CannotRead, match="has 6 notes; at most 5"):
        read("dense.xml", PLAIN, Limits(notes=5))


def test_a_score_without_notes_is_refused():
    with pytest.raises(CannotRead, match="has no notes"):
        read("rests.xml", piano(rest(36) + "<backup><duration>36</duration></backup>" + rest(36, staff=2)))
    with pytest.raises(CannotRead, match="no parts with measures"):
        read("nothing.xml", b"<score-partwise><part-list/></score-partwise>")


def unpitched(duration: int = 12) -> str:
    return (
        "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>"
        f"<duration>{duration}</duration><voice>1</voice><type>quarter</type></note>"
    )


def test_percussion_is_refused():
    with pytest.raises(CannotRead, match="percussion only"):
        read("drums.xml", whole(part(measure(one_staff(unpitched() * 3)))))


def test_single_notes_without_pitch_become_rests_and_are_counted():
    edition = read("mixed.xml", whole(part(measure(one_staff(unpitched() + three_quarters("C5", "D5"))))))
    assert [note.onset for note in edition.score.notes] == [1, 2]
    assert "Notes without pitch (percussion) were left out: 1." in words(edition)
    assert b"unpitched" not in edition.music


def test_a_pitch_that_cannot_be_read_is_named_with_its_measure():
    bad = PLAIN.replace(b"<step>D</step>", b"<step>H</step>")
    with pytest.raises(CannotRead, match="measure 1 has no readable pitch"):
        read("h.xml", bad)


def test_measures_that_do_not_add_up_are_named_and_read_all_the_same():
    bodies = [PLAIN_MEASURE, three_quarters("C5", "D5"), PLAIN_MEASURE, three_quarters("C5", "D5", "E5", "F5", "G5")]
    edition = read("uneven.xml", piano(*bodies))
    assert words(edition) == ["These measures are longer or shorter than their time signature says: 2, 4."]
    assert [measure.length for measure in edition.score.measures] == [3, 2, 3, 5]


def test_a_pick_up_and_the_measure_that_completes_it_add_up():
    bodies = [note("C5", "quarter"), PLAIN_MEASURE, three_quarters("C5", "D5")]
    assert read("pickup.xml", piano(*bodies)).notices == ()


def test_many_uneven_measures_are_not_all_listed():
    bodies = [PLAIN_MEASURE, *[three_quarters("C5", "D5", "E5", "F5", "G5")] * 20]
    assert words(read("uneven.xml", piano(*bodies)))[0].endswith(": 2, 3, 4, 5, 6, 7, 8, 9 ….")


def test_notes_kept_from_the_page_are_left_out_and_counted():
    hidden = PLAIN.replace(b"<note>", b'<note print-object="no">', 1)
    edition = read("hidden.xml", hidden)
    assert len(edition.score.notes) == 5
    assert edition.score.notes[1].onset == 1
    assert words(edition) == ["Notes that the file keeps from the page were left out: 1."]


def test_every_note_and_rest_has_an_id_of_its_own():
    edition = read("laendler.musicxml", LAENDLER.encode())
    ids = [element.get("id") for element in etree.fromstring(edition.music).iter("note")]
    assert all(ids)
    assert len(set(ids)) == len(ids)


def with_ids(*ids: str) -> bytes:
    text = PLAIN.decode()
    for name in ids:
        text = text.replace("<note>", f'<note id="{name}">', 1)
    return text.encode()


def test_fit_ids_are_kept_and_unfit_or_repeated_ones_replaced():
    edition = read("ids.xml", with_ids("kept", "kept", "two words", "9th", "P1", 'a"onload="x'.replace('"', "&quot;")))
    names = [element.get("id") for element in etree.fromstring(edition.music).iter("note")]
    assert names[0] == "kept"
    assert names[1:] == ["m1-n2", "m1-n3", "m1-n4", "m1-n5", "m1-n6"]


def test_a_made_id_gives_way_to_one_that_the_file_has():
    edition = read("ids.xml", with_ids("m1-n2", ""))
    names = [element.get("id") for element in etree.fromstring(edition.music).iter("note")]
    assert names[:2] == ["m1-n2", "m1-n2-2"]


def test_ids_of_other_elements_are_made_fit_too():
    text = (
        PLAIN.decode().replace("P1", "my part!").replace('<measure number="1">', '<measure number="1" id="&lt;x&gt;">')
    )
    tree = etree.fromstring(read("ids.xml", text.encode()).music)
    assert tree.find("part").get("id") == tree.find("part-list/score-part").get("id") == "P1"
    assert tree.find("part/measure").get("id") is None


def test_links_and_pictures_are_dropped():
    head = (
        '<credit page="1"><credit-image source="http://example.org/x.png" type="image/png"/></credit>'
        '<credit page="1"><link xlink:href="javascript:alert(1)" xmlns:xlink="http://www.w3.org/1999/xlink"/>'
        "<credit-words>Shown</credit-words></credit>"
    )
    music = read("links.xml", piano(PLAIN_MEASURE, head=head)).music
    assert b"example.org" not in music
    assert b"javascript" not in music
    assert b"xlink" not in music
    assert b"Shown" in music


def test_the_files_own_layout_is_kept():
    laid_out = PLAIN.decode().replace(
        '<measure number="1">', '<measure number="1" width="212.5"><print new-system="yes"/>'
    )
    music = read("layout.xml", laid_out.encode()).music
    assert b'width="212.5"' in music
    assert b'<print new-system="yes"/>' in music


def test_timewise_scores_are_turned_about(schema: etree.XMLSchema):
    tree = etree.fromstring(PLAIN)
    inside = tree.find("part/measure")
    timewise = etree.Element("score-timewise")
    timewise.append(tree.find("part-list"))
    bar = etree.SubElement(timewise, "measure", {"number": "1"})
    etree.SubElement(bar, "part", {"id": "P1"}).extend(list(inside))
    edition = read("timewise.xml", etree.tostring(timewise))
    assert edition.score == read("plain.xml", PLAIN).score
    schema.assertValid(etree.fromstring(edition.music))


def test_progress_is_told_step_by_step():
    told = []
    read("plain.xml", PLAIN, report=lambda step, percent: told.append((step, percent)))
    assert [percent for _, percent in told] == sorted(percent for _, percent in told)
    assert told[0] == ("Looking at the file", 0)
    assert told[-1][1] == 100
    assert all(len(step) <= 60 for step, _ in told)


def test_the_exception_travels_between_processes_with_its_words():
    with pytest.raises(CannotRead) as caught:
        read("large.xml", b"<" * 2048, Limits(bytes=1024))
    again = pickle.loads(pickle.dumps(caught.value))
    assert (again.message, again.params, str(again)) == (
        caught.value.message,
        caught.value.params,
        str(caught.value),
    )


def test_what_was_read_travels_between_processes():
    edition = read("plain.xml", PLAIN)
    assert pickle.loads(pickle.dumps(edition)) == edition
