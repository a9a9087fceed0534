"""The order in which measures are played: against music21's own unfolding, and by hand.

music21 (`expandRepeats`) is the outside witness where a score's signs are complete. Where a repeat has no opening sign
after another repeat, it goes back to the very beginning; where a first ending stands alone, it plays it and goes on.
Both are against common practice, so such scores are checked by hand.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from music21 import bar, converter, note, repeat, spanner, stream
from music21.musicxml.m21ToXml import GeneralObjectExporter

from scores.music.notation import Measure
from scores.music.order import numbers_in, play_order
from scores.music.recurrences import recurrences
from scores.reading_files.reading import read
from tests.scores.corpus_music import corpus_music
from tests.scores.music.test_recurrences import A, B, C, score_of, told


def measures(count: int, signs: dict[int, dict]) -> list[Measure]:
    return [
        Measure(index, str(index + 1), Fraction(4 * index), Fraction(4), 4, 4, **signs.get(index, {}))
        for index in range(count)
    ]


def order(count: int, **signs: dict) -> str:
    """The measures as letters; `signs` by letter."""
    placed = {ord(letter) - ord("a"): one for letter, one in signs.items()}
    return "".join(chr(ord("a") + place) for place in play_order(measures(count, placed)))


END, START = {"repeat_end": True}, {"repeat_start": True}


@pytest.mark.parametrize(
    ("count", "signs", "played"),
    [
        (3, {}, "abc"),
        (3, {"b": END}, "ababc"),
        (4, {"b": END, "d": END}, "ababcdcd"),  # a repeat reaches back to the one before it
        (4, {"b": START, "c": END}, "abcbcd"),
        (3, {"b": {"repeat_end": True, "times": 3}}, "abababc"),
        (3, {"b": {"repeat_end": True, "ending": "1"}, "c": {"ending": "2"}}, "abac"),
        (4, {"b": {"repeat_end": True, "ending": "1"}, "c": {"ending": "2", **END}}, "abacd"),
        (4, {"b": {"repeat_end": True, "ending": "1, 2"}, "c": {"ending": "3"}}, "ababacd"),
        (4, {"b": {"repeat_end": True, "ending": "1"}}, "abacd"),  # the second ending has no bracket
        (4, {"d": {"marks": ("da capo",)}, "b": {"marks": ("fine",)}}, "abcdab"),
        (4, {"b": {"marks": ("segno",)}, "c": {"marks": ("dal segno",)}}, "abcbcd"),
        (5, {"b": {"marks": ("to coda",)}, "d": {"marks": ("da capo",)}, "e": {"marks": ("coda",)}}, "abcdabe"),
        (5, {"b": {"marks": ("coda",)}, "d": {"marks": ("da capo",)}, "e": {"marks": ("coda",)}}, "abcdabe"),
        # After the jump no repeat is taken, and of two endings the second.
        (
            5,
            {
                "b": {"repeat_end": True, "ending": "1"},
                "c": {"ending": "2", "marks": ("fine",)},
                "e": {"marks": ("da capo",)},
            },
            "abacdeac",
        ),
        (4, {"b": {"marks": ("fine",)}, "c": END, "d": {"marks": ("da capo",)}}, "abccdab"),  # not back over the fine
        # A book of dances: after the end of the first the second begins, and its "da capo" leads to its own beginning.
        (
            6,
            {
                "a": {"marks": ("fine",)},
                "c": {"marks": ("da capo",)},
                "d": {"marks": ("fine",)},
                "f": {"marks": ("da capo",)},
            },
            "abcadefd",
        ),
        (2, {"b": {"marks": ("dal segno",)}}, "ab"),  # a way to a sign that is not there
        (0, {}, ""),
    ],
)
def test_signs_send_the_player_where_common_practice_has_it(count: int, signs: dict, played: str):
    assert order(count, **signs) == played


@pytest.mark.parametrize(
    ("ending", "numbers"), [("1", (1,)), ("1, 2", (1, 2)), ("1-3", (1, 2, 3)), ("2.", (2,)), ("", (1,)), ("x", (1,))]
)
def test_an_ending_is_for_the_turns_it_names(ending: str, numbers: tuple[int, ...]):
    assert numbers_in(ending) == numbers


# music21 as the witness


def unfolded(part: stream.Part) -> list[int]:
    for place, measure in enumerate(part.getElementsByClass(stream.Measure)):
        measure.editorial.place = place
    return [measure.editorial.place for measure in part.expandRepeats().getElementsByClass(stream.Measure)]


def part_of(*letters: str) -> stream.Part:
    """A measure of four quarters for each letter, at the height that the letter names."""
    part = stream.Part()
    for number, letter in enumerate(letters, 1):
        measure = stream.Measure(number=number)
        for step in (0, 2, 4, 5):
            measure.append(note.Note(60 + step + ord(letter) % 12, quarterLength=1))
        part.append(measure)
    return part


def repeated(part: stream.Part, first: int, last: int, times: int = 2) -> None:
    part.measure(first).leftBarline = bar.Repeat(direction="start")
    part.measure(last).rightBarline = bar.Repeat(direction="end", times=times)


def endings(part: stream.Part) -> None:
    """Measures 2–4 with two endings, at 4 and 5."""
    part.measure(2).leftBarline = bar.Repeat(direction="start")
    part.measure(4).rightBarline = bar.Repeat(direction="end")
    for number, measure in enumerate((4, 5), 1):
        bracket = spanner.RepeatBracket(part.measure(measure), number=number)
        part.append(bracket)


def da_capo(part: stream.Part) -> None:
    repeated(part, 2, 3)
    part.measure(4).append(repeat.Fine())
    part.measure(6).append(repeat.DaCapoAlFine())


def dal_segno(part: stream.Part) -> None:
    part.measure(2).insert(0, repeat.Segno())
    part.measure(4).append(repeat.Fine())
    part.measure(6).append(repeat.DalSegnoAlFine())


def to_the_coda(part: stream.Part) -> None:
    part.measure(3).append(repeat.Coda())
    part.measure(5).append(repeat.DaCapoAlCoda())
    part.measure(6).insert(0, repeat.Coda())


SIGNED = {
    "two repeats": lambda part: (repeated(part, 1, 2), repeated(part, 4, 6, times=3)),
    "endings": endings,
    "da capo al fine": da_capo,
    "dal segno al fine": dal_segno,
    "da capo al coda": to_the_coda,
}


@pytest.mark.parametrize("signs", SIGNED)
def test_a_file_with_signs_is_played_as_music21_unfolds_it(signs: str):
    part = part_of(*"ABCABD")
    SIGNED[signs](part)
    data = GeneralObjectExporter(stream.Score([part])).parse()
    assert list(play_order(read("signs.musicxml", data).score.measures)) == unfolded(part)


# Corpus pieces whose repeats all have an opening sign or stand at the beginning; the da capo of the Polonaises is words
# that music21 does not follow, so what is compared is the music up to it.
@pytest.mark.parametrize(
    "name", ["schumann_clara/polonaise_op1n3", "schumann_clara/polonaise_op1n4", "mozart/k545/movement1_exposition"]
)
def test_corpus_pieces_are_played_as_music21_unfolds_them(name: str):
    data = corpus_music(name)
    theirs = unfolded(converter.parseData(data).parts[0])
    ours = list(play_order(read("piece.musicxml", data).score.measures))
    assert ours[: len(theirs)] == theirs
    assert len(theirs) > 11


@pytest.mark.parametrize("name", ["schumann_clara/polonaise_op1n3", "schumann_clara/polonaise_op1n4"])
def test_what_returns_in_a_corpus_piece_returns_in_its_music_written_out(name: str):
    """The piece unfolded by music21, read as a file without any repeat: its groups, each measure named by the written
    one it was made of, are the groups of the piece itself, and those of the repeats themselves."""
    data = corpus_music(name)
    folded = read("piece.musicxml", data).score
    opened = converter.parseData(data)
    parts = [unfolded(part) for part in opened.parts]
    assert all(row == parts[0] for row in parts)
    long = stream.Score([part.expandRepeats() for part in opened.parts])
    written_out = read("long.musicxml", GeneralObjectExporter(long).parse()).score
    assert len(written_out.measures) == len(parts[0])
    found = {}
    for group in recurrences(written_out):
        rows = {tuple(parts[0][measure] for measure in place.measures) for place in group.places}
        found[(group.hands, frozenset(rows))] = group
    ours = {(group.hands, frozenset(place.measures for place in group.places)) for group in recurrences(folded)}
    assert ours
    for hands, rows in ours:
        assert any(hands == other and rows <= more for other, more in found), (hands, rows)


def test_a_repeat_written_out_has_the_same_groups_at_its_written_measures():
    folded = score_of(A, B, C, A, B, signs={2: {"repeat_end": True}})
    written_out = score_of(A, B, C, A, B, C, A, B)
    names = play_order(folded.measures)
    renamed = {
        (hands, tuple(sorted({tuple(names[measure] for measure in row) for row, _ in places})))
        for hands, places in told(recurrences(written_out))
    }
    ours = {(hands, tuple(sorted(row for row, _ in places))) for hands, places in told(recurrences(folded))}
    assert ours <= renamed
    assert ours == {("both", ((0, 1), (3, 4)))}
