"""Entering a passage from a printed book."""

import pytest
from django.urls import reverse

from scores.models import Edition, Passage
from tests import make

TYPED = {
    "label": "Brandt, printed, measures 17–18",
    "first_number": 17,
    "metre": "3/4",
    "key": "Eb",
    "right": "B2 {c}B e g f |\nc2 e2 =e2 |",
    "left": "E,2 [G,B,]2 [G,B,]2 |\nA,,2 E,2 C,2 |",
}


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio)


def enter(client, piece, **given):
    return client.post(reverse("enter-passage", args=[piece.pk]), {**TYPED, **given})


def pitches(edition, side):
    return [f"{note.pitch.name}{note.pitch.octave}" for note in edition.score.notes if note.side == side]


def test_both_hands_are_read_as_typed(teacher, piece):
    enter(teacher, piece)
    edition = Edition.objects.get()
    assert pitches(edition, "right") == ["B♭4", "C5", "B♭4", "E♭5", "G5", "F5", "C5", "E♭5", "E5"]
    assert pitches(edition, "left") == ["E♭3", "G3", "B♭3", "G3", "B♭3", "A♭2", "E♭3", "C3"]
    assert [note.is_grace for note in edition.score.notes].count(True) == 1
    assert edition.label == TYPED["label"]
    assert "c2 e2 =e2" in edition.typed


def test_the_measures_bear_the_numbers_of_the_book(teacher, piece):
    enter(teacher, piece)
    edition = Edition.objects.get()
    assert [measure.number for measure in edition.score.measures] == ["17", "18"]
    assert b'number="17"' in edition.music
    assert b'number="18"' in edition.music


def test_a_pick_up_counts_before_the_first_whole_measure(teacher, piece):
    enter(teacher, piece, right="B2 | e2 g2 f2 | e6 |", left="", pickup="on")
    measures = Edition.objects.get().score.measures
    assert [measure.number for measure in measures] == ["16", "17", "18"]
    assert measures[0].is_pickup


def test_one_hand_alone_is_that_hand(teacher, piece):
    enter(teacher, piece, right="", left="E,2 G,2 B,2 |")
    assert {note.side for note in Edition.objects.get().score.notes} == {"left"}


def test_what_was_entered_can_be_marked_in_the_same_step(teacher, piece):
    answer = enter(teacher, piece, mark="on")
    passage = Passage.objects.get()
    assert answer["Location"] == reverse("desk", args=[passage.pk])
    assert (passage.first_number, passage.last_number, passage.hands) == ("17", "18", "both")


def test_without_that_it_leads_to_the_edition(teacher, piece):
    answer = enter(teacher, piece)
    assert answer["Location"] == reverse("edition", args=[Edition.objects.get().pk])
    assert not Passage.objects.exists()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"right": "B2 c2 d2 |\nB2 q2"}, "Line 2, sign 4: “q” is no note."),
        ({"right": "[CEG"}, "Line 1, sign 1: “[” is opened and never closed with “]”."),
        ({"left": "X:1\nC2"}, "Line 1: leave out “X:”"),
        ({"right": "", "left": " "}, "No notes yet."),
        ({"metre": "three"}, "Write the metre as"),
        ({"key": "H"}, "Select a valid choice"),
        ({"first_number": "x"}, "Enter a whole number"),
        ({"label": ""}, "Say which printed book"),
    ],
)
def test_what_cannot_be_read_is_said_with_its_place_and_nothing_is_lost(teacher, piece, given, words):
    answer = enter(teacher, piece, **given)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in text
    assert "[G,B,]2 [G,B,]2" in text or "left" in given
    assert not Edition.objects.exists()


def test_the_preview_shows_what_is_typed_so_far_without_keeping_it(teacher):
    answer = teacher.post(reverse("entry-preview"), {**TYPED, "label": ""})
    text = answer.content.decode()
    assert answer.status_code == 200
    assert text.count('class="note"') == 17
    assert not Edition.objects.exists()


def test_the_preview_says_where_it_cannot_be_read(teacher):
    answer = teacher.post(reverse("entry-preview"), {**TYPED, "right": "B2 q"})
    assert answer.status_code == 422
    assert "Right hand: Line 1, sign 4" in answer.content.decode()


def test_the_preview_of_nothing_waits(teacher):
    answer = teacher.post(reverse("entry-preview"), {**TYPED, "right": "", "left": ""})
    assert answer.status_code == 200
    assert "Here the notes appear" in answer.content.decode()


def test_a_measure_that_does_not_add_up_is_remarked_with_the_number_of_the_book(teacher):
    answer = teacher.post(reverse("entry-preview"), {**TYPED, "right": "B2 c2 d2 | e8 e2 | d6 |", "left": ""})
    assert "18" in answer.content.decode().split("time signature says", 1)[1]


@pytest.mark.parametrize(
    ("right", "remark"),
    [
        ("B2 c2 | c2 d2 e2 |", "The right hand is shorter than the left in measure 17."),
        ("B2 c2 d2 | c2", ""),  # still being typed
        ("B2 c2 d2 | c2 |", "The right hand is shorter than the left in measure 18."),
        (TYPED["right"], ""),
    ],
)
def test_a_hand_that_does_not_fill_its_measure_is_remarked(teacher, right, remark):
    text = teacher.post(reverse("entry-preview"), {**TYPED, "right": right}).content.decode()
    assert remark in text
    assert text.count("shorter than") == bool(remark)


def test_what_was_typed_can_be_taken_away_as_abc(teacher, piece):
    enter(teacher, piece)
    answer = teacher.get(reverse("edition-file", args=[Edition.objects.get().pk]), {"original": "1"})
    assert answer.content.decode() == Edition.objects.get().typed
    assert answer["Content-Type"].startswith("text/vnd.abc")
