"""Music above a chart: in proportion, under the right heads, with the values that common practice writes."""

from fractions import Fraction

import pytest
from lxml import etree

from scores import rhythm_pictures, workshop
from scores.music.crossrhythm import Crossing, find, of_ratio, of_span
from scores.music.notation import Score, Tuplet
from scores.reading_files.reading import read
from scores.rhythm_music import music_of_ratio, music_of_span, value_of
from scores.rhythm_pictures import engraved_strip, picture
from tests.music import LAENDLER
from tests.scores.music.make_notes import line, note, score

SVG = "{http://www.w3.org/2000/svg}"


def laendler() -> tuple[Score, Crossing]:
    score = read("laendler.musicxml", LAENDLER.encode()).score
    return score, find(score)[0]


@pytest.mark.parametrize(
    ("upper", "lower", "written"),
    [
        # Common practice: the next longer value, as many as fill the cycle; dots where the hand is the slower one.
        (8, 3, ("eighth", 0, (8, 6))),
        (3, 2, ("quarter", 0, (3, 2))),
        (4, 3, ("quarter", 0, (4, 3))),
        (3, 4, ("half", 0, (3, 2))),
        (5, 4, ("quarter", 0, (5, 4))),
        (13, 8, ("quarter", 0, (13, 8))),
        (16, 15, ("quarter", 0, (16, 15))),
        (2, 3, ("quarter", 1, None)),
        (4, 2, ("eighth", 0, None)),
        (3, 5, ("quarter", 0, (3, 5))),
    ],
)
def test_note_values_of_a_bare_ratio(upper: int, lower: int, written: tuple) -> None:
    cycle = Fraction(lower)
    assert value_of(cycle / upper, cycle) == written


@pytest.mark.parametrize(("upper", "lower"), [(8, 3), (16, 15), (13, 8), (2, 3), (7, 4)])
def test_the_heads_of_a_ratio_stand_in_exact_proportion(upper: int, lower: int) -> None:
    strip = engraved_strip(music_of_ratio(of_ratio(upper, lower, Fraction(lower))), quarter=600 / lower)
    for name, strokes in (("r", upper), ("l", lower)):
        places = [strip.notes[f"{name}{number}"][0] * strip.scale for number in range(strokes)]
        assert places == pytest.approx([places[0] + 600 / strokes * number for number in range(strokes)], rel=0.03)
        middle = [(at - places[0]) / (places[-1] - places[0]) for at in places]
        assert middle == pytest.approx([number / (strokes - 1) for number in range(strokes)], abs=0.002)


def test_the_music_of_a_span_keeps_its_notes_ties_and_groups() -> None:
    music, crossing = laendler()
    root = etree.fromstring(music_of_span(music, crossing))
    found = [note.get("id") for note in root.iter("note") if note.find("rest") is None]
    inside = [note for note in music.notes if crossing.start <= note.onset < crossing.end and not note.is_grace]
    assert sorted(found) == sorted(note.id for note in inside)
    for side, staff in (("right", "1"), ("left", "2")):
        mine = {note.id for note in inside if note.side == side}
        assert {note.get("id") for note in root.iter("note") if note.findtext("staff") == staff} >= mine
    assert len(root.findall(".//tuplet[@type='start']")) == len(root.findall(".//tuplet[@type='stop']"))


def test_every_measure_of_both_hands_can_be_engraved_in_proportion() -> None:
    music, _ = laendler()
    for measure in music.measures:
        crossing = of_span(music.notes, measure.start, measure.end)
        if crossing is None:
            continue
        strip = engraved_strip(music_of_span(music, crossing), quarter=150)
        assert {note for group in crossing.upper_notes for note in group} <= set(strip.notes)
        assert {note for group in crossing.lower_notes for note in group} <= set(strip.notes)


def test_accidentals_are_written_where_the_key_does_not_say_them() -> None:
    right = line("F5 F#5 F5", ["1/3"] * 3, tuplet=Tuplet(3, 2))
    left = (note("l0", "C3", 0, "1/2", side="left"), note("l1", "Bb3", "1/2", "1/2", side="left"))
    made = score(*right, *left)
    crossing = of_span(made.notes, Fraction(0), Fraction(1))
    assert crossing is not None
    strip = engraved_strip(music_of_span(made, crossing), quarter=400)
    # SMuFL: E262 sharp, E261 natural, E260 flat.
    assert [strip.svg.count(f'href="#glyph-{code}"') for code in ("E262", "E261", "E260")] == [1, 1, 1]


@pytest.mark.parametrize("width", [340, 560])
def test_the_grid_stands_under_the_engraved_heads(width: int) -> None:
    music, crossing = laendler()
    root = etree.fromstring(picture(crossing, music, width).svg.encode())
    [window] = [item for item in root.iter(f"{SVG}svg") if item.get("class") == "strip"]
    left, _, across, _ = (float(number) for number in window.get("viewBox").split())
    scale = float(window.get("width")) / across
    heads = {}
    for found in window.iter(f"{SVG}g"):
        if found.get("class") == "note":
            [use] = [item for item in found.iter(f"{SVG}use") if "E0A" in item.get("href")][:1]
            x = float(use.get("transform").split("(")[1].split()[0])
            heads[found.get("data-note")] = float(window.get("x")) + (x - left) * scale
    strokes = [item for item in root.iter() if item.get("class") == "right"]
    assert len(strokes) == len(crossing.upper_notes)
    for stroke, ids in zip(strokes, crossing.upper_notes, strict=True):
        # A head's glyph begins half a head to the left of its middle: about 3.4 of these units at this size.
        assert float(stroke.get("cx")) - heads[ids[0]] == pytest.approx(3.4, abs=1.0)


def test_the_drawing_is_never_wider_than_asked() -> None:
    music, crossing = laendler()
    for width in (200, 300, 340, 560, 900):
        drawing = picture(crossing, music, width)
        root = etree.fromstring(drawing.svg.encode())
        for window in root.iter(f"{SVG}svg"):
            if window.get("class") == "strip":
                assert float(window.get("x")) >= -0.1
                assert float(window.get("x")) + float(window.get("width")) <= width + 0.6
        ends = [float(line.get("data-knots").split()[-1]) for line in root.iter(f"{SVG}g") if line.get("data-knots")]
        assert ends
        assert max(ends) <= width - 10


def test_without_an_engraver_the_chart_stands_alone(monkeypatch) -> None:
    def fail(*_given, **_named):
        raise workshop.WorkshopFailed("away")

    monkeypatch.setattr(rhythm_pictures, "engraved_strip", fail)
    drawing = picture(of_ratio(3, 2, Fraction(2)), None, 340)
    assert 'class="right"' in drawing.svg
    assert "strip" not in drawing.svg
