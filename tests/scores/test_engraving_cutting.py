"""Cutting a stretch out of a score, and one hand out of two."""

from fractions import Fraction

import pytest
from lxml import etree

from scores.engraving import cutting
from scores.engraving.breaking import Widths, systems_of
from tests.music import ATTRIBUTES, BACK, note, score
from tests.scores.corpus_music import PIECES, corpus_music, laendler, with_ids


def four_measures(*extras: str) -> etree._Element:
    """Four measures of one long note in each hand; each extra stands at the head of its measure."""
    both = note("C5", "half.") + BACK + note("C3", "half.", staff=2)
    inside = [extra + both for extra in (*extras, "", "", "", "")[:4]]
    inside[0] = ATTRIBUTES + inside[0]
    return cutting.read(with_ids(score(inside, title="").encode()))


def direction(kind: str, sign: str, number: str = "1") -> str:
    return f'<direction><direction-type><{kind} type="{sign}" number="{number}"/></direction-type></direction>'


def test_what_changed_on_the_way_is_in_force_at_the_cut():
    change = (
        "<attributes><key><fifths>2</fifths></key><time><beats>6</beats><beat-type>8</beat-type></time>"
        '<clef number="2"><sign>C</sign><line>3</line></clef></attributes>'
    )
    root = four_measures("", change, "", "")
    cutting.cut(root, 2, 3)
    (attributes,) = root.iter("attributes")
    assert [child.tag for child in attributes] == ["divisions", "key", "time", "staves", "clef", "clef"]
    assert attributes.findtext("key/fifths") == "2"
    assert attributes.findtext("time/beats") == "6"
    assert [(clef.get("number"), clef.findtext("sign")) for clef in attributes.iter("clef")] == [("1", "G"), ("2", "C")]


@pytest.mark.parametrize(("first", "shown"), [(1, "no"), (2, None)])
def test_what_continues_says_the_metre_only_where_it_changes(first: int, shown: str | None):
    root = four_measures("", "", "<attributes><time><beats>2</beats><beat-type>2</beat-type></time></attributes>", "")
    cutting.cut(root, first, first, continues=True)
    (attributes,) = root.iter("attributes")
    assert attributes.find("time").get("print-object") == shown
    assert attributes.find("key").get("print-object") is None


def test_a_part_that_begins_bare_gets_divisions_staves_and_clefs():
    bare = score([note("C5", "half.") + BACK + note("C3", "half.", staff=2)], title="")
    root = cutting.read(bare.encode())
    cutting.supply_attributes(root)
    (attributes,) = root.iter("attributes")
    assert [child.tag for child in attributes] == ["divisions", "staves", "clef", "clef"]
    assert [(clef.get("number"), clef.findtext("sign")) for clef in attributes.iter("clef")] == [("1", "G"), ("2", "F")]


def test_attributes_that_are_given_stay_as_they_are():
    root = four_measures()
    before = etree.tostring(root)
    cutting.supply_attributes(root)
    assert etree.tostring(root) == before


def test_a_change_at_the_cut_itself_wins():
    root = four_measures("", "<attributes><key><fifths>2</fifths></key></attributes>")
    cutting.cut(root, 1, 1)
    assert [key.findtext("fifths") for key in root.iter("key")] == ["2"]


@pytest.mark.parametrize(
    ("kind", "begin"), [("wedge", "crescendo"), ("octave-shift", "up"), ("dashes", "start"), ("pedal", "start")]
)
def test_a_sign_with_one_end_outside_goes_and_a_whole_one_stays(kind: str, begin: str):
    extras = (direction(kind, begin), direction(kind, "stop"), direction(kind, begin), direction(kind, "stop"))
    whole = four_measures(*extras)
    cutting.cut(whole, 2, 3)
    assert [sign.get("type") for sign in whole.iter(kind)] == [begin, "stop"]
    parted = four_measures(*extras)
    cutting.cut(parted, 1, 2)
    assert not list(parted.iter(kind))
    assert not list(parted.iter("direction"))


def test_two_signs_of_one_kind_are_told_apart_by_their_numbers():
    outer, inner = ("1", "2")
    root = four_measures(
        direction("bracket", "start", outer),
        direction("bracket", "start", inner),
        direction("bracket", "stop", inner),
        direction("bracket", "stop", outer),
    )
    cutting.cut(root, 1, 2)
    assert [(sign.get("type"), sign.get("number")) for sign in root.iter("bracket")] == [("start", "2"), ("stop", "2")]


@pytest.mark.parametrize("hands", ["right", "left"])
def test_the_other_hands_time_stays(hands: str):
    music = laendler()
    whole, one = cutting.read(music), cutting.read(music)
    sides = cutting.hands_of_staves(one)
    cutting.keep_hands(one, hands, sides)
    kept = cutting.moments_of(one)
    of_hand = {name for name, side in cutting.sides_of_notes(whole, sides).items() if side == hands}
    assert kept == {name: moment for name, moment in cutting.moments_of(whole).items() if name in of_hand}
    assert {staff.text for staff in one.iter("staves", "staff")} == {"1"}


def test_moments_are_counted_in_quarters_and_graces_come_first():
    moments = cutting.moments_of(cutting.read(laendler()))
    places = [moments[name] for name in ("n2", "n3", "n4", "n5")]
    half = Fraction(1, 2)
    assert places == [(1, 0, 10_000), (1, half, 1), (1, half, 10_000), (1, 1, 10_000)]


def test_of_three_staves_the_uppermost_is_the_right_hands():
    root = four_measures()
    for place, element in enumerate(root.iter("staff")):
        element.text = str(place % 3 + 1)
    assert list(cutting.hands_of_staves(root).values()) == ["right", "left", "left"]


def test_a_single_bass_staff_is_the_left_hands():
    root = four_measures()
    cutting.keep_hands(root, "left", cutting.hands_of_staves(root))
    assert cutting.hands_of_staves(root) == {(0, "1"): "left"}


def test_every_cut_of_a_real_piece_is_sound_xml_with_as_many_measures():
    music = corpus_music(PIECES[3])
    count = cutting.measure_count(cutting.read(music))
    for first in range(count - 1):
        root = cutting.read(music)
        cutting.cut(root, first, first + 1)
        assert cutting.measure_count(root) == 2
        slurs = [slur.get("type") for slur in root.iter("slur")]
        assert slurs.count("start") == slurs.count("stop")


@pytest.mark.parametrize("room", [150, 260, 1000])
def test_systems_hold_all_measures_and_fit_where_they_can(room: int):
    widths = Widths((140, 80, 90, 300, 60, 70, 80, 90, 100, 50), head=40)
    systems = systems_of(widths, room)
    assert [place for first, stop in systems for place in range(first, stop)] == list(range(10))
    assert all(widths.of(first, stop) <= room or stop == first + 1 for first, stop in systems)


def test_systems_are_filled_evenly():
    # Nine in a row of four would leave one alone.
    assert systems_of(Widths((100,) * 9, head=0), 420) == [(0, 3), (3, 6), (6, 9)]
