"""Ossias as they are drawn: note for note the performance, aligned with the music, and in nobody's way."""

import re
from dataclasses import replace

import pytest
from lxml import etree

from scores.engraving import Engraving, FingerLine, Ossia, engrave, engrave_cached, key_of
from scores.engraving.cutting import read as read_tree
from scores.engraving.ossia_parts import add_parts, rows_of
from scores.music.notation import Placement, Score, Side
from scores.music.ornaments import Performance, realise
from scores.music.ornaments.written import strips_of
from scores.reading_files.reading import read
from tests import music
from tests.scores.corpus_music import PIECES, corpus_music, laendler

SVG = "{http://www.w3.org/2000/svg}"
PLACEMENTS: tuple[Placement, Placement] = ("before", "on")
LABELS = {"before": "before the beat", "on": "on the beat"}
MOVED = re.compile(r"translate\(0 (-?[\d.e+]+)\)")
PLACED = re.compile(r"translate\((-?[\d.]+) (-?[\d.]+)\)")
HALF_SPACE = 90 * 0.68  # user units, of a staff of 68 percent


def ossias_in(
    score: Score, first: int = 0, last: int | None = None
) -> tuple[list[Ossia], dict[Placement, Performance]]:
    """A line for every ornament in both placements."""
    last = len(score.measures) - 1 if last is None else last
    performances = {placement: realise(score, placement=placement) for placement in PLACEMENTS}
    found = [
        Ossia(strip, placement, LABELS[placement], chosen=placement == "on")
        for placement, performance in performances.items()
        for strip in strips_of(score, performance, [one.key for one in performance.ornaments], first, last)
    ]
    return found, performances


def drawn(engraving: Engraving) -> list[etree._Element]:
    return [
        group
        for system in engraving.systems
        for group in etree.fromstring(system.svg.encode()).iter(f"{SVG}g")
        if (group.get("class") or "").split()[:1] == ["ossia"]
    ]


def heads(ossia: etree._Element) -> list[tuple[int, float, float]]:
    """(order, x, y) of the ornament's own heads, from left to right; a tie's later heads too."""
    found = []
    for note in ossia.iter(f"{SVG}g"):
        if note.get("class") == "note" and note.get("data-order"):
            place = PLACED.match(note.find(f".//{SVG}use").get("transform"))
            found.append((int(note.get("data-order")), float(place[1]), float(place[2])))
    return sorted(found, key=lambda one: one[1])


def staff_of(ossia: etree._Element) -> list[float]:
    """Where the staff lines lie, from the top."""
    path = ossia.find(f"{SVG}path[@class='ossia-staff']").get("d")
    return sorted({float(y) for y in re.findall(r"M-?[\d.]+ (-?[\d.]+) L", path)})


def test_the_heads_lie_where_the_performance_has_its_pitches():
    found = read("piece.musicxml", laendler())
    ossias, performances = ossias_in(found.score)
    groups = drawn(engrave(found.music, ossias=ossias))
    assert len(groups) == 4
    for group in groups:
        realised = performances[group.get("data-ossia")].by_key[group.get("data-ornament")]
        bottom = staff_of(group)[-1]
        own = heads(group)
        assert [order for order, _, _ in own] == list(range(len(realised.notes)))
        for order, _, y in own:
            pitch = realised.notes[order].pitch
            # The lowest line of the treble staff is E4; a step is half a space.
            steps = "CDEFGAB".index(pitch.step) + 7 * pitch.octave - ("CDEFGAB".index("E") + 7 * 4)
            assert y == pytest.approx(bottom - steps * HALF_SPACE, abs=6)


@pytest.mark.parametrize("name", PIECES[:5])
def test_every_note_of_every_ornament_of_corpus_pieces_is_drawn(name: str):
    found = read("piece.musicxml", corpus_music(name))
    last = min(15, len(found.score.measures) - 1)
    ossias, performances = ossias_in(found.score, 0, last)
    groups = drawn(engrave(found.music, first=0, last=last, ossias=ossias, width=700))
    there: dict[tuple[str, str], set[int]] = {}
    for group in groups:
        for note in group.iter(f"{SVG}g"):
            if note.get("data-order"):
                there.setdefault((note.get("data-ossia"), note.get("data-ornament")), set()).add(
                    int(note.get("data-order"))
                )
    shown_until = found.score.measures[last].end
    for placement, performance in performances.items():
        for realised in performance.ornaments:
            wanted = {place for place, one in enumerate(realised.notes) if one.onset < shown_until}
            if realised.measure <= last and len(wanted) == len(realised.notes):
                assert there[placement, realised.key] == wanted, (name, placement, realised.key)


def test_what_sounds_together_stands_together():
    found = read("piece.musicxml", laendler())
    score = found.score
    ossias, performances = ossias_in(score)
    engraving = engrave(found.music, ossias=ossias, width=2000)
    [system] = engraving.systems
    by_onset = {note.onset: system.notes[note.id][0] for note in score.notes if not note.is_grace}
    compared = 0
    for group in drawn(engraving):
        realised = performances[group.get("data-ossia")].by_key[group.get("data-ornament")]
        for order, x, _ in heads(group):
            beside = by_onset.get(realised.notes[order].onset)
            if beside is not None:
                compared += 1
                # `notes` has the middle of a full head; a head's left edges are aligned.
                assert x + 113 == pytest.approx(beside, abs=40)
    assert compared == 4


def test_ossias_and_lines_of_fingers_keep_off_each_other():
    found = read("piece.musicxml", laendler())
    ossias, _ = ossias_in(found.score)
    right = [note.id for note in found.score.notes if note.side == "right" and note.is_attack]
    line = FingerLine("I", dict.fromkeys(right, "3"), "right", key="1")
    for system in engrave(found.music, ossias=ossias, lines=[line], on_notes=dict.fromkeys(right, "2")).systems:
        root = etree.fromstring(system.svg.encode())
        digits = [float(text.get("y")) for text in root.iter(f"{SVG}text") if text.get("class") in ("digit", "finger")]
        for group in (one for one in root.iter(f"{SVG}g") if "ossia" in (one.get("class") or "").split()):
            hit = group.find(f"{SVG}rect[@class='hit']")
            shift = float(MOVED.match(group.get("transform"))[1])
            assert float(hit.get("y")) + float(hit.get("height")) + shift < min(digits)
        top = float(root.get("viewBox").split()[1])
        for group in (one for one in root.iter(f"{SVG}g") if "ossia" in (one.get("class") or "").split()):
            shift = float(MOVED.match(group.get("transform"))[1])
            assert float(group.find(f"{SVG}rect[@class='hit']").get("y")) + shift >= top


def test_two_placements_stand_one_above_the_other():
    found = read("piece.musicxml", laendler())
    ossias, _ = ossias_in(found.score)
    boxes: dict[str, list[tuple[float, float]]] = {"before": [], "on": []}
    for group in drawn(engrave(found.music, ossias=ossias, width=2000)):
        hit = group.find(f"{SVG}rect[@class='hit']")
        top = float(hit.get("y")) + float(MOVED.match(group.get("transform"))[1])
        boxes[group.get("data-ossia")].append((top, top + float(hit.get("height"))))
    assert max(bottom for _, bottom in boxes["before"]) <= min(top for top, _ in boxes["on"])


def test_the_music_itself_is_drawn_as_without_ossias():
    found = read("piece.musicxml", laendler())
    ossias, _ = ossias_in(found.score)
    plain, adorned = (engrave(found.music, width=2000, ossias=given).systems[0].svg for given in ((), ossias))

    def parts(svg: str) -> dict[str, int]:
        ink = etree.fromstring(svg.encode()).find(f"{SVG}g[@class='ink']")
        tags = [etree.QName(element).localname for element in ink.iter()]
        return {tag: tags.count(tag) for tag in set(tags)}

    assert parts(plain) == parts(adorned)


def test_the_left_hands_ossia_stands_below_in_its_own_clef():
    left = music.score(
        [
            music.ATTRIBUTES
            + music.note("Eb5", "half.")
            + music.BACK
            + music.note("Bb2", "quarter", staff=2)
            + music.note("C3", "quarter", staff=2, extra=music.TURN)
            + music.note("Bb2", "quarter", staff=2)
        ],
        title="Left",
    )
    found = read("piece.musicxml", left.encode())
    ossias, performances = ossias_in(found.score)
    [system] = engrave(found.music, ossias=ossias).systems
    for group in drawn(Engraving((system,))):
        shift = float(MOVED.match(group.get("transform"))[1])
        lowest = max(y for _, y in system.notes.values())
        assert staff_of(group)[0] + shift > lowest
        realised = performances[group.get("data-ossia")].by_key[group.get("data-ornament")]
        for order, _, y in heads(group):
            pitch = realised.notes[order].pitch
            # The highest line of the bass staff is A3.
            steps = "CDEFGAB".index(pitch.step) + 7 * pitch.octave - (5 + 7 * 3)
            assert y == pytest.approx(staff_of(group)[0] - steps * HALF_SPACE, abs=6)


def test_accidentals_stand_in_the_ossia_where_its_own_staff_needs_them():
    # Two flats more than the key: the measure's D flat stands in the main staff only, so the ossia writes it again.
    flat = music.score(
        [
            music.ATTRIBUTES
            + music.note("Db5", "quarter")
            + music.note("C5", "quarter", extra="<ornaments><inverted-mordent/></ornaments>")
            + music.note("Bb4", "quarter")
            + music.BACK
            + music.note("Eb3", "half.", staff=2)
        ],
        title="Flat",
    )
    found = read("piece.musicxml", flat.encode())
    ossias, _ = ossias_in(found.score)
    for group in drawn(engrave(found.music, ossias=ossias)):
        signs = [use.get("href") for use in group.iter(f"{SVG}use")].count("#glyph-E260")  # SMuFL: accidentalFlat
        # The strip before the beat shows the D flat that it takes its time from as well; a measure says it once.
        assert signs == 1


def test_a_strip_that_begins_before_the_first_measure_has_its_notes_as_small_ones():
    found = read("piece.musicxml", laendler())
    turn = next(note for note in found.score.notes if note.ornaments)
    ossias, performances = ossias_in(found.score, turn.measure, turn.measure)
    before = [one for one in ossias if one.placement == "before"]
    [group] = drawn(engrave(found.music, first=turn.measure, last=turn.measure, ossias=before))
    assert [order for order, _, _ in heads(group)] == [0, 1, 2, 3]
    assert len(performances["before"].by_key[turn.id].notes) == 4


def test_a_strip_over_a_system_break_is_drawn_on_both():
    found = read("piece.musicxml", laendler())
    turn = next(note for note in found.score.notes if note.ornaments)
    ossias, _ = ossias_in(found.score)
    own = [one for one in ossias if one.placement == "before" and one.strip.ornaments == (turn.id,)]
    orders = [
        [order for order, _, _ in heads(group)]
        for group in drawn(engrave(found.music, ossias=own, width=330, staff=38))
    ]
    assert orders in ([[0, 1, 2], [3]], [[0, 1, 2, 3]])
    assert len(orders) == 2


def test_the_chosen_one_is_marked_by_shape_and_weight():
    found = read("piece.musicxml", laendler())
    ossias, _ = ossias_in(found.score)
    for group in drawn(engrave(found.music, ossias=ossias)):
        is_chosen = group.get("data-ossia") == "on"
        label = group.find(f"{SVG}text[@class='ossia-label']")
        assert (group.find(f"{SVG}polygon[@class='marker']") is not None) == is_chosen
        assert (label.get("font-weight") == "bold") == is_chosen
        assert label.text == LABELS[group.get("data-ossia")]


def test_the_cache_tells_ossias_apart():
    found = read("piece.musicxml", laendler())
    ossias, _ = ossias_in(found.score)
    other = [replace(ossias[0], chosen=not ossias[0].chosen), *ossias[1:]]
    keys = {key_of(found.music, {"ossias": given}) for given in ((), tuple(ossias), tuple(other))}
    assert len(keys) == 3
    assert engrave_cached(found.music, ossias=ossias) == engrave_cached(found.music, ossias=ossias)


@pytest.mark.parametrize("side", ["right", "left"])
def test_parts_for_ossias_stay_out_of_the_hands_of_the_music(side: Side):
    found = read("piece.musicxml", laendler())
    ossias, _ = ossias_in(found.score)
    root = read_tree(found.music)
    rows = rows_of(ossias, 2)
    assert [(row.side, row.placement, row.number) for row in rows] == [("right", "on", 3), ("right", "before", 4)]
    add_parts(root, rows, 0)
    assert [part.get("id") for part in root.findall("part")][1:] == ["ossia-3", "ossia-4"]
    [only] = engrave(found.music, ossias=ossias, hands=side, width=2000).systems
    assert only.width > 0
