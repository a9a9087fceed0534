import re
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from studio import invitations
from tests import make
from tests.html import assert_clean

REACH = {"side": "right", "measured_on": "2020-09-01", "comfortable": "11", "largest": "12", "width": "slim"}


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def text(answer) -> str:
    """What a reader reads, tags and runs of blanks taken out."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def undo_of(answer) -> str:
    """The address of the undo button beside what was said."""
    said = answer.content.decode().split('class="said"')[1].split("</div>")[0]
    return re.search(r'action="([^"]+)"', said)[1]


def queries(client, url) -> int:
    with CaptureQueriesContext(
        connection,
    ) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


def test_the_list_says_what_hands_reach_and_who_answers(cast, teacher):
    make.hand(student=cast.oda, comfortable=11, largest=12)
    page = text(teacher.get("/students/"))
    assert "right hand reaches a seventh in comfort, an octave at most" in page
    assert "Birger Lindqvist" in page
    assert "Bruno Tavares" not in page


def test_an_empty_list_teaches(cast, logged_in):
    cast.bruno.delete()
    page = text(logged_in(cast.other_teacher).get("/students/"))
    assert "A name is enough to begin" in page
    assert "Add a student" in page


def test_ten_more_students_add_no_query(cast, teacher):
    make.hand(student=cast.oda)
    before = queries(teacher, "/students/")
    for number in range(10):
        student = make.student(studio=cast.studio, name=f"Student {number}")
        make.hand(student=student)
        make.guardian(students=[student], name=f"Guardian {number}")
    assert queries(teacher, "/students/") == before <= 12


def test_ten_more_guardians_and_hands_add_no_query(cast, teacher):
    url = f"/students/{cast.oda.pk}/"
    make.hand(student=cast.oda)
    before = queries(teacher, url)
    for number in range(10):
        guardian = make.guardian(students=[cast.oda], name=f"Guardian {number}")
        invitations.invite(person=guardian, at=timezone.now())
        make.hand(student=cast.oda, measured_on=f"2019-01-{number + 1:02}")
    assert queries(teacher, url) == before <= 12


def test_a_student_is_added(cast, teacher):
    answer = teacher.post("/students/new/", {"name": "Nils Aho", "remark": "Sings."}, follow=True)
    page = text(answer)
    assert "Nils Aho" in page
    assert "Sings." in page
    assert "Not measured yet" in page
    assert_clean(answer.content.decode())


def test_a_student_needs_a_name(cast, teacher):
    answer = teacher.post("/students/new/", {"name": "", "remark": "Sings."})
    assert answer.status_code == 422
    assert "Sings." in answer.content.decode()


def test_a_student_is_changed(cast, teacher):
    assert "Oda" in teacher.get(f"/students/{cast.oda.pk}/change/").content.decode()
    teacher.post(f"/students/{cast.oda.pk}/change/", {"name": "Oda L.", "remark": ""})
    cast.oda.refresh_from_db()
    assert cast.oda.name == "Oda L."


def test_a_name_in_any_script_and_with_signs_is_shown_as_it_is(cast, teacher):
    answer = teacher.post("/students/new/", {"name": "Łucja <b>李</b> & Σοφία"}, follow=True)
    assert "Łucja &lt;b&gt;李&lt;/b&gt; &amp; Σοφία" in answer.content.decode()


def test_leaving_can_be_undone(cast, teacher):
    answer = teacher.post(f"/students/{cast.oda.pk}/leave/", follow=True)
    cast.oda.refresh_from_db()
    assert cast.oda.left_on == timezone.localdate(timezone=ZoneInfo(cast.studio.timezone))
    assert "left on" in text(answer)
    assert "1 has left the studio" in text(teacher.get("/students/"))
    teacher.post(undo_of(answer))
    cast.oda.refresh_from_db()
    assert cast.oda.left_on is None


def test_both_hands_are_measured_at_once(cast, teacher):
    answer = teacher.post(f"/students/{cast.oda.pk}/hands/new/", REACH | {"both": "on"}, follow=True)
    assert "Both hands a seventh in comfort, an octave at most" in text(answer)
    assert cast.oda.hands.count() == 2


def test_a_hand_that_cannot_be_loses_nothing_typed(cast, teacher):
    wrong = REACH | {"comfortable": "14", "largest-2-5": "9", "comfortable-2-5": "7"}
    answer = teacher.post(f"/students/{cast.oda.pk}/hands/new/", wrong)
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "Did they change places?" in html
    assert re.search(r'<select name="comfortable".*?<option value="14" selected>', html, re.DOTALL)
    assert re.search(r'<select name="largest-2-5".*?<option value="9" selected>', html, re.DOTALL)
    assert '<details class="fold" open>' in html
    assert_clean(html)


def test_where_a_hand_is_measured_the_caution_stands(cast, teacher):
    page = text(teacher.get(f"/students/{cast.oda.pk}/hands/new/"))
    assert "Never stretch to measure" in page
    assert "belongs to a clinician" in page
    assert "Nothing about a hand follows from age, sex" in page


def test_removing_a_measurement_can_be_undone(cast, teacher):
    hand = make.hand(student=cast.oda, pairs={"2-5": [7, 9]})
    answer = teacher.post(f"/hands/{hand.pk}/remove/", follow=True)
    assert not cast.oda.hands.exists()
    teacher.post(undo_of(answer))
    assert cast.oda.hands.get().pairs == {"2-5": [7, 9]}


def test_a_spoiled_undo_finds_nothing(cast, teacher):
    assert teacher.post("/hands/restore/spoiled:by:hand/").status_code == 404


def test_a_guardian_is_added_changed_and_linked_to_a_sibling(cast, teacher):
    teacher.post(f"/students/{cast.oda.pk}/guardians/new/", {"name": "Aino Lindqvist", "email": ""})
    aino = cast.oda.guardians.get(name="Aino Lindqvist")
    teacher.post(f"/guardians/{aino.pk}/change/", {"name": "Aino L.", "email": "aino@example.org"})
    page = teacher.get(f"/students/{cast.ilmari.pk}/guardians/new/").content.decode()
    link = f"/students/{cast.ilmari.pk}/guardians/{aino.pk}/link/"
    assert link in page
    assert f"/guardians/{cast.birger.pk}/link/" not in page  # answers for him already
    teacher.post(link)
    assert list(aino.students.values_list("name", flat=True)) == ["Ilmari Lindqvist", "Oda Lindqvist"]


def test_unlinking_a_guardian_can_be_undone(cast, teacher):
    answer = teacher.post(f"/students/{cast.oda.pk}/guardians/{cast.birger.pk}/unlink/", follow=True)
    assert not cast.oda.guardians.exists()
    teacher.post(undo_of(answer))
    assert cast.oda.guardians.get() == cast.birger


def test_a_guardian_who_answers_for_nobody_here_cannot_be_unlinked(cast, teacher):
    assert teacher.post(f"/students/{cast.oda.pk}/guardians/{cast.sunita.pk}/unlink/").status_code == 404


def test_a_guardian_next_door_cannot_be_linked(cast, teacher):
    stranger = make.guardian(students=[cast.bruno], name="Tavares")
    assert teacher.post(f"/students/{cast.oda.pk}/guardians/{stranger.pk}/link/").status_code == 404


@pytest.mark.parametrize(
    "page",
    [
        "students/",
        "students/new/",
        "students/{oda}/",
        "students/{oda}/change/",
        "students/{oda}/hands/new/",
        "students/{oda}/guardians/new/",
        "guardians/{birger}/change/",
    ],
)
def test_the_pages_are_clean(cast, teacher, page):
    make.hand(student=cast.oda, pairs={"2-5": [7, 9]})
    invitations.invite(person=make.guardian(students=[cast.oda], name="Aino"), at=timezone.now())
    answer = teacher.get("/" + page.format(oda=cast.oda.pk, birger=cast.birger.pk))
    assert_clean(answer.content.decode())
    assert 'aria-current="page">Students' in answer.content.decode()
