"""Ornaments note for note against the treatises, and the sums of time against the written lengths."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.notation import Grace, Note, Ornament, Placement, Score, Tempo
from scores.music.ornaments import BadChoice, Choice, Realised, realise
from scores.music.ornaments.attributes import chosen, grace_attributes, percent, trill_sound
from scores.music.ornaments.before import share
from scores.music.ornaments.styles import default_style, period_of
from scores.music.tempo import BadTempo
from tests.scores.music.make_notes import line, note, score, signed
from tests.scores.music.sums import check_sums

PLACEMENTS: tuple[Placement, Placement] = ("on", "before")


def names(realised: Realised) -> str:
    return " ".join(one.pitch.name.lower().replace("♭", "b").replace("♯", "#") for one in realised.notes)


def lengths(realised: Realised) -> list[Fraction]:
    return [one.length for one in realised.notes]


def alone(kind: str, length: object = 1, choice: Choice | None = None, *, name: str = "C5", **options: str) -> Realised:
    """One sign on one note at the start of an empty measure, on the beat at 100."""
    made = realise(score(signed("a", name, 0, length, kind, **options)), {"a": choice or Choice()}, tempo=100)
    return made.ornaments[0]


# J. S. Bach, Explication (1720), facsimile: pitches only, three of the written values do not add up.
@pytest.mark.parametrize(
    ("kind", "choice", "pitches"),
    [
        ("trill-mark", Choice(count=6), "d c d c d c"),
        ("mordent", Choice(), "c b c"),
        ("trill-mark", Choice(count=8, turn=True), "d c d c d c b c"),
        ("turn", Choice(), "d c b c"),
        ("trill-mark", Choice(count=8, start="lower"), "b c d c d c d c"),
        ("trill-mark", Choice(count=8, start="turn"), "d c b c d c d c"),
    ],
)
def test_the_signs_of_bachs_explication(kind: str, choice: Choice, pitches: str) -> None:
    assert names(alone(kind, 2, choice)) == pitches


@pytest.mark.parametrize(("small", "pitches"), [("B4", "b c"), ("D5", "d c")])
def test_the_accents_of_bachs_explication(small: str, pitches: str) -> None:
    made = realise(score(note("g", small, 0, 0, grace=Grace(0)), note("a", "C5", 0, 1)), tempo=100)
    assert " ".join(one.pitch.name.lower() for one in made.notes) == pitches


# Grove's Dictionary of Music and Musicians, 1879-89.
def test_groves_shake_from_either_note_is_eight_sixteenths_on_a_half() -> None:
    for start, pitches in (("main", "c d c d c d c d"), ("upper", "d c d c d c d c")):
        shake = alone("trill-mark", 2, Choice(count=8, start=start))  # type: ignore[arg-type]
        assert names(shake) == pitches
        assert lengths(shake) == [Fraction(1, 4)] * 8


def test_groves_shake_in_fast_tempo_is_a_triplet_of_thirty_seconds() -> None:
    shake = alone("trill-mark", "1/4", Choice(count=3, start="main"))
    assert names(shake) == "c d c"
    assert lengths(shake) == [Fraction(1, 12)] * 3


@pytest.mark.parametrize(("kind", "pitches"), [("mordent", "c b c"), ("inverted-mordent", "c d c")])
def test_groves_mordents_on_a_quarter(kind: str, pitches: str) -> None:
    # MusicXML's mordent has the vertical line and goes down; SMuFL names the two the other way round.
    made = alone(kind)
    assert names(made) == pitches
    assert lengths(made) == [Fraction(1, 8), Fraction(1, 8), Fraction(3, 4)]


def test_groves_turn_on_a_quarter_is_four_sixteenths() -> None:
    made = alone("turn")
    assert names(made) == "d c b c"
    assert lengths(made) == [Fraction(1, 4)] * 4
    assert names(alone("inverted-turn")) == "b c d c"


def test_groves_turn_after_the_note_is_four_equal_notes() -> None:
    made = alone("delayed-turn")
    assert names(made) == "c d c b c"
    assert len(set(lengths(made)[1:])) == 1
    assert sum(lengths(made)) == 1


def test_groves_turn_after_a_dotted_note_ends_at_the_dot() -> None:
    notes = (signed("a", "C5", 0, "3/2", "delayed-turn", {"dots": 1}), note("b", "D5", "3/2", "1/2"))
    made = realise(score(*notes), tempo=100).ornaments[0]
    assert names(made) == "c d c b c"
    assert made.notes[-1].onset == 1


# Gehrkens, Music Notation and Terminology, sections 74 and 75.
@pytest.mark.parametrize(
    ("main", "length"),
    [
        ((note("a", "C5", 0, 1),), "1/2"),
        ((note("a", "C5", 0, "3/2", dots=1),), 1),
        ((note("a", "C5", 0, 2, tie_start=True), note("b", "C5", 2, 1, tie_stop=True)), 2),
    ],
)
def test_gehrkens_appoggiatura(main: Sequence[Note], length: object) -> None:
    made = realise(score(note("g", "D5", 0, 0, grace=Grace(0)), *main), tempo=100)
    assert made.ornaments[0].notes[0].length == Fraction(str(length))


def test_gehrkens_acciaccatura_is_quick_at_every_tempo() -> None:
    notes = (note("g", "D5", 0, 0, grace=Grace(0, slash=True)), note("a", "C5", 0, 2))
    for tempo in (20, 60, 120, 208):
        assert 50 <= realise(score(*notes), tempo=tempo).ornaments[0].ms <= 150


# MusicXML 4.0, musicxml.xsd.
def test_steal_time_previous_is_a_share_of_the_note_before() -> None:
    notes = (note("p", "G4", 0, 2), note("g", "D5", 2, 0, grace=Grace(0, False, Fraction(25))), note("a", "C5", 2, 1))
    made = realise(score(*notes), tempo=100).ornaments[0]
    assert made.placement == "before"
    assert dict(made.taken) == {"p": Fraction(1, 2)}


def test_steal_time_following_is_a_share_of_the_note_itself() -> None:
    notes = (note("g", "D5", 0, 0, grace=Grace(0, False, None, Fraction("33.3333"))), note("a", "C5", 0, 1))
    made = realise(score(*notes), placement="before", tempo=100).ornaments[0]
    assert made.placement == "on"
    assert made.notes[0].length == Fraction(1, 3)


def test_make_time_is_the_graces_own_length() -> None:
    notes = (
        note("g", "D5", 0, 0, grace=Grace(0, True, make_time=Fraction(1, 4))),
        note("h", "E5", 0, 0, grace=Grace(1, True, make_time=Fraction(1, 8))),
        note("a", "C5", 0, 1),
    )
    made = realise(score(*notes), tempo=100).ornaments[0]
    assert lengths(made) == [Fraction(1, 4), Fraction(1, 8), Fraction(5, 8)]


def test_the_trill_sound_of_a_file_is_followed() -> None:
    made = alone("trill-mark", 1, None, start_note="main", beats="5", two_note_turn="half", trill_step="half")
    assert names(made) == "c db c b c"
    below = alone("trill-mark", 1, None, start_note="below", beats="4")
    assert names(below) == "b c d c"


def test_second_and_last_beat_are_percentages_of_the_way() -> None:
    made = alone("trill-mark", 1, None, beats="4", second_beat="12.5", last_beat="50")
    assert [one.onset for one in made.notes] == [0, Fraction(1, 8), Fraction(5, 16), Fraction(1, 2)]


def test_an_impossible_trill_sound_is_passed_over() -> None:
    made = alone("trill-mark", 1, None, beats="many", second_beat="x", last_beat="1/0", start_note="sideways")
    assert names(made).startswith("d c")


def test_choices_leave_as_trill_sound_and_come_back() -> None:
    choice = Choice(count=8, start="lower", turn=True)
    assert trill_sound("trill-mark", choice) == {"start-note": "below", "beats": "8", "two-note-turn": "whole"}
    assert chosen(trill_sound("trill-mark", choice)) == choice
    assert trill_sound("arpeggiate", choice) == {}
    assert chosen({"beats": "0"}) == Choice()


@pytest.mark.parametrize("placement", PLACEMENTS)
def test_a_grace_leaves_with_its_share_and_sounds_the_same_when_read_again(placement: Placement) -> None:
    graces = [note(f"g{place}", "D5", 2, 0, grace=Grace(place, True)) for place in range(3)]
    around = (note("p", "G4", 0, 2), note("a", "C5", 2, 1))
    one = realise(score(*around, *graces), placement=placement, tempo=100)
    written = grace_attributes(score(*around, *graces), one.ornaments[0])
    name = {"before": "steal-time-previous", "on": "steal-time-following"}[placement]
    again = [
        note(
            item.id,
            "D5",
            2,
            0,
            grace=Grace(
                place,
                written[item.id]["slash"] == "yes",
                *(
                    Fraction(written[item.id][key]) if key in written[item.id] else None
                    for key in ("steal-time-previous", "steal-time-following")
                ),
            ),
        )
        for place, item in enumerate(graces)
    ]
    assert all(name in attributes for attributes in written.values())
    other = realise(score(*around, *again), placement="on" if placement == "before" else "before", tempo=100)
    assert other.notes == one.notes


def test_a_percentage_is_short() -> None:
    shares = [
        Fraction(1, 4),
        Fraction(1, 3),
        Fraction(1, 8),
        Fraction(1, 16),
        Fraction(1, 10),
        Fraction(1),
        Fraction(1, 28),
    ]
    assert [percent(one) for one in shares] == ["25", "33", "13", "6", "10", "100", "3.571429"]


@pytest.mark.parametrize("whole", range(1, 101))
def test_a_whole_percentage_is_read_as_what_it_is_rounded_from(whole: int) -> None:
    assert abs(share(Fraction(whole)) * 100 - whole) <= Fraction(1, 2)
    assert share(Fraction(whole)).denominator <= 100


# Neighbours: common practice.
@pytest.mark.parametrize(
    ("name", "fifths", "pitches"),
    [
        ("E5", 0, "f e d e"),
        ("E5", 1, "f# e d e"),
        ("A4", -3, "bb a g a"),
        ("F#5", 3, "g# f# e f#"),
        ("Bb4", -6, "cb bb ab bb"),
    ],
)
def test_neighbours_follow_the_key(name: str, fifths: int, pitches: str) -> None:
    made = realise(score(signed("a", name, 0, 1, "turn"), fifths=fifths), tempo=100)
    assert names(made.ornaments[0]) == pitches


def test_neighbours_follow_the_accidentals_of_the_measure_and_not_beyond() -> None:
    notes = (
        note("a", "Db5", 0, 1),
        signed("b", "C5", 1, 1, "inverted-mordent"),
        note("c", "D4", 2, 1),
        signed("d", "C5", 4, 1, "inverted-mordent"),
    )
    made = realise(score(*notes), tempo=100)
    assert [names(one) for one in made.ornaments] == ["c db c", "c d c"]


def test_an_accidental_at_the_sign_changes_its_neighbour() -> None:
    assert names(alone("turn", accidental_mark_below="sharp", accidental_mark_above="flat")) == "db c b# c"
    assert names(alone("mordent", accidental_mark="flat")) == "c bb c"
    assert names(alone("trill-mark", 1, Choice(count=4), accidental_mark="flat")) == "db c db c"
    assert names(alone("turn", accidental_mark="flat")) == "db c b c"


# Placement.
@pytest.mark.parametrize("kind", ["turn", "inverted-turn", "mordent", "inverted-mordent", "schleifer"])
def test_before_the_beat_the_main_note_stands_on_it(kind: str) -> None:
    notes = (note("p", "G4", 0, 1), signed("a", "C5", 1, 1, kind))
    made = realise(score(*notes), placement="before", tempo=100).ornaments[0]
    assert (made.notes[-1].onset, made.notes[-1].length, made.notes[-1].role) == (1, 1, "main")
    assert dict(made.taken) == {"p": sum(lengths(made)[:-1])}


def test_a_slide_comes_from_a_third_below() -> None:
    assert names(alone("schleifer")) == "a b c"


def test_before_the_beat_a_trill_anticipates_its_upper_note() -> None:
    notes = (note("p", "G4", 0, 1), signed("a", "C5", 1, 1, "trill-mark"))
    made = realise(score(*notes), {"a": Choice(placement="before", count=6)}, tempo=100).ornaments[0]
    assert names(made) == "d c d c d c"
    assert made.notes[1].onset == 1


def test_before_the_beat_the_time_comes_from_a_rest_where_there_is_one() -> None:
    notes = (note("p", "G4", 0, 1), note("g", "D5", 2, 0, grace=Grace(0)), note("a", "C5", 2, 1))
    made = realise(score(*notes), placement="before", tempo=100)
    assert made.notes[0].length == 1
    assert made.ornaments[0].from_silence == made.ornaments[0].notes[0].length > 0


def test_a_grace_at_the_very_start_falls_on_the_beat_and_says_so() -> None:
    made = realise(score(*line("C5", [1]), note("g", "D5", 0, 0, grace=Grace(0))), placement="before", tempo=100)
    assert made.ornaments[0].placement == "on"
    assert "no time before" in str(made.ornaments[0].remarks[0])


def test_a_grace_after_the_last_note_takes_its_time_from_it() -> None:
    notes = (note("a", "C5", 0, 4), note("g", "D5", 4, 0, grace=Grace(0)))
    made = realise(score(*notes, measures=1), tempo=100)
    assert made.ornaments[0].placement == "before"
    assert made.notes[-1].end == 4
    assert "No key is struck" in str(made.ornaments[0].remarks[0])


def test_a_grace_under_a_tied_note_sounds_and_takes_nothing() -> None:
    tied = (note("a", "C5", 0, 2, tie_start=True), note("b", "C5", 2, 2, tie_stop=True))
    made = realise(score(*tied, note("g", "E5", 2, 0, grace=Grace(0))), tempo=100)
    assert [(one.source, one.length) for one in made.notes] == [("a", 4), ("g", Fraction(1, 8))]
    assert made.notes[1].end == 2
    assert not made.ornaments[0].from_silence


def test_a_choice_at_one_ornament_leaves_the_others_alone() -> None:
    notes = (*line("C5 D5 E5", [1, 1, 1]), *(note(f"g{at}", "F5", at, 0, grace=Grace(0)) for at in (1, 2)))
    made = realise(score(*notes), {"n1": "before"}, tempo=100)
    assert [one.placement for one in made.ornaments] == ["before", "on"]


# Chords, voices, arpeggios, tremolos.
def test_a_sign_on_a_chord_adorns_its_top_note_and_the_rest_is_held() -> None:
    notes = (signed("a", "C4", 0, 1, "mordent"), note("b", "E4", 0, 1), note("c", "G4", 0, 1))
    made = realise(score(*notes), tempo=100)
    assert names(made.ornaments[0]) == "g f g"
    assert {one.source: one.length for one in made.notes if one.role == "plain"} == {"a": 1, "b": 1}


def test_a_sign_below_a_chord_adorns_its_lowest_note() -> None:
    notes = (note("a", "C4", 0, 1), signed("c", "G4", 0, 1, "mordent", placement="below"))
    assert names(realise(score(*notes), tempo=100).ornaments[0]) == "c b c"


def test_signs_on_two_heads_make_a_double_trill() -> None:
    notes = (signed("a", "C5", 0, 1, "trill-mark"), signed("b", "E5", 0, 1, "trill-mark"))
    made = realise(score(*notes), tempo=100)
    assert [one.note for one in made.ornaments] == ["a", "b"]
    assert lengths(made.ornaments[0]) == lengths(made.ornaments[1])


def test_a_trill_goes_on_over_a_tie_as_one() -> None:
    notes = (
        signed("a", "C5", 0, 4, "trill-mark", {"tie_start": True}),
        signed("b", "C5", 4, 2, "trill-mark", {"tie_stop": True}),
    )
    made = realise(score(*notes), tempo=100)
    assert len(made.ornaments) == 1
    assert sum(lengths(made.ornaments[0])) == 6


def test_a_trill_on_the_later_note_of_a_tie_waits_for_it() -> None:
    notes = (note("a", "C5", 0, 1, tie_start=True), signed("b", "C5", 1, 1, "trill-mark", {"tie_stop": True}))
    made = realise(score(*notes), tempo=100).ornaments[0]
    assert (made.notes[0].length, made.notes[1].pitch.name) == (1, "D")


def test_a_key_held_by_another_voice_is_let_go_for_the_stroke() -> None:
    notes = (note("h", "B4", 0, 2, voice="2"), note("p", "C5", 0, 1), signed("a", "C5", 1, 1, "mordent"))
    made = realise(score(*notes), tempo=100)
    assert dict(made.released) == {"h": Fraction(7, 8)}
    assert "let go" in str(made.ornaments[0].remarks[0])


def test_a_key_struck_by_two_at_once_is_struck_once() -> None:
    notes = (note("h", "D5", 0, 2, voice="2"), note("g", "D5", 0, 0, grace=Grace(0)), note("a", "C5", 0, 1))
    made = realise(score(*notes), tempo=100)
    assert [one.source for one in made.notes if one.shared] == ["g"]


CHORD = tuple(signed(name, name, 2, 2, "arpeggiate") for name in ("C4", "E4", "G4"))


def test_an_arpeggio_on_the_beat_rises_from_it_and_ends_together() -> None:
    made = realise(score(*CHORD), placement="on", tempo=100).ornaments[0]
    assert names(made) == "c e g"
    assert made.notes[0].onset == 2
    assert {one.end for one in made.notes} == {4}


def test_an_arpeggio_before_the_beat_ends_on_it() -> None:
    made = realise(score(note("p", "D4", 0, 2), *CHORD), placement="before", tempo=100)
    assert made.ornaments[0].notes[-1].onset == 2
    assert made.notes[0].end == made.ornaments[0].notes[0].onset


def test_an_arpeggio_down_falls() -> None:
    chord = tuple(signed(name, name, 0, 2, "arpeggiate", direction="down") for name in ("C4", "E4", "G4"))
    assert names(realise(score(*chord), tempo=100).ornaments[0]) == "g e c"


def test_chords_of_both_hands_under_one_number_are_one_arpeggio() -> None:
    left = tuple(signed(name, name, 2, 2, "arpeggiate", {"side": "left"}) for name in ("C3", "G3"))
    made = realise(score(*left, *CHORD), tempo=100)
    assert len(made.ornaments) == 1
    assert names(made.ornaments[0]) == "c g c e g"
    apart = tuple(signed(name, name, 2, 2, "arpeggiate", {"side": "left"}, number="2") for name in ("C3", "G3"))
    assert len(realise(score(*apart, *CHORD), tempo=100).ornaments) == 2


@pytest.mark.parametrize(("marks", "count"), [("1", 2), ("2", 4), ("3", 8)])
def test_a_tremolo_has_as_many_strokes_as_its_marks_say(marks: str, count: int) -> None:
    # MusicXML: one mark on a quarter means eighths.
    made = alone("tremolo", 1, None, type="single", marks=marks)
    assert lengths(made) == [Fraction(1, count)] * count


def test_a_tremolo_between_two_notes_alternates_over_both() -> None:
    notes = (
        signed("a", "C4", 0, 1, "tremolo", type="start", marks="2"),
        signed("b", "G4", 1, 1, "tremolo", type="stop", marks="2"),
    )
    made = realise(score(*notes), tempo=100)
    assert names(made.ornaments[0]) == "c g c g c g c g"
    assert sum(lengths(made.ornaments[0])) == 2


def test_a_tremolo_without_its_second_note_says_so() -> None:
    made = alone("tremolo", 1, None, type="start", marks="2")
    assert "no second note" in str(made.remarks[0])


# Speed, words, bad input.
def test_too_fast_a_trill_names_a_wiser_number() -> None:
    made = realise(score(signed("a", "C5", 0, 1, "trill-mark")), {"a": Choice(count=24)}, tempo=120).ornaments[0]
    assert made.ms == Fraction(500, 24)
    assert made.per_second == 48
    assert "6 notes would be wiser" in str(made.remarks[-1])


def test_the_tempo_of_the_score_is_followed() -> None:
    notes = (signed("a", "C5", 0, 1, "turn"), signed("b", "C5", 4, 1, "turn"))
    made = realise(score(*notes, tempos=(Tempo(Fraction(0), Fraction(60)), Tempo(Fraction(4), Fraction(120)))))
    assert [one.ms for one in made.ornaments] == [250, 125]


def test_an_unknown_sign_sounds_plain_and_says_so() -> None:
    made = realise(score(signed("a", "C5", 0, 1, "haydn")), tempo=100)
    assert "haydn" in str(made.ornaments[0].remarks[0])
    assert made.notes[0].length == 1


def test_a_choice_where_no_ornament_stands_is_named() -> None:
    made = realise(score(*line("C5", [1])), {"rest-3": "before"}, tempo=100)
    assert "rest-3" in str(made.remarks[0])


def test_a_sign_on_a_grace_has_no_room() -> None:
    notes = (signed("g", "D5", 0, 0, "mordent", {"grace": Grace(0)}), note("a", "C5", 0, 1))
    made = realise(score(*notes), tempo=100)
    assert "no room" in str(made.ornaments[0].remarks[0])


@pytest.mark.parametrize("tempo", [0, -1, 900])
def test_an_impossible_tempo_is_refused(tempo: int) -> None:
    with pytest.raises(BadTempo):
        realise(score(), tempo=tempo)


@pytest.mark.parametrize("count", [0, 1, 129])
def test_an_impossible_number_of_notes_is_refused(count: int) -> None:
    with pytest.raises(BadChoice, match="2 to 128"):
        Choice(count=count)


@pytest.mark.parametrize("choice", [{"placement": "after"}, {"start": "top"}])
def test_a_choice_that_is_none_is_refused(choice: dict[str, str]) -> None:
    with pytest.raises(BadChoice, match="is no choice"):
        Choice(**choice)  # type: ignore[arg-type]


def test_a_trill_that_cannot_have_the_number_asked_for_says_so() -> None:
    made = alone("trill-mark", 1, Choice(count=5, start="upper", turn=True))
    assert names(made) == "d c d c b c"
    assert "6 notes, not 5" in str(made.remarks[0])


def test_styles_name_their_source() -> None:
    assert default_style(period_of(1722), "trill-mark").choice == Choice(placement="on", start="upper")
    assert "Marpurg" in default_style("classical", "trill-mark").sources[0]
    assert default_style(period_of(1837), "trill-mark").choice.start == "main"
    assert default_style("romantic", "grace").choice.placement == "before"


# Sums of time, for any music.
KINDS = (
    *("trill-mark", "turn", "inverted-turn", "delayed-turn", "delayed-inverted-turn", "mordent", "inverted-mordent"),
    *("schleifer", "arpeggiate", "tremolo"),
)
LENGTHS = st.sampled_from([Fraction(1, 8), Fraction(1, 3), Fraction(1, 2), Fraction(3, 4), Fraction(1), Fraction(3, 2)])


@st.composite
def voices(draw: st.DrawFn) -> Score:
    """Up to three voices of single notes, chords and rests, each with signs and graces at random."""
    notes: list[Note] = []
    for voice in range(draw(st.integers(1, 3))):
        at = Fraction(0)
        for place in range(draw(st.integers(1, 5))):
            length = draw(LENGTHS)
            sounding = draw(st.sampled_from([1, 1, 2, 3, 0]))
            low = draw(st.integers(3, 5))
            chord = ["C", "E", "G"][:sounding]
            if sounding and draw(st.booleans()):
                size = draw(st.integers(1, 3))
                notes += [
                    note(
                        f"g{voice}.{place}.{order}",
                        f"{'DFB'[order]}{low}",
                        at,
                        0,
                        grace=Grace(order, draw(st.booleans())),
                        voice=str(voice),
                    )
                    for order in range(size)
                ]
            for name in chord:
                signs = draw(st.lists(st.sampled_from(KINDS), max_size=2, unique=True))
                notes.append(
                    note(
                        f"n{voice}.{place}.{name}",
                        f"{name}{low}",
                        at,
                        length,
                        voice=str(voice),
                        ornaments=tuple(Ornament(kind) for kind in signs),
                    )
                )
            at += length
    return score(*notes) if notes else score(*line("C5", [1]))


@settings(max_examples=300, deadline=None)
@given(voices(), st.sampled_from(PLACEMENTS), st.sampled_from([20, 66, 120, 208]))
def test_time_is_neither_lost_nor_won(music: Score, placement: Placement, tempo: int) -> None:
    check_sums(music, realise(music, placement=placement, tempo=tempo))


@settings(max_examples=100, deadline=None)
@given(
    st.sampled_from(KINDS[:7]),
    LENGTHS,
    st.integers(2, 40),
    st.sampled_from(["main", "upper", "lower", "turn"]),
    st.booleans(),
    st.sampled_from(PLACEMENTS),
)
def test_any_choice_fills_the_note_exactly(kind, length, count, start, turn, placement) -> None:  # type: ignore[no-untyped-def]
    music = score(note("p", "E4", 0, 1), signed("a", "C5", 1, length, kind))
    made = realise(music, {"a": Choice(placement, count, start, turn)}, tempo=80)
    strokes = [one for one in made.notes if one.source == "a"]
    assert strokes[-1].end == 1 + length
    assert all(one.end == after.onset for one, after in pairwise(strokes))
    assert made.notes[0].end == strokes[0].onset
    assert strokes[-1].pitch.name == "C" or (kind == "trill-mark" and not turn)
