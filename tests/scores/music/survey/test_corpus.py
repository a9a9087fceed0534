"""Counts by kind on corpus pieces, against a count on the raw XML by other means than the reader's or the survey's."""

from __future__ import annotations

import io
import zipfile
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

import pytest
from lxml import etree

from scores.music.survey import KINDS, Finding, Options, survey
from scores.reading_files import ReadEdition
from scores.reading_files.reading import read
from tests.music import LAENDLER
from tests.scores.reading_files.samples import corpus_file

PIECES = (
    "schumann_clara/polonaise_op1n1.mxl",
    "schumann_clara/polonaise_op1n2.mxl",
    "schumann_clara/polonaise_op1n3.mxl",
    "schumann_clara/polonaise_op1n4.mxl",
    "schoenberg/opus19/movement6.mxl",
    "schoenberg/opus19/movement2.mxl",
    "mozart/k545/movement1_exposition.mxl",
    "joplin/maple_leaf_rag.mxl",
    "cpebach/h186.mxl",
)
OWN = {"grace", "ornament", "arpeggio", "wide-roll", "tremolo", "printed", "substitution"}
TYPES = {"whole": 4, "half": 2, "quarter": 1, "eighth": Fraction(1, 2), "16th": Fraction(1, 4), "32nd": Fraction(1, 8)}


@dataclass
class Raw:
    """What stands in the file, counted element by element with a cursor of its own."""

    graces: int = 0
    signs: Counter = field(default_factory=Counter)
    rolled: set = field(default_factory=set)
    tremolos: int = 0
    fingered: int = 0
    tuplets: int = 0
    tempos: list = field(default_factory=list)
    keys: list = field(default_factory=list)
    metres: list = field(default_factory=list)
    lengths: list = field(default_factory=list)


def count(tree: etree._Element) -> Raw:
    raw, divisions, start, asked = Raw(), 1, Fraction(0), Fraction(4)
    for number, measure in enumerate(tree.iterfind("part/measure")):
        at = onset = end = Fraction(0)
        group: dict[str, bool] = {}
        for element in measure:
            length = Fraction(element.findtext("duration", "0")) / divisions
            if element.tag == "attributes":
                divisions = int(element.findtext("divisions", str(divisions)))
                raw.keys += [(number, text) for text in element.xpath("key/fifths/text()")[:1]]
                raw.metres += [
                    (number, "/".join(time.xpath("beats/text()|beat-type/text()")))
                    for time in element.findall("time")[:1]
                ]
                length = Fraction(0)
            elif element.tag == "backup":
                at -= length
            elif element.tag == "forward":
                at += length
            elif element.tag == "direction":
                raw.tempos += [(start + at, Fraction(tempo)) for tempo in element.xpath("sound/@tempo")]
            elif element.tag == "note":
                in_chord, is_grace = element.find("chord") is not None, element.find("grace") is not None
                onset = onset if in_chord else at
                at += Fraction(0) if in_chord else length
                if element.find("pitch") is not None:
                    note(raw, element, (number, element.findtext("staff", "1"), onset, is_grace), group)
            end = max(end, at)
        if raw.metres:
            beats, unit = (int(part) for part in raw.metres[-1][1].split("/"))
            asked = Fraction(4 * beats, unit)
        raw.lengths.append((measure.get("number"), end, asked))
        start += end
    return raw


def note(raw: Raw, element: etree._Element, place: tuple, group: dict[str, bool]) -> None:
    lane = element.findtext("staff", "1") + element.findtext("voice", "1")
    is_grace, in_chord = place[3], element.find("chord") is not None
    raw.graces += is_grace and not group.get(lane)
    group[lane] = is_grace or (in_chord and group.get(lane, False))
    kinds = set(element.xpath("notations/ornaments/*[not(self::accidental-mark)]"))
    tremolos = [sign for sign in kinds if sign.tag == "tremolo"]
    raw.tremolos += any(sign.get("type", "single") != "stop" for sign in tremolos) and not in_chord
    names = {sign.tag for sign in kinds if sign.tag not in ("tremolo", "wavy-line")}
    begins = [sign for sign in kinds if sign.tag == "wavy-line" and sign.get("type", "start") == "start"]
    raw.signs.update(names | ({"wavy-line"} if begins and "trill-mark" not in names else set()))
    if element.xpath("notations/arpeggiate"):
        raw.rolled.add(place)
    raw.fingered += bool(element.xpath("notations/technical/fingering[not(@alternate='yes')]"))
    ratio = element.xpath("time-modification/actual-notes/text() | time-modification/normal-notes/text()")
    raw.tuplets += bool(ratio) and not tremolos and not is_grace and ratio not in (["3", "2"], ["6", "4"])


@pytest.fixture(scope="module", params=PIECES)
def piece(request: pytest.FixtureRequest) -> tuple[Raw, ReadEdition]:
    data = corpus_file(request.param)
    return count(tree_of(data)), read(request.param, data)


def tree_of(data: bytes) -> etree._Element:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        name = next(name for name in archive.namelist() if name.endswith("xml") and "META-INF" not in name)
        return etree.fromstring(archive.read(name), etree.XMLParser(load_dtd=False, resolve_entities=False))


def found(edition: ReadEdition, *wanted: str, without: str = "") -> list[Finding]:
    kinds = frozenset(kind for kind in KINDS if kind != without)
    return [one for one in survey(edition.score, Options(kinds=kinds)) if one.kind in wanted]


def test_everything_printed_on_the_notes_is_listed_as_often_as_it_stands_there(piece):
    raw, edition = piece
    assert len(found(edition, "grace")) == raw.graces
    assert Counter(one.detail for one in found(edition, "ornament")) == raw.signs
    assert len(found(edition, "arpeggio", "wide-roll")) == len(raw.rolled)
    assert len(found(edition, "tremolo")) == raw.tremolos
    fingered = [name for one in found(edition, "printed", "substitution") for name in one.notes]
    assert len(fingered) == len(set(fingered)) == raw.fingered


def test_every_note_of_an_unusual_tuplet_is_in_one_finding(piece):
    raw, edition = piece
    notes = [name for one in found(edition, "tuplet", without="cross-rhythm") for name in one.notes]
    assert len(notes) == len(set(notes)) == raw.tuplets


def changes(told: list, before: object = None) -> int:
    """How often the value changes after the beginning."""
    values = [value for _, value in told]
    first = 1 if told and told[0][0] == 0 else 0
    return sum(one != other for one, other in zip([before, *values][first:], values[first:], strict=False))


def test_tempo_key_and_metre_change_as_often_as_in_the_file(piece):
    raw, edition = piece
    marked = [one for one in found(edition, "tempo") if "tempo" in one.params]
    tempos = dict(sorted(raw.tempos, key=lambda mark: mark[0]))  # of several at one moment the last
    assert len(marked) == changes(sorted(tempos.items()))
    assert len(found(edition, "key")) == changes(raw.keys)
    assert len(found(edition, "metre")) == changes(raw.metres)


def test_a_measure_that_does_not_add_up_in_the_file_is_told_unless_its_neighbour_completes_it(piece):
    raw, edition = piece
    told = {one.measure for one in found(edition, "uneven") if one.hand == "both"}
    uneven = {place for place, (_, length, asked) in enumerate(raw.lengths) if length != asked}
    assert told <= uneven
    for place in uneven - told:
        _, length, asked = raw.lengths[place]
        others = [raw.lengths[near][1] for near in (place - 1, place + 1, 0) if 0 <= near < len(raw.lengths)]
        assert place == 0 or any(length + other == asked for other in others)


def test_the_pieces_together_have_something_of_everything():
    together: Counter = Counter()
    for name in PIECES:
        data = corpus_file(name)
        together.update(one.kind for one in survey(read(name, data).score))
    assert not (OWN - {"substitution"}) - set(together)
    assert {"tuplet", "held", "leap", "stretch", "reach", "crossed-hands", "thumb", "fast", "repeat", "key"} <= set(
        together
    )


# Cross-rhythms


def crossing_files() -> list[tuple[str, bytes]]:
    webern = "webern/webern_dormi_jesu_op_16_no_2.mxl"  # two voices in canon, read as two hands
    return [("laendler.musicxml", LAENDLER.encode()), (webern, corpus_file(webern))]


@pytest.mark.parametrize(("name", "data"), crossing_files(), ids=["laendler", "webern"])
def test_a_cross_rhythms_ratio_is_that_of_the_tuplets_own_numbers(name: str, data: bytes):
    """The shortest written value of each hand, times normal over actual as the file has them: how many go into the
    same time; but for factors of two, which longer notes and rests take away."""
    edition = read(name, data)
    elements = {element.get("id"): element for element in etree.fromstring(edition.music).iter("note")}
    crossings = found(edition, "cross-rhythm")
    assert crossings
    for one in crossings:
        units = {}
        for side in ("right", "left"):
            own = [elements[name] for name in one.notes if edition.score.by_id[name].side == side]
            units[side] = min(written(element) for element in own)
        right, left = (int(part) for part in one.detail.split(":"))
        assert any(elements[name].find("time-modification") is not None for name in one.notes)
        assert odd_part(units["left"] / units["right"]) == odd_part(Fraction(right, left)), (one.number, units)


def test_the_four_against_three_of_the_laendler_is_exactly_that():
    [one] = found(read("laendler.musicxml", LAENDLER.encode()), "cross-rhythm")
    assert (one.detail, one.number, len(one.notes)) == ("4:3", "2", 7)


def odd_part(ratio: Fraction) -> Fraction:
    while ratio.numerator % 2 == 0:
        ratio /= 2
    while ratio.denominator % 2 == 0:
        ratio *= 2
    return ratio


def written(element: etree._Element) -> Fraction:
    value = Fraction(TYPES[element.findtext("type")])
    if element.find("dot") is not None:
        value *= Fraction(3, 2)
    actual, normal = (element.findtext(f"time-modification/{name}-notes", "1") for name in ("actual", "normal"))
    return value * Fraction(int(normal), int(actual))
