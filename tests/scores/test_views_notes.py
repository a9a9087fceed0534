"""Writing on a passage: with scripts off, with scripts on, and when something is wrong."""

import json

import pytest
from django.urls import reverse

from scores import noting
from scores.models import Cue, Fingering
from scores.stretches import stretch
from tests import make
from tests.people import Cast

HTMX = {"HX-Request": "true"}


@pytest.fixture
def teacher(cast: Cast, logged_in):
    return logged_in(cast.teacher)


@pytest.fixture
def line(cast: Cast) -> Fingering:
    return noting.write_fingering(passage=cast.passage, side="right")


def to(name: str, row) -> str:
    return reverse(name, kwargs={"pk": row.pk})


def text(response) -> str:
    return response.content.decode()


def note_ids(passage) -> list[str]:
    return [note.id for moment in stretch(passage, "right") for note in moment.notes]


LINE = "2 2 4 2 3 5 4 2 3 5 4 4 3 13 5"  # fifteen moments: a grace and a chord among them


# Lines typed as text


def test_a_line_typed_as_text_is_kept(cast: Cast, teacher, line):
    response = teacher.post(to("keep-line", line), {"line": LINE})
    assert response.status_code == 302
    assert response["Location"].endswith(f"#line-{line.pk}")
    line.refresh_from_db()
    assert "".join(line.fingers[note] for note in note_ids(cast.passage)) == LINE.replace(" ", "")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (LINE + " 5", "16 typed for 15 places"),
        (LINE[:-2], "14 of 15 places"),
        (LINE.replace("13", "135"), "too many fingers, 3 for 2 notes"),
        (LINE.replace("13", "1"), "too few fingers, 1 for 2 notes"),
        (LINE.replace("2", "7", 1), "“7” is no finger"),
    ],
)
def test_what_cannot_be_read_is_said_and_nothing_typed_is_lost(teacher, line, typed: str, said: str):
    response = teacher.post(to("keep-line", line), {"line": typed})
    assert response.status_code == 422
    assert said in text(response)
    assert f'value="{typed}"' in text(response)
    line.refresh_from_db()
    assert line.fingers == {}


def test_a_blank_line_marks_nothing(cast: Cast, teacher, line):
    noting.keep_fingers(fingering=line, fingers={note_ids(cast.passage)[0]: "2"})
    assert teacher.post(to("keep-line", line), {"line": " "}).status_code == 302
    line.refresh_from_db()
    assert line.fingers == {}


def test_a_line_changed_in_another_window_is_shown_beside_what_was_typed(cast: Cast, teacher, line):
    seen = noting.version(line)
    noting.keep_fingers(fingering=line, fingers={note_ids(cast.passage)[0]: "1"})
    response = teacher.post(to("keep-line", line), {"line": LINE, "seen": seen})
    assert response.status_code == 409
    assert "It reads there: 1 _ _" in text(response)
    assert f'value="{LINE}"' in text(response)


# Lines typed over the notes


def test_the_script_is_told_what_is_wrong(cast: Cast, teacher, line):
    chord = next(moment for moment in stretch(cast.passage, "right") if len(moment.notes) == 2)
    fingers = json.dumps(dict.fromkeys(chord.ids, "3"))
    answer = teacher.post(to("keep-fingers", line), {"fingers": fingers}).json()
    assert [problem["cannot"] for problem in answer["problems"]] == [True]
    assert set(answer["problems"][0]["notes"]) == set(chord.ids)
    assert "finger 3 is asked for on two keys at once" in answer["problemsHtml"]
    line.refresh_from_db()
    assert line.fingers == json.loads(fingers)
    assert answer["seen"] == noting.version(line)


def test_the_last_finger_of_a_line_can_be_taken_back(cast: Cast, teacher, line):
    for fingers in ({note_ids(cast.passage)[0]: "2"}, {}):
        assert "trouble" not in teacher.post(to("keep-fingers", line), {"fingers": json.dumps(fingers)}).json()
    line.refresh_from_db()
    assert line.fingers == {}


def test_a_later_window_is_told_what_changed(cast: Cast, teacher, line):
    first, seen = note_ids(cast.passage)[0], noting.version(line)
    teacher.post(to("keep-fingers", line), {"fingers": json.dumps({first: "2"}), "seen": seen})
    response = teacher.post(to("keep-fingers", line), {"fingers": json.dumps({first: "3"}), "seen": seen})
    assert response.status_code == 409
    assert response.json()["fingers"] == {first: "2"}
    again = teacher.post(
        to("keep-fingers", line), {"fingers": json.dumps({first: "3"}), "seen": response.json()["seen"]}
    )
    assert again.status_code == 200
    line.refresh_from_db()
    assert line.fingers == {first: "3"}


@pytest.mark.parametrize("fingers", ["", "[1]", '"1"', '{"n": 3}', '{"n": "' + "1" * 21 + '"}', "{"])
def test_fingers_that_are_none_are_refused(teacher, line, fingers: str):
    response = teacher.post(to("keep-fingers", line), {"fingers": fingers})
    assert response.status_code == 422
    assert response.json()["trouble"]


def test_the_ends_of_a_line_travel_with_its_fingers(cast: Cast, teacher, line):
    notes = note_ids(cast.passage)
    teacher.post(
        to("keep-fingers", line),
        {"fingers": json.dumps({notes[3]: "1", notes[0]: "2"}), "first_note": notes[2], "last_note": notes[5]},
    )
    line.refresh_from_db()
    assert (line.first_note, line.last_note, line.fingers) == (notes[2], notes[5], {notes[3]: "1"})


# New lines, parts, copies


def test_a_new_line_begins_empty_or_with_the_printed_fingers(cast: Cast, teacher):
    teacher.post(to("new-fingering", cast.passage), {"side": "right"})
    teacher.post(to("new-fingering", cast.passage), {"side": "right", "start": "printed"})
    assert [len(line.fingers) for line in cast.passage.fingerings.all()] == [0, 2]


def test_a_new_line_asked_for_by_the_script_answers_with_the_desk(cast: Cast, teacher):
    response = teacher.post(to("new-fingering", cast.passage), {"side": "right"}, headers=HTMX)
    assert response.status_code == 200
    assert f'data-new-line="{cast.passage.fingerings.get().pk}"' in text(response)
    assert "<html" not in text(response)


@pytest.mark.parametrize("side", ["left", "third", ""])
def test_a_line_for_a_hand_that_is_not_there_is_refused(cast: Cast, teacher, side: str):
    pickup = cast.edition.score.notes[0]
    passage = make.passage(edition=cast.edition, first=pickup.id, last=pickup.id)
    assert teacher.post(to("new-fingering", passage), {"side": side}).status_code == 422
    assert not passage.fingerings.exists()


def test_the_part_and_the_remark_of_a_line_are_changed(cast: Cast, teacher, line):
    notes = note_ids(cast.passage)
    assert text(teacher.get(to("keep-fingering", line))).count("<option") > 20
    response = teacher.post(
        to("keep-fingering", line), {"first_note": notes[7], "last_note": notes[10], "remark": "Close to the keys."}
    )
    assert response.status_code == 302
    line.refresh_from_db()
    assert (line.first_note, line.last_note, line.remark) == (notes[7], notes[10], "Close to the keys.")
    assert "m. 2, beat 1 to m. 2, beat 3¼" in text(teacher.get(to("desk", cast.passage)))


def test_a_line_is_copied_to_a_passage_of_another_piece(cast: Cast, teacher, line):
    target = make.passage(edition=make.edition(piece=make.piece(studio=cast.studio, title="Twin")))
    first = note_ids(cast.passage)[0]
    noting.keep_fingers(fingering=line, fingers={first: "2"})
    assert "Twin" in text(teacher.get(to("copy-fingering", line)))
    response = teacher.post(to("copy-fingering", line), {"passage": target.pk})
    assert response["Location"] == to("desk", target)
    assert list(target.fingerings.get().fingers.values()) == ["2"]


def test_a_copy_that_does_not_fit_says_where(cast: Cast, teacher, line):
    notes = cast.edition.score.in_measures(2, 3, "right")
    short = make.passage(edition=cast.edition, first=notes[0].id, last=notes[-1].id)
    response = teacher.post(to("copy-fingering", line), {"passage": short.pk})
    assert response.status_code == 422
    assert "Its place 3 is measure 2, beat 2½ of that passage" in text(response)


def test_another_studios_passage_is_no_place_to_copy_to(cast: Cast, teacher, line):
    foreign = make.passage(edition=make.edition(piece=make.piece(studio=cast.next_door)))
    assert teacher.post(to("copy-fingering", line), {"passage": foreign.pk}).status_code == 422
    assert not foreign.fingerings.exists()


def test_a_line_is_taken_away_and_undo_brings_it_back(cast: Cast, teacher, line):
    page = text(teacher.post(to("remove-fingering", line), follow=True))
    assert to("restore-fingering", line) in page
    assert not cast.passage.fingerings.standing()
    teacher.post(to("restore-fingering", line))
    assert cast.passage.fingerings.standing().get() == line


# Cues


def test_a_cue_is_written_at_a_note_and_moved_to_a_beat(cast: Cast, teacher):
    note = note_ids(cast.passage)[1]
    teacher.post(to("new-cue", cast.passage), {"text": "Lean into it.", "place": f"note:{note}"})
    cue = Cue.objects.get()
    assert (cue.note, cue.measure) == (note, 1)
    assert "Lean into it." in text(teacher.get(to("desk", cast.passage)))
    response = teacher.post(to("keep-cue", cue), {"text": "Lean.", "place": "beat:2:2"})
    assert response.status_code == 302
    cue.refresh_from_db()
    assert (cue.text, cue.note, cue.measure, cue.beat) == ("Lean.", "", 2, "2")


@pytest.mark.parametrize(
    "data", [{"text": "", "place": "beat:1:1"}, {"text": "Lean.", "place": "beat:9:1"}, {"text": "Lean." * 61}]
)
def test_a_cue_that_is_none_is_refused_and_not_lost(cast: Cast, teacher, data: dict):
    response = teacher.post(to("new-cue", cast.passage), data)
    assert response.status_code == 422
    assert f'value="{data["text"]}"' in text(response) or not data["text"]
    assert not Cue.objects.exists()


def test_the_form_of_a_cue_opens_in_place_and_stays_open_when_it_fails(cast: Cast, teacher):
    cue = make.cue(passage=cast.passage)
    form = text(teacher.get(to("keep-cue", cue), headers=HTMX))
    assert "<html" not in form
    assert 'value="Let the wrist float up."' in form
    failed = teacher.post(to("keep-cue", cue), {"text": "", "place": "beat:1:1"}, headers=HTMX)
    assert (failed.status_code, failed["HX-Retarget"]) == (422, f"#keep-cue-{cue.pk}")


def test_a_cue_is_copied_taken_away_and_brought_back(cast: Cast, teacher):
    cue = make.cue(passage=cast.passage, text="Breathe.", measure=0)
    target = make.passage(edition=cast.edition, hands="left")
    teacher.post(to("copy-cue", cue), {"passage": target.pk})
    assert target.cues.get().text == "Breathe."
    page = text(teacher.post(to("remove-cue", cue), follow=True))
    assert to("restore-cue", cue) in page
    teacher.post(to("restore-cue", cue))
    assert cast.passage.cues.standing().get() == cue


def test_what_a_teacher_writes_is_shown_as_text_never_as_markup(cast: Cast, teacher):
    make.cue(passage=cast.passage, text="<script>alert(1)</script>")
    make.fingering(passage=cast.passage, fingers={note_ids(cast.passage)[0]: "<b>"}, remark="<i>soft</i>")
    page = text(teacher.get(to("desk", cast.passage)))
    assert "<script>alert" not in page
    assert "<i>soft" not in page
    assert "<b>" not in page


# What the program suggests


def test_suggestions_stand_as_blue_lines_until_they_are_kept(cast: Cast, teacher):
    teacher.post(to("propose-fingerings", cast.passage), {"side": "right", "size": "medium"})
    page = text(teacher.get(to("desk", cast.passage)))
    assert page.count("suggested by the program") == cast.passage.fingerings.count()
    assert "finger-line program" in page
    first = cast.passage.fingerings.first()
    teacher.post(to("adopt-fingering", first))
    assert "finger-line teacher" in text(teacher.get(to("desk", cast.passage)))


@pytest.mark.parametrize("data", [{}, {"side": "right"}, {"side": "right", "size": "huge"}, {"size": "small"}])
def test_suggestions_for_no_known_hand_are_refused(cast: Cast, teacher, data: dict):
    assert teacher.post(to("propose-fingerings", cast.passage), data).status_code == 422
    assert not cast.passage.fingerings.exists()


def test_asking_for_the_same_suggestions_again_says_that_there_are_no_new_ones(cast: Cast, teacher):
    data = {"side": "right", "size": "medium"}
    teacher.post(to("propose-fingerings", cast.passage), data)
    page = text(teacher.post(to("propose-fingerings", cast.passage), data, headers=HTMX))
    assert "Nothing new" in page
