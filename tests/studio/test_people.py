from datetime import date

import pytest
from django.core import signing
from django.db import IntegrityError

from studio import people
from studio.models import Hand, Role, Studio, User
from tests import make


@pytest.mark.django_db
def test_a_studio_begins_with_its_teacher():
    fields = {"name": "New", "timezone": "Asia/Kolkata", "currency": "INR", "paper": "A4"}
    teacher = people.begin_studio(studio=fields, name="Leela", email="Leela@example.org", password=make.PASSWORD)
    assert teacher.role == Role.TEACHER
    assert teacher.email == "leela@example.org"
    assert teacher.studio.timezone == "Asia/Kolkata"


def test_a_studio_without_teacher_is_not_left_behind(cast):
    fields = {"name": "New", "timezone": "UTC", "currency": "EUR", "paper": "A4"}
    before = Studio.objects.count()
    with pytest.raises(IntegrityError):
        people.begin_studio(studio=fields, name="Twice", email=cast.teacher.email, password=make.PASSWORD)
    assert Studio.objects.count() == before


def test_passwords_are_kept_with_argon2(cast):
    assert User.objects.get(pk=cast.teacher.pk).password.startswith("argon2$argon2id$")


def test_a_student_leaves_and_comes_back(cast):
    people.leave(student=cast.oda, on=date(2020, 11, 25))
    cast.oda.refresh_from_db()
    assert cast.oda.left_on == date(2020, 11, 25)
    people.come_back(student=cast.oda)
    cast.oda.refresh_from_db()
    assert cast.oda.left_on is None


def measured(student, **given):
    fields = {
        "sides": ["right", "left"],
        "measured_on": date(2020, 11, 25),
        "comfortable": 11,
        "largest": 12,
        "width": "slim",
        "pairs": {"2-5": [7, 9]},
    }
    return people.measure_hand(student=student, **{**fields, **given})


def test_both_hands_are_measured_at_once(cast):
    hands = measured(cast.oda)
    assert sorted(hand.side for hand in hands) == ["left", "right"]
    assert {hand.studio_id for hand in hands} == {cast.studio.pk}
    assert hands[0].pairs == {"2-5": [7, 9]}


def test_a_second_measurement_on_one_day_takes_the_place_of_the_first(cast):
    measured(cast.oda)
    measured(cast.oda, sides=["right"], largest=14)
    assert cast.oda.hands.count() == 2
    assert cast.oda.hands.get(side="right").largest == 14


def test_a_removed_hand_comes_back_as_it_was(cast):
    hand = measured(cast.oda)[0]
    kept = people.remove_hand(hand=hand)
    assert cast.oda.hands.count() == 1
    back = people.restore_hand(student=cast.oda, kept=kept)
    for name in ("side", "measured_on", "comfortable", "largest", "width", "pairs"):
        assert getattr(back, name) == getattr(hand, name)


def test_a_removed_hand_does_not_come_back_on_somebody_else(cast):
    kept = people.remove_hand(hand=measured(cast.oda)[0])
    with pytest.raises(signing.BadSignature):
        people.restore_hand(student=cast.ravi, kept=kept)
    with pytest.raises(signing.BadSignature):
        people.restore_hand(student=cast.oda, kept=kept[:-1] + ("a" if kept[-1] != "a" else "b"))
    assert not Hand.objects.filter(student=cast.ravi).exists()


def test_a_guardian_is_linked_and_unlinked(cast):
    people.link_guardian(student=cast.oda, guardian=cast.sunita)
    assert set(cast.oda.guardians.all()) == {cast.birger, cast.sunita}
    people.unlink_guardian(student=cast.oda, guardian=cast.birger)
    assert set(cast.oda.guardians.all()) == {cast.sunita}
    assert cast.birger.students.get() == cast.ilmari


def test_a_guardian_of_another_studio_cannot_be_linked(cast):
    stranger = make.guardian(students=[cast.bruno], name="Tavares")
    with pytest.raises(ValueError, match="same studio"):
        people.link_guardian(student=cast.oda, guardian=stranger)
