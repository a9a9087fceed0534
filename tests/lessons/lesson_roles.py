"""Who gets what where attendance is said, marks are made, notes are kept, and make-up lessons are reckoned."""

from django.utils import timezone

from lessons.attending import mark_attendance
from lessons.models import Attendance
from tests import make
from tests.people import Cast
from tests.roles import Row, teachers

NOT_SO = teachers(405, next_door=405)
DONE = teachers(302)
THEIRS = (200, 200, 200, 404, 404, 404, 302)


def of_lesson(cast: Cast) -> dict[str, int]:
    return {"pk": cast.lesson.pk}


def of_oda(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def of_said(cast: Cast) -> dict[str, str]:
    said = mark_attendance(lesson=cast.lesson, attendance="missed", at=timezone.now(), by=cast.teacher)
    return {"token": said}


def of_heard(cast: Cast) -> dict[str, int]:
    return {"pk": make.lesson(student=cast.oda).pk, "assigned": cast.assigned.pk}


def policy_fields(cast: Cast) -> dict[str, object]:
    rules = {f"rule-{one.value}": "charge" for one in Attendance if one}
    return {**rules, "words": "Call the day before.", "notice_hours": 24}


TABLE: dict[str, Row] = {
    "attendance": Row(get=NOT_SO, post=DONE, target=of_lesson, data=lambda cast: {"attendance": "present"}),
    "attendance-before": Row(get=NOT_SO, post=DONE, target=of_said),
    "mark": Row(get=NOT_SO, post=DONE, target=of_heard, data=lambda cast: {"kind": "carry"}),
    "keep-remark": Row(
        get=NOT_SO,
        post=DONE,
        target=lambda cast: {"pk": cast.assigned.pk},
        data=lambda cast: {"remark": "Slowly."},
    ),
    "notes-for-all": Row(get=NOT_SO, post=DONE, target=of_lesson),
    "plan-following": Row(get=NOT_SO, post=DONE, target=of_lesson),
    # The policy is read by everyone of a studio, and changed by its teacher.
    "policy": Row(get=(200, 200, 200, 200, 200, 200, 302)),
    "change-policy": Row(get=teachers(200, next_door=200), post=teachers(302, next_door=302), data=policy_fields),
    "make-ups": Row(get=THEIRS, target=of_oda),
    "correct-make-ups": Row(
        get=NOT_SO, post=DONE, target=of_oda, data=lambda cast: {"lessons": "1", "remark": "the snow day"}
    ),
}
