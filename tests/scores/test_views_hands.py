"""For whose hand a line is: the table, the ranking, what differs, and what a new measurement changed."""

import re
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import strip_tags

from scores import judging, whose_hand
from scores.lines import shown_lines
from scores.models import Fingering, Source
from scores.stretches import stretch
from scores.whose_hand import Asked, gather_hands
from tests import make
from tests.people import Cast
from tests.scores.test_judging import chord_of, whole_line

MEDIUM = {"comfortable": 13, "largest": 15}
REACHES_A_THIRD = {**MEDIUM, "pairs": {"1-2": [3, 3]}}


@pytest.fixture
def teacher(cast: Cast, logged_in):
    return logged_in(cast.teacher)


def text_of(html: str) -> str:
    """What is read, without the marks around it."""
    return re.sub(r"\s+", " ", strip_tags(html))


def url(cast: Cast, name: str = "desk") -> str:
    return reverse(name, kwargs={"pk": cast.passage.pk})


def write(cast: Cast, low: str, high: str) -> Fingering:
    """A line with these fingers on the chord."""
    return make.fingering(passage=cast.passage, fingers=whole_line(cast, low, high))


def section(client, cast: Cast, query: str = "") -> str:
    response = client.get(url(cast, "desk-hands") + query)
    assert response.status_code == 200
    return response.content.decode()


def cells(html: str, student: str) -> list[str]:
    """What the row of a student says, as it is read aloud."""
    row = next(row for row in re.findall(r"<tr.*?</tr>", html, re.S) if student in row)
    return [re.sub(r"\s+", " ", words).strip() for words in re.findall(r'class="unseen">([^<]*)<', row)]


def test_the_table_says_for_each_student_how_each_line_lies(cast: Cast, teacher):
    write(cast, "1", "3")
    write(cast, "2", "3")
    make.hand(student=cast.oda, **MEDIUM)
    make.hand(student=cast.ravi, **MEDIUM, pairs={"2-3": [2, 3]})
    html = section(teacher, cast)
    assert cells(html, "Oda")[:2] == ["lies well, least costly", "with care"]
    assert cells(html, "Ravi")[:2] == ["lies well, least costly", "beyond reach"]
    assert "a minor ninth in comfort, a minor tenth at most" in text_of(html)


def test_the_printed_fingers_are_judged_as_a_line_of_their_own(cast: Cast, teacher):
    make.hand(student=cast.oda, **MEDIUM)
    html = section(teacher, cast)
    assert re.search(r'<th scope="col" class="printed">.*?pr\.</th>', html)
    assert cells(html, "Oda") == ["lies well"]


def test_lines_that_say_nothing_or_cannot_be_are_not_weighed(cast: Cast, teacher):
    make.hand(student=cast.oda, **MEDIUM)
    make.fingering(passage=cast.passage, fingers={})
    make.fingering(passage=cast.passage, fingers=dict.fromkeys(chord_of(cast).ids, "3"))
    assert cells(section(teacher, cast), "Oda") == ["not weighed", "not weighed", "lies well"]


def test_a_line_that_marks_little_is_not_called_the_least_costly(cast: Cast, teacher):
    make.hand(student=cast.oda, **MEDIUM)
    write(cast, "2", "3")
    write(cast, "2", "4")
    ids = chord_of(cast).ids
    make.fingering(passage=cast.passage, fingers=dict(zip(ids, ("1", "2"), strict=True)))
    said = cells(section(teacher, cast), "Oda")
    assert said[2:] == ["lies well", "lies well"]
    assert sum("least costly" in words for words in said[:2]) == 1


def test_students_without_a_measured_hand_are_listed_with_the_way_to_measure(cast: Cast, teacher):
    make.hand(student=cast.oda)
    html = section(teacher, cast)
    assert reverse("new-hand", kwargs={"pk": cast.ilmari.pk}) in html
    assert reverse("new-hand", kwargs={"pk": cast.oda.pk}) not in html
    assert "Bruno" not in html


def test_who_has_left_is_not_in_the_table(cast: Cast, teacher):
    make.hand(student=cast.oda)
    cast.oda.left_on = date(2020, 11, 1)
    cast.oda.save()
    assert "Oda" not in section(teacher, cast)


def test_choosing_a_student_ranks_the_lines_with_cost_remarks_and_picture(cast: Cast, teacher):
    far, near = write(cast, "2", "3"), write(cast, "1", "3")
    make.hand(student=cast.oda, **MEDIUM)
    html = section(teacher, cast, f"?student={cast.oda.pk}")
    ranked = re.findall(r'class="ranked-head"><span class="numeral">([^<]*)<.*?cost ([\d.]+)', html, re.S)
    assert [numeral for numeral, _ in ranked] == ["II", "I", "pr."]
    assert float(ranked[0][1]) < float(ranked[1][1])
    assert (far.pk, near.pk) == tuple(cast.passage.fingerings.values_list("pk", flat=True))
    assert "A stretch of 4 semitones between 2 and 3, where 3 are comfortable for this hand." in text_of(html)
    assert 'aria-label="Keyboard, m. 3, beat 3: a third, held open: finger 2 on B flat 4, finger 3 on D 5"' in html
    assert "Stop when anything hurts" in html


def test_the_chosen_student_stays_chosen_while_the_desk_changes(cast: Cast, teacher):
    write(cast, "2", "3")
    make.hand(student=cast.oda, **MEDIUM)
    here = f"http://testserver{url(cast)}?student={cast.oda.pk}"
    headers = {"HX-Request": "true", "HX-Current-URL": here}
    response = teacher.post(reverse("new-fingering", args=[cast.passage.pk]), {"side": "right"}, headers=headers)
    assert "For Oda Lindqvist" in text_of(response.content.decode())
    music = teacher.get(url(cast, "desk-music"), headers=headers).content.decode()
    assert "2–3 for a third: more than comfortable for Oda Lindqvist." in music


def test_what_is_out_of_reach_stands_in_the_margin(cast: Cast, teacher):
    write(cast, "2", "3")
    make.hand(student=cast.oda, **MEDIUM, pairs={"2-3": [2, 3]})
    music = teacher.get(f"{url(cast, 'desk-music')}?student={cast.oda.pk}").content.decode()
    assert "2–3 for a third: out of reach for Oda Lindqvist." in music


def test_another_studios_student_is_nobody_here(cast: Cast, teacher):
    write(cast, "2", "3")
    make.hand(student=cast.bruno)
    assert "For Bruno" not in text_of(section(teacher, cast, f"?student={cast.bruno.pk}"))


@pytest.mark.parametrize(
    "query", ["?student=x", "?student=999999", "?one=1&other=x", "?one=&other=%00", "?student=%F0"]
)
def test_an_address_that_names_nobody_shows_the_plain_table(cast: Cast, teacher, query: str):
    make.hand(student=cast.oda)
    assert 'id="ranking"' not in section(teacher, cast, query)


def test_two_lines_are_compared_note_by_note(cast: Cast, teacher):
    one, other = write(cast, "1", "3"), write(cast, "2", "3")
    html = section(teacher, cast, f"?one={one.pk}&other={other.pk}")
    assert "measure 3, beat 3, B♭4: 1 in I, 2 in II" in text_of(html)
    assert len(re.findall("<li>", html.split('id="compared"')[1])) == 1
    assert "Choose two different lines" in section(teacher, cast, f"?one={one.pk}&other={one.pk}")


def test_lines_for_unlike_parts_are_each_least_costly_of_their_own(cast: Cast):
    notes = [moment.notes[0].id for moment in stretch(cast.passage, "right")]
    for fingers, first, last in (("1131", 0, 3), ("2242", 0, 3), ("123", 4, 6), ("345", 4, 6)):
        bounds = {"first_note": notes[first], "last_note": notes[last]}
        marked = dict(zip(notes[first : last + 1], fingers, strict=True))
        make.fingering(passage=cast.passage, fingers=marked, **bounds)
    make.hand(student=cast.oda, **MEDIUM)
    lines = [line for line in shown_lines(cast.passage, list(cast.passage.fingerings.all())) if line.fingering]
    [table] = gather_hands(cast.passage, lines, [cast.oda]).tables
    assert sum(cell.least for cell in table.rows[0].cells[:2]) == 1
    assert sum(cell.least for cell in table.rows[0].cells[2:]) == 1


def test_a_new_measurement_that_changes_the_least_costly_line_is_told(cast: Cast, teacher):
    write(cast, "1", "2")
    write(cast, "2", "4")
    make.hand(student=cast.oda, measured_on=date(2020, 9, 1), **MEDIUM)
    assert "no longer line" not in text_of(section(teacher, cast))
    make.hand(student=cast.oda, measured_on=date(2020, 11, 2), **REACHES_A_THIRD)
    told = text_of(section(teacher, cast))
    assert "Since Oda Lindqvist’s right hand was measured on 2 November 2020, line II and no longer line I is" in told


def test_a_line_that_comes_within_reach_is_told(cast: Cast, teacher):
    write(cast, "1", "2")
    make.hand(student=cast.oda, measured_on=date(2020, 9, 1), **REACHES_A_THIRD)
    make.hand(student=cast.oda, measured_on=date(2020, 11, 2), **MEDIUM)
    assert "line I is within reach; before, none was." in text_of(section(teacher, cast))


def test_a_new_measurement_that_changes_nothing_is_not_told(cast: Cast, teacher):
    write(cast, "1", "2")
    write(cast, "2", "4")
    make.hand(student=cast.oda, measured_on=date(2020, 9, 1), **MEDIUM)
    make.hand(student=cast.oda, measured_on=date(2020, 11, 2), **MEDIUM)
    assert "no longer line" not in text_of(section(teacher, cast))


def test_a_passage_too_long_to_weigh_says_so(cast: Cast, teacher, monkeypatch):
    monkeypatch.setattr(whose_hand, "MOST_MOMENTS", 10)
    make.hand(student=cast.oda)
    assert "too long to weigh" in section(teacher, cast)


def test_a_table_that_takes_long_comes_after_the_desk(cast: Cast, teacher, monkeypatch):
    monkeypatch.setattr(whose_hand, "AT_ONCE", 10)
    monkeypatch.setattr(judging, "remembered", judging.Remembered())
    write(cast, "1", "3")
    make.hand(student=cast.oda, **MEDIUM)
    desk = teacher.get(url(cast)).content.decode()
    assert "The lines are being weighed" in desk
    assert 'class="whose"' not in desk
    assert 'class="whose"' in teacher.get(f"{url(cast)}?weigh=yes").content.decode()
    assert 'class="whose"' in section(teacher, cast)
    # By now it is remembered, and stands on the desk at once.
    assert 'class="whose"' in teacher.get(url(cast)).content.decode()


def test_an_empty_studio_is_told_what_will_stand_there(cast: Cast, teacher):
    assert "once a hand has been measured" in section(teacher, cast)


def test_lines_are_suggested_for_a_students_own_hand(cast: Cast, teacher):
    make.hand(student=cast.oda, **MEDIUM, pairs={"1-2": [3, 3], "2-3": [2, 3]})
    page = teacher.get(url(cast)).content.decode()
    assert f'<option value="student-{cast.oda.pk}">Oda Lindqvist</option>' in page
    assert f'value="student-{cast.ravi.pk}"' not in page
    data = {"side": "right", "size": f"student-{cast.oda.pk}"}
    assert teacher.post(reverse("propose-fingerings", args=[cast.passage.pk]), data).status_code == 302
    found = cast.passage.fingerings.filter(source=Source.PROGRAM)
    chords = [tuple(line.fingers[note] for note in chord_of(cast).ids) for line in found]
    assert 2 <= len(chords) <= 4
    assert not {("1", "2"), ("2", "3")} & set(chords)


@pytest.mark.parametrize("size", ["student-0", "student-", "huge", ""])
def test_a_hand_that_is_not_there_is_refused(cast: Cast, teacher, size: str):
    make.hand(student=cast.bruno)
    sent = {"side": "right", "size": size or f"student-{cast.bruno.pk}"}
    assert teacher.post(reverse("propose-fingerings", args=[cast.passage.pk]), sent).status_code == 422


def test_more_students_and_measurements_ask_no_more_queries(cast: Cast, teacher):
    write(cast, "1", "3")
    make.hand(student=cast.oda)
    address = f"{url(cast)}?student={cast.oda.pk}"

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert teacher.get(address).status_code == 200
        return len(queries)

    before = count()
    for number in range(10):
        student = make.student(studio=cast.studio, name=f"Student {number}")
        make.hand(student=student, comfortable=10 + number % 4)
        make.hand(student=student, measured_on=date(2020, 11, number + 1), side="left")
        make.hand(student=student, measured_on=date(2020, 11, number + 1))
    assert count() == before <= 12


def test_the_same_address_says_the_same_without_scripts(cast: Cast, teacher):
    write(cast, "1", "3")
    make.hand(student=cast.oda)
    page = teacher.get(f"{url(cast)}?student={cast.oda.pk}").content.decode()
    assert 'id="ranking"' in page
    assert f'href="{url(cast)}?student={cast.oda.pk}#hands"' in page


def test_what_was_asked_for_goes_back_into_an_address():
    assert Asked.read({}).query == ""
    assert Asked.read({"student": "3", "one": "5"}).query == "?student=3&one=5"
