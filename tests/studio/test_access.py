import pytest
from django.test import Client

from studio.access import guardians_of, hands_of, invitations_of, students_of
from tests import make


def test_a_teacher_sees_all_her_students_and_no_others(cast):
    assert set(students_of(cast.teacher)) == {cast.oda, cast.ilmari, cast.ravi}
    assert set(students_of(cast.other_teacher)) == {cast.bruno}


def test_a_guardian_sees_only_her_children(cast):
    assert set(students_of(cast.birger.user)) == {cast.oda, cast.ilmari}
    assert set(students_of(cast.sunita.user)) == {cast.ravi}


def test_a_student_sees_only_herself(cast):
    assert set(students_of(cast.oda.user)) == {cast.oda}


def test_a_guardian_who_is_unlinked_sees_the_child_no_more(cast):
    cast.birger.students.remove(cast.oda)
    assert set(students_of(cast.birger.user)) == {cast.ilmari}


def test_hands_guardians_and_invitations_are_the_teachers(cast):
    make.hand(student=cast.oda)
    make.invitation(student=cast.ilmari)
    for rows in (guardians_of, hands_of, invitations_of):
        assert rows(cast.teacher).exists()
        for user in (cast.oda.user, cast.birger.user, cast.other_teacher):
            assert not rows(user).exists()


@pytest.mark.django_db
def test_a_stranger_comes_back_to_the_page_she_asked_for():
    assert Client().get("/students/?a=b").url == "/log-in/?next=/students/%3Fa%3Db"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("came_from", "back"),
    [
        ("http://testserver/students/3/", "/students/3/"),
        ("https://elsewhere.example/students/3/", "/"),
        (None, "/"),
    ],
)
def test_after_a_post_that_needed_a_login_she_comes_back_to_the_page_with_the_form(came_from, back):
    extra = {"HTTP_REFERER": came_from} if came_from else {}
    assert Client().post("/students/3/leave/", **extra).url == f"/log-in/?next={back}"


@pytest.mark.django_db
def test_a_part_of_a_page_takes_the_whole_page_to_the_log_in():
    here = {"HTTP_HX_REQUEST": "true", "HTTP_HX_CURRENT_URL": "http://testserver/students/"}
    answer = Client().get("/students/new/", **here)
    assert answer["HX-Redirect"] == "/log-in/?next=/students/"


@pytest.mark.parametrize("pk", ["99999999999999999999999", "0"])
def test_a_number_that_no_row_has_finds_nothing(cast, logged_in, pk):
    assert logged_in(cast.teacher).get(f"/students/{pk}/").status_code == 404
