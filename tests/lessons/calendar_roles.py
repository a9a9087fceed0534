"""Who gets what at the addresses of the calendar."""

from datetime import UTC, date, datetime, time

from lessons import planning, scheduling
from lessons.models import Absence, Holiday, Slot
from studio.models import Term
from tests.people import Cast
from tests.roles import Row, teachers

AT = datetime(2020, 11, 1, 9, 0, tzinfo=UTC)


def of_lesson(cast: Cast) -> dict[str, int]:
    return {"pk": cast.lesson.pk}


def of_student(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def slot(cast: Cast) -> Slot:
    plan = scheduling.SlotPlan([cast.oda], date(2020, 11, 2), time(15), 45, "FREQ=WEEKLY;COUNT=3")
    return scheduling.make_slot(studio=cast.studio, plan=plan, at=AT)[0]


def of_slot(cast: Cast) -> dict[str, int]:
    return {"pk": slot(cast).pk}


def of_ended_slot(cast: Cast) -> dict[str, str]:
    return {"token": scheduling.end_slot(slot=slot(cast), last=date(2020, 11, 9), at=AT)[1]}


def of_moved_lesson(cast: Cast) -> dict[str, str]:
    to = datetime(2020, 12, 1, 9, 0, tzinfo=UTC)
    return {"token": planning.move_lesson(lesson=cast.lesson, starts_at=to, at=AT)}


def of_holiday(cast: Cast) -> dict[str, int]:
    row = Holiday.objects.create(
        studio=cast.studio, name="Autumn", first_day=date(2020, 10, 5), last_day=date(2020, 10, 9)
    )
    return {"pk": row.pk}


def of_term(cast: Cast) -> dict[str, int]:
    row = Term.objects.create(studio=cast.studio, name="Autumn", first_day=date(2020, 8, 5), last_day=date(2020, 12, 9))
    return {"pk": row.pk}


def absence(cast: Cast) -> Absence:
    days = {"first_day": date(2020, 10, 5), "last_day": date(2020, 10, 9)}
    return Absence.objects.create(studio=cast.studio, student=cast.oda, **days)


def of_absence(cast: Cast) -> dict[str, int]:
    return {"pk": absence(cast).pk}


def of_days(cast: Cast) -> dict[str, str]:
    return {"token": scheduling.remove_days(row=absence(cast), at=AT)[1]}


def slot_fields(cast: Cast) -> dict[str, object]:
    return {
        "students": [cast.oda.pk],
        "first_day": "2020-12-01",
        "at": "15:00",
        "minutes": 45,
        "repeats": "weekly",
        "ends": "count",
        "count": 3,
        "where": "studio",
    }


def time_fields(cast: Cast) -> dict[str, object]:
    return {"day": "2020-12-01", "time": "15:00", "minutes": 45, "where": "studio", "place": ""}


def days_fields(cast: Cast) -> dict[str, object]:
    return {"name": "Winter", "first_day": "2020-12-21", "last_day": "2020-12-31"}


def found_fields(cast: Cast) -> dict[str, object]:
    return {
        "students": [cast.oda.pk],
        "minutes": 45,
        "where": "studio",
        "to": "2020-12-01T15:00:00+02:00",
        "how": "once",
    }


POST_ONLY = teachers(405, next_door=405)
BOTH = {"get": teachers(200), "post": teachers(302)}
# The teacher, the student and her guardian write down free hours.
THEIRS = (200, 200, 200, 404, 404, 404, 302)
KEPT = (302, 302, 302, 404, 404, 404, 302)

TABLE: dict[str, Row] = {
    "day": Row(get=teachers(200, next_door=200)),
    "change-lesson": Row(**BOTH, target=of_lesson, data=time_fields),
    "check-time": Row(get=teachers(200), target=of_lesson),
    "move-lesson": Row(
        get=POST_ONLY, post=teachers(302), target=of_lesson, data=lambda cast: {"to": "2020-12-01T15:00"}
    ),
    "undo-move": Row(get=POST_ONLY, post=teachers(302), target=of_moved_lesson),
    "cancel-lesson": Row(
        get=POST_ONLY, post=teachers(302), target=of_lesson, data=lambda cast: {"attendance": "teacher"}
    ),
    "uncancel-lesson": Row(get=POST_ONLY, post=teachers(302), target=of_lesson),
    "find-time": Row(get=teachers(200, next_door=200)),
    "plan-found": Row(get=POST_ONLY, post=teachers(302), data=found_fields),
    "slots": Row(get=teachers(200, next_door=200)),
    "new-slot": Row(get=teachers(200, next_door=200), post=teachers(302, next_door=422), data=slot_fields),
    "change-slot": Row(**BOTH, target=of_slot, data=slot_fields),
    "end-slot": Row(**BOTH, target=of_slot, data=lambda cast: {"last": "2020-11-09"}),
    "remove-slot": Row(get=POST_ONLY, post=teachers(302), target=of_slot),
    "restore-slot": Row(get=POST_ONLY, post=teachers(302), target=of_slot),
    "undo-slot": Row(get=POST_ONLY, post=teachers(302), target=of_ended_slot),
    "holidays": Row(get=teachers(200, next_door=200)),
    "new-holiday": Row(get=teachers(200, next_door=200), post=teachers(302, next_door=302), data=days_fields),
    "change-holiday": Row(**BOTH, target=of_holiday, data=days_fields),
    "remove-holiday": Row(get=POST_ONLY, post=teachers(302), target=of_holiday),
    "new-term": Row(get=teachers(200, next_door=200), post=teachers(302, next_door=302), data=days_fields),
    "change-term": Row(**BOTH, target=of_term, data=days_fields),
    "remove-term": Row(get=POST_ONLY, post=teachers(302), target=of_term),
    "absences": Row(**BOTH, target=of_student, data=lambda cast: {"first_day": "2020-12-21", "last_day": "2020-12-31"}),
    "remove-absence": Row(get=POST_ONLY, post=teachers(302), target=of_absence),
    "restore-days": Row(get=POST_ONLY, post=teachers(302), target=of_days),
    "keep-travel": Row(get=POST_ONLY, post=teachers(302, next_door=302), data=lambda cast: {"travel_minutes": 20}),
    "free-hours": Row(
        get=(200, 302, 200, 302, 302, 200, 302),
        post=(302, 302, 200, 302, 302, 302, 302),
        data=lambda cast: {"day0": "15-18"},
    ),
    "students-free-hours": Row(get=THEIRS, post=KEPT, target=of_student, data=lambda cast: {"day0": "15-18"}),
}
