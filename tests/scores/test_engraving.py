"""Engraved systems: every note where it belongs, nothing that a strict page would not carry."""

import re
from itertools import pairwise

import pytest
from django.core.cache import cache
from lxml import etree

from scores.engraving import engrave_cached
from scores.engraving.plan import Engraving, FingerLine, System
from scores.engraving.plates import OPTIONS, engrave, engrave_spans, new_toolkit
from tests.music import note as written
from tests.music import score
from tests.scores.corpus_music import PIECES, corpus_music, laendler, pitched, some_fingers, with_ids

SVG = "{http://www.w3.org/2000/svg}"
ELEMENTS = {"svg", "g", "defs", "use", "path", "polygon", "polyline", "rect", "ellipse", "circle", "text"}
HEAD = 314 * 0.72  # SMuFL: width of a black note head, in the user units of a full-sized one


def parse(system: System) -> etree._Element:
    return etree.fromstring(system.svg.encode())


def glyphs(system: System) -> set[str]:
    """The SMuFL codes of the signs in a system."""
    return set(re.findall(r'href="#glyph-(\w+)"', system.svg))


def notes_of(system: System) -> list[str]:
    return [group.get("data-note") for group in parse(system).iter(f"{SVG}g") if group.get("class") == "note"]


def all_notes(engraving: Engraving) -> list[str]:
    return [note for system in engraving.systems for note in notes_of(system)]


def digits(system: System, line: str) -> dict[str, etree._Element]:
    return {
        text.get("data-note"): text
        for text in parse(system).iter(f"{SVG}text")
        if text.get("class") == "digit" and text.get("data-line") == line
    }


@pytest.mark.parametrize("name", PIECES)
def test_the_engraver_keeps_every_note_id(name: str):
    music = corpus_music(name)
    toolkit = new_toolkit()
    toolkit.setOptions(OPTIONS)
    toolkit.loadData(music.decode())
    mei = etree.fromstring(toolkit.getMEI().encode())
    kept = [note.get("{http://www.w3.org/XML/1998/namespace}id") for note in mei.iter("{*}note")]
    assert sorted(kept) == sorted(pitched(music))
    assert sorted(all_notes(engrave(music))) == sorted(pitched(music))


@pytest.mark.parametrize("name", PIECES)
def test_every_measure_cut_alone_has_its_own_notes_each_once(name: str):
    music = corpus_music(name)
    count = len(etree.fromstring(music).find("part").findall("measure"))
    for place in range(count):
        engraving = engrave(music, first=place, last=place)
        assert sorted(all_notes(engraving)) == sorted(pitched(music, place, place))
        assert [(system.first_measure, system.last_measure) for system in engraving.systems] == [(place, place)]


@pytest.mark.parametrize("width", [1100, 360, 140])
def test_systems_follow_one_another_without_a_gap(width: int):
    music = corpus_music(PIECES[2])
    systems = engrave(music, width=width, staff=28).systems
    assert systems[0].first_measure == 0
    assert systems[-1].last_measure == len(etree.fromstring(music).find("part").findall("measure")) - 1
    assert all(a.last_measure + 1 == b.first_measure for a, b in pairwise(systems))
    for system in systems:
        assert system.width <= width + 0.1
        assert sorted(notes_of(system)) == sorted(pitched(music, system.first_measure, system.last_measure))
        # Only a measure that does not fit alone is set smaller.
        assert system.scale == pytest.approx(28 / 720) or system.first_measure == system.last_measure


def test_a_pick_up_counts_as_the_first_measure():
    music = laendler()
    assert sorted(all_notes(engrave(music, first=0, last=0))) == pitched(music, 0, 0) == ["n0"]
    groups = [group for group in parse(engrave(music).systems[0]).iter(f"{SVG}g") if group.get("class") == "measure"]
    assert [group.get("data-measure") for group in groups] == ["0", "1", "2", "3", "4"]


def test_measures_with_odd_numbers_are_cut_by_position():
    root = etree.fromstring(laendler())
    for measure, number in zip(root.iter("measure"), ("X1", "7", "7", "12a", ""), strict=True):
        measure.set("number", number)
    music = etree.tostring(root)
    assert sorted(all_notes(engrave(music, first=2, last=3))) == sorted(pitched(music, 2, 3))


@pytest.mark.parametrize("places", [(3, 2), (-1, 2), (0, 5)])
def test_measures_that_are_not_there_are_refused(places: tuple[int, int]):
    with pytest.raises(IndexError):
        engrave(laendler(), first=places[0], last=places[1])


@pytest.mark.parametrize(("hands", "staff"), [("right", "1"), ("left", "2")])
@pytest.mark.parametrize("name", PIECES[:4])
def test_one_hand_has_the_notes_of_its_staff(name: str, hands: str, staff: str):
    music = corpus_music(name)
    assert sorted(all_notes(engrave(music, first=4, last=9, hands=hands))) == sorted(pitched(music, 4, 9, staff))


def test_an_excerpt_begins_with_the_clef_key_and_metre_in_force():
    codes = glyphs(engrave(laendler(), first=3, last=4).systems[0])
    # SMuFL: G clef, F clef, flat, figures 3 and 4 of the metre.
    assert {"E050", "E062", "E260", "E083", "E084"} <= codes


def test_a_continuation_says_clef_and_key_and_not_the_metre():
    whole, more = (engrave(corpus_music(PIECES[0]), first=8, last=11, continues=goes_on) for goes_on in (False, True))
    digits = {f"E08{figure}" for figure in "0123456789"}  # of time signatures, in SMuFL
    assert glyphs(whole.systems[0]) & digits
    assert glyphs(more.systems[0]) == glyphs(whole.systems[0]) - digits


def test_a_part_without_any_attributes_is_engraved():
    music = with_ids(score([written("C4", "quarter") + written("E4", "quarter")], title="").encode())
    (system,) = engrave(music).systems
    assert len(system.notes) == 2
    assert "E050" in glyphs(system)


@pytest.mark.parametrize("name", PIECES)
@pytest.mark.parametrize("spans", [[(0, 2)], [(0, 3), (4, 4), (5, 9)], [(2, 4), (5, 7)]])
def test_spans_that_are_read_together_are_drawn_as_each_alone(name: str, spans: list[tuple[int, int]]):
    music = corpus_music(name)
    alone = [engrave(music, first=one, last=last, width=700, staff=32, continues=one > 0) for one, last in spans]
    assert engrave_spans(music, spans=spans, width=700, staff=32) == alone


def test_a_note_held_over_the_cut_is_tied_to_what_went_before():
    system = parse(engrave(laendler(), first=4, last=4).systems[0])
    assert [path.get("class") for path in system.iter(f"{SVG}path") if path.get("class")] == ["tie-from-before"]
    assert "tie-from-before" not in engrave(laendler(), first=3, last=4).systems[0].svg


@pytest.mark.parametrize("name", PIECES)
def test_only_harmless_svg_leaves_the_room(name: str):
    music = corpus_music(name)
    fingers = some_fingers(pitched(music, 2, 5))
    for system in engrave(music, first=2, last=5, lines=[FingerLine("I", fingers, key="7")], on_notes=fingers).systems:
        for element in parse(system).iter():
            assert etree.QName(element).localname in ELEMENTS
            assert not {name for name in element.attrib if name == "style" or name.startswith(("on", "{"))}
            assert "url(" not in "".join(element.attrib.values())
        ids = {element.get("id") for element in parse(system).iter() if element.get("id")}
        links = {element.get("href") for element in parse(system).iter() if element.get("href")}
        assert links == {f"#{name}" for name in ids}
        assert all(name.startswith("glyph-") for name in ids)


def test_words_that_look_like_markup_stay_words():
    words = "<direction placement='above'><direction-type><words>&lt;script&gt;alert(1)&lt;/script&gt;</words>"
    music = with_ids(
        laendler()
        .decode("utf-8")
        .split("?>")[1]
        .replace("<note ", words + "</direction-type></direction><note ", 1)
        .replace("Ländler in E-flat", "&lt;script&gt;alert(2)&lt;/script&gt;")
        .encode()
    )
    system = engrave(music).systems[0]
    assert "<script" not in system.svg
    assert "<script>alert(1)</script>" in [text.text for text in parse(system).iter(f"{SVG}text")]
    assert 'aria-label="a &lt;b&gt; &quot;c&quot;"' in system.labelled('a <b> "c"')


def test_equal_requests_give_equal_drawings():
    assert engrave(laendler()) == engrave(laendler())


# Lines of fingering


@pytest.mark.parametrize("name", PIECES)
def test_each_digit_stands_on_the_middle_of_its_head(name: str):
    music = corpus_music(name)
    right = pitched(music, 4, 7, "1")
    engraving = engrave(music, first=4, last=7, width=500, lines=[FingerLine("I", some_fingers(right), key="a")])
    seen = []
    for system in engraving.systems:
        root = parse(system)
        left_edges = {
            group.get("data-note"): (float(place[1]), float(place[2]))
            for group in root.iter(f"{SVG}g")
            if group.get("class") == "note"
            for place in [re.match(r"translate\((-?\d+) -?\d+\) scale\(([\d.]+)\)", group[0].get("transform"))]
        }
        columns: dict[str, list[float]] = {}
        for note, text in digits(system, "a").items():
            seen.append(note)
            edge, scale = left_edges[note]
            middle = edge + HEAD * scale / 0.72 / 2
            columns.setdefault(text.get("x"), []).append(abs(float(text.get("x")) - middle))
        # In a chord with a second some heads stand aside: there the digits keep to the others' column.
        for distances in columns.values():
            assert min(distances) < 60
            assert max(distances) < HEAD * 1.5
    assert sorted(seen) == sorted(right)


def test_single_notes_have_their_digit_exactly_above():
    music = corpus_music("mozart/k545/movement1_exposition")
    right = pitched(music, 4, 7, "1")
    for system in engrave(music, first=4, last=7, lines=[FingerLine("I", some_fingers(right), key="a")]).systems:
        for note, text in digits(system, "a").items():
            assert float(text.get("x")) == pytest.approx(system.notes[note][0], abs=1)
            assert float(text.get("y")) < system.notes[note][1]


def test_a_chord_has_its_digits_stacked_as_its_heads():
    music = laendler()
    chord = pitched(music, 1, 1, "2")[1:3]
    line = FingerLine("I", {chord[0]: "4", chord[1]: "2"}, side="left", key="a")
    found = digits(engrave(music, lines=[line]).systems[0], "a")
    assert found[chord[0]].get("x") == found[chord[1]].get("x")
    assert float(found[chord[0]].get("y")) > float(found[chord[1]].get("y"))


def test_a_grace_has_a_smaller_digit():
    music = laendler()
    notes = pitched(music, 1, 1, "1")[:3]
    found = digits(engrave(music, lines=[FingerLine("I", dict.fromkeys(notes, "2"), key="a")]).systems[0], "a")
    sizes = [float(found[note].get("font-size")) for note in notes]
    assert sizes[1] < sizes[0] == sizes[2]


def test_an_option_beside_the_chosen_fingers_is_smaller_than_they_are():
    music = laendler()
    fingers = dict.fromkeys(pitched(music, 2, 2, "1"), "2")
    option = FingerLine("II", fingers, key="b", small=True)
    system = engrave(music, first=2, last=2, lines=[option], on_notes=fingers).systems[0]
    beside = {float(digit.get("font-size")) for digit in digits(system, "b").values()}
    on_notes = {
        float(text.get("font-size")) for text in parse(system).iter(f"{SVG}text") if text.get("class") == "finger"
    }
    assert max(beside) < max(on_notes)


def test_lines_touch_neither_music_nor_one_another():
    music = corpus_music(PIECES[2])
    right, left = pitched(music, 4, 7, "1"), pitched(music, 4, 7, "2")
    lines = [
        FingerLine("I", some_fingers(right), key="1"),
        FingerLine("II", some_fingers(right), chosen=True, key="2"),
        FingerLine("+", some_fingers(left), side="left", mark="program", key="3"),
    ]
    plain = engrave(music, first=4, last=7, width=2000).systems[0]
    system = engrave(music, first=4, last=7, width=2000, lines=lines).systems[0]
    rects = {
        group.get("data-line"): (float(group[0].get("y")), float(group[0].get("y")) + float(group[0].get("height")))
        for group in parse(system).iter(f"{SVG}g")
        if (group.get("class") or "").startswith("finger-line ")
    }
    top, height = (float(parse(plain).get("viewBox").split()[place]) for place in (1, 3))
    assert rects["1"][1] <= rects["2"][0] + 1
    assert rects["2"][1] < top + 90
    assert rects["3"][0] > top + height - 90


def test_lines_say_whose_they_are_and_which_is_chosen():
    music = laendler()
    fingers = some_fingers(pitched(music, 1, 2, "1"))
    lines = [
        FingerLine("I", fingers, key="1", chosen=True),
        FingerLine("+", fingers, mark="program", key="2"),
    ]
    groups = {
        group.get("data-line"): group
        for group in parse(engrave(music, lines=lines).systems[0]).iter(f"{SVG}g")
        if (group.get("class") or "").startswith("finger-line ")
    }
    assert groups["1"].get("class") == "finger-line teacher chosen"
    assert groups["2"].get("class") == "finger-line program"
    assert [len(groups[key].findall(f"{SVG}polygon")) for key in "12"] == [1, 0]
    rules = {key: next(path for path in groups[key].iter(f"{SVG}path")) for key in "12"}
    assert not rules["1"].get("stroke-dasharray")
    assert rules["2"].get("stroke-dasharray")


def test_a_line_spans_only_the_part_it_covers_and_parts_share_a_row():
    music = laendler()
    first, second = pitched(music, 1, 1, "1"), pitched(music, 3, 3, "1")
    lines = [FingerLine("I", some_fingers(first), key="1"), FingerLine("II", some_fingers(second), key="2")]
    system = engrave(music, width=1200, lines=lines).systems[0]
    one, two = digits(system, "1"), digits(system, "2")
    assert set(one) == set(first)
    assert set(two) == set(second)
    assert one[first[0]].get("y") == two[second[0]].get("y")


def test_notes_without_a_finger_have_an_empty_place_to_click():
    music = laendler()
    notes = pitched(music, 1, 1, "1")
    line = FingerLine("I", {notes[0]: "3"}, key="1", notes=tuple(notes))
    root = parse(engrave(music, lines=[line]).systems[0])
    places = [rect.get("data-note") for rect in root.iter(f"{SVG}rect") if rect.get("class") == "place"]
    assert sorted(places) == sorted(notes)
    assert set(digits(engrave(music, lines=[line]).systems[0], "1")) == {notes[0]}


# Fingers on the notes


def on_notes(engraving: Engraving) -> dict[str, str]:
    return {
        text.get("data-note"): text.text
        for system in engraving.systems
        for text in parse(system).iter(f"{SVG}text")
        if text.get("class") == "finger"
    }


def printed(engraving: Engraving) -> dict[str, str]:
    return {
        group.get("data-note"): "".join(group.itertext())
        for system in engraving.systems
        for group in parse(system).iter(f"{SVG}g")
        if group.get("class") == "fing"
    }


def test_printed_fingers_are_engraved_hidden_or_replaced():
    music = laendler()
    shown = engrave(music)
    assert sorted(printed(shown).values()) == ["2", "5"]
    assert printed(engrave(music, show_printed=False)) == {}
    notes = pitched(music, 1, 2)
    chosen = some_fingers(notes)
    replaced = engrave(music, on_notes=chosen)
    assert printed(replaced) == {}
    assert on_notes(replaced) == chosen


def test_fingers_on_notes_stand_above_the_right_and_below_the_left_hand():
    music = corpus_music(PIECES[0])
    fingers = some_fingers(pitched(music, 4, 6))
    system = engrave(music, first=4, last=6, on_notes=fingers).systems[0]
    right = set(pitched(music, 4, 6, "1"))
    for text in parse(system).iter(f"{SVG}text"):
        if text.get("class") == "finger":
            y = system.notes[text.get("data-note")][1]
            assert float(text.get("y")) < y if text.get("data-note") in right else float(text.get("y")) > y


# The cache


def test_a_drawing_asked_for_twice_is_made_once(monkeypatch: pytest.MonkeyPatch):
    cache.clear()
    line = FingerLine("I", {"n1": "3"}, key="1")
    asked = {"first": 1, "last": 2, "width": 500, "lines": [line]}
    first = engrave_cached(laendler(), **asked)
    monkeypatch.setattr("scores.engraving.engrave", lambda *_, **__: pytest.fail("engraved again"))
    assert engrave_cached(laendler(), **asked) == first
    monkeypatch.setattr("scores.engraving.engrave", lambda *_, **__: "another")
    changed = FingerLine("I", {"n1": "4"}, key="1")
    assert engrave_cached(laendler(), **(asked | {"lines": [changed]})) == "another"
    assert engrave_cached(laendler(), **(asked | {"width": 501})) == "another"
