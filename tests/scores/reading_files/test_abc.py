"""ABC, against its standard (version 2.1); the sections are named beside the checks, from memory."""

from fractions import Fraction

import music21
import pytest

from scores.music.notation import Tuplet
from scores.reading_files import CannotRead
from scores.reading_files.reading import read, read_abc
from tests.scores.reading_files.samples import corpus_file

# The example tune at the head of the standard: "Paddy O'Rafferty", traditional.
PADDY = """X:1
T:Paddy O'Rafferty
C:Trad.
M:6/8
K:D
dff cee|def gfe|dff cee|dfe dBA|dff cee|def gfe|faf gfe|1 dfe dBA:|2 dfe dcB|]
~A3 B3|gfe fdB|AFA B2c|dfe dcB|~A3 ~B3|efe efg|faf gfe|1 dfe dcB:|2 dfe dBA|]
fAA eAA|def gfe|fAA eAA|dfe dBA|fAA eAA|def gfe|faf gfe|dfe dBA:|
"""


def names(text: str) -> list[str]:
    return [f"{note.pitch.name}{note.pitch.octave}" for note in read_abc(text).score.notes]


def lengths(text: str) -> list[Fraction]:
    return [note.length for note in read_abc(text).score.notes]


def test_the_standards_own_tune_comes_in_right():
    score = read("paddy.abc", PADDY.encode()).score
    assert (score.title, score.composer) == ("Paddy O'Rafferty", "Trad.")
    assert len(score.measures) == 26
    assert {(measure.beats, measure.beat_type, measure.length, measure.fifths) for measure in score.measures} == {
        (6, 8, 3, 2)
    }
    assert [measure.index for measure in score.measures if measure.repeat_end] == [7, 16, 25]
    assert [(measure.index, measure.ending) for measure in score.measures if measure.ending] == [
        (7, "1"),
        (8, "2"),
        (16, "1"),
        (17, "2"),
    ]
    assert [note.pitch.name for note in score.notes[:6]] == ["D", "F♯", "F♯", "C♯", "E", "E"]
    # Every letter of the music is a note; the rolls stand on A, A and B.
    assert len(score.notes) == sum(letter in "abcdefgABCDEFG" for line in PADDY.split("\n")[5:] for letter in line)
    assert [note.pitch.name for note in score.notes if note.ornaments] == ["A", "A", "B"]


def test_a_tune_of_the_corpus_sounds_as_music21_reads_it():
    data = corpus_file("ryansMammoth/7thRegimentReel.abc")
    ours = [(note.onset, note.pitch.midi) for note in read("reel.abc", data).score.notes]
    stream = music21.converter.parseData(data.decode(), format="abc")
    theirs = [(element.offset, element.pitch.midi) for element in stream.flatten().notes if element.isNote]
    assert len(ours) > 100
    assert ours == theirs


def test_octaves_accidentals_and_key():
    assert names("K:C\nC,CcC'c'c,") == ["C3", "C4", "C5", "C5", "C6", "C4"]  # section 4.1
    assert names("K:Eb\nBEA=A^^c__d") == ["B♭4", "E♭4", "A♭4", "A4", "C𝄪5", "D𝄫5"]  # section 4.2
    assert names("K:F#m\nfcg") == ["F♯5", "C♯5", "G♯5"]
    assert names("K:Dmix\nfc") == ["F♯5", "C5"]  # section 3.1.14
    assert names("K:D =c\nfc") == ["F♯5", "C5"]


def test_an_accidental_lasts_to_the_bar_line_in_its_own_octave():
    assert names("K:C\n^FFf|F") == ["F♯4", "F♯4", "F5", "F4"]
    assert names("K:C\n^F2-|F F") == ["F♯4", "F♯4", "F4"]
    assert names("%%propagate-accidentals pitch\nK:C\n^FFf|F") == ["F♯4", "F♯4", "F♯5", "F4"]
    assert names("%%propagate-accidentals not\nK:C\n^FF") == ["F♯4", "F4"]


def test_note_lengths():
    assert lengths("L:1/8\nK:C\nC C2 C/ C// C3/2 C/4 C3") == [
        Fraction(*pair) for pair in ((1, 2), (1, 1), (1, 4), (1, 8), (3, 4), (1, 8), (3, 2))
    ]  # section 4.3
    assert lengths("M:2/4\nK:C\nC") == [Fraction(1, 4)]  # section 3.1.7: below 3/4 a sixteenth
    assert lengths("M:3/4\nK:C\nC") == [Fraction(1, 2)]


def test_broken_rhythm():
    assert lengths("L:1/4\nK:C\nC>C C<C C>>C") == [
        Fraction(*pair) for pair in ((3, 2), (1, 2), (1, 2), (3, 2), (7, 4), (1, 4))
    ]  # section 4.4


@pytest.mark.parametrize(
    ("written", "tuplet"),
    [("(2CC", (2, 3)), ("(3CCC", (3, 2)), ("(4CCCC", (4, 3)), ("(5CCCCC", (5, 2)), ("(6CCCCCC", (6, 2))],
)
def test_tuplets_take_the_time_that_the_standard_gives_them(written: str, tuplet: tuple[int, int]):
    notes = read_abc(f"M:4/4\nK:C\n{written} E").score.notes
    assert {note.tuplet for note in notes[:-1]} == {Tuplet(*tuplet)}  # section 4.13
    assert notes[-1].tuplet is None
    assert sum(note.length for note in notes[:-1]) == Fraction(tuplet[1], 2)


def test_five_in_compound_metre_is_five_in_the_time_of_three():
    assert read_abc("M:6/8\nK:C\n(5CCCCC").score.notes[0].tuplet == Tuplet(5, 3)


def test_a_tuplet_with_all_three_numbers():
    notes = read_abc("M:4/4\nL:1/8\nK:C\n(3:2:4C2CCC E").score.notes
    assert [note.tuplet for note in notes] == [Tuplet(3, 2)] * 4 + [None]


def test_chords_with_fingers_on_each_note():
    edition = read_abc("K:C\nL:1/4\n[!1!C!3!E!5!G]2 !2!c [CE]/")
    notes = edition.score.notes
    assert [note.printed for note in notes] == ["1", "3", "5", "2", "", ""]
    assert [note.length for note in notes] == [2, 2, 2, 1, Fraction(1, 2), Fraction(1, 2)]


def test_a_substitution_is_typed_as_it_is_printed():
    edition = read_abc("K:C\n!4-5!c2")
    assert edition.score.notes[0].printed == "4-5"
    assert b'<fingering>4</fingering><fingering substitution="yes">5</fingering>' in edition.music


def test_graces_with_and_without_a_stroke():
    notes = read_abc("K:C\n{/d}c {ef}d").score.notes
    assert [(note.pitch.name, note.is_grace) for note in notes] == [
        ("D", True),
        ("C", False),
        ("E", True),
        ("F", True),
        ("D", False),
    ]
    assert [note.grace.slash for note in notes if note.grace] == [True, False, False]
    assert [note.grace.order for note in notes if note.grace] == [0, 0, 1]


@pytest.mark.parametrize(
    ("sign", "kind"),
    [
        ("T", "trill-mark"),
        ("!trill!", "trill-mark"),
        ("M", "mordent"),
        ("!lowermordent!", "mordent"),
        ("P", "inverted-mordent"),
        ("!uppermordent!", "inverted-mordent"),
        ("!turn!", "turn"),
        ("!invertedturn!", "inverted-turn"),
        ("!arpeggio!", "arpeggiate"),
    ],
)
def test_decorations(sign: str, kind: str):
    # Section 4.14: M is the lower mordent, which has the stroke; MusicXML calls that one "mordent".
    assert [ornament.kind for ornament in read_abc(f"K:C\n{sign}c").score.notes[0].ornaments] == [kind]


def test_two_voices_are_two_hands_and_empty_lines_do_not_end_a_passage():
    edition = read_abc("M:4/4\nL:1/4\nK:C\nV:1\nc d e f|\n\nV:2\nC,4|\n")
    assert [(note.side, note.pitch.octave) for note in edition.score.notes] == [
        ("left", 3),
        ("right", 5),
        ("right", 5),
        ("right", 5),
        ("right", 5),
    ]
    assert edition.score.measures[0].length == 4
    assert len(edition.score.measures) == 1


def test_voices_that_share_a_staff():
    edition = read_abc("%%score {(1 2) | 3}\nM:2/4\nL:1/4\nK:C\nV:1\nc d|\nV:2\nE2|\nV:3\nC,2|")
    assert [(note.side, note.pitch.name) for note in edition.score.notes] == [
        ("left", "C"),
        ("right", "E"),
        ("right", "C"),
        ("right", "D"),
    ]


def test_an_overlay_is_a_second_voice_of_the_measure():
    edition = read_abc("M:2/4\nL:1/4\nK:C\nc d & E2|f2|")
    assert [(note.onset, note.length) for note in edition.score.notes] == [(0, 2), (0, 1), (1, 1), (2, 2)]


def test_voices_on_three_staves_are_refused_with_what_to_do():
    with pytest.raises(CannotRead, match=r"%%score \{\(1 2\) \| 3\}"):
        read_abc("K:C\nV:1\nc|\nV:2\ne|\nV:3\ng|")


def test_a_passage_without_any_header_is_in_c_and_without_metre():
    edition = read_abc("CDEF GABc|")
    assert len(edition.score.notes) == 8
    assert edition.score.measures[0].length == 4
    assert [message % params for message, params in edition.notices] == [
        "The file has one staff; it was taken as the right hand."
    ]


def test_a_metronome_mark():
    assert [tempo.quarters for tempo in read_abc("Q:3/8=60\nK:C\nc").score.tempos] == [90]  # section 3.1.8
    assert [tempo.quarters for tempo in read_abc('Q:"Allegro" 1/4=132\nK:C\nc').score.tempos] == [132]
    assert [tempo.quarters for tempo in read_abc("Q:1/4 3/8=40\nK:C\nc").score.tempos] == [100]  # lengths add up


def test_voices_that_are_never_closed_do_not_hold_the_reader_up():
    assert len(read_abc(f"K:C\nc {'[V:1' * 1500}\nd").score.notes) >= 1


def test_digits_without_end_are_no_metronome_mark_and_do_not_hold_the_reader_up():
    assert not read_abc(f"Q:1/{'1111/' * 200}1x\nK:C\nc").score.tempos


def test_key_and_metre_may_change_within_the_line():
    score = read_abc("M:2/4\nL:1/4\nK:C\nf f|[K:D][M:3/4]f f f|").score
    assert [note.pitch.name for note in score.notes] == ["F", "F", "F♯", "F♯", "F♯"]
    assert [(measure.beats, measure.fifths) for measure in score.measures] == [(2, 0), (3, 2)]


def test_text_that_is_no_abc_is_refused():
    with pytest.raises(CannotRead):
        read_abc("   \n ")
    with pytest.raises(CannotRead, match="no notes"):
        read_abc("K:C\nzzz|")
    with pytest.raises(CannotRead, match="no notes"):
        read_abc("K:C\n% nothing\n")


def test_signs_that_are_not_understood_are_named():
    edition = read_abc("K:C\nc ° d")
    assert "°" in str(edition.notices)
    assert len(edition.score.notes) == 2
