"""Who gets what at this room's addresses."""

from django.test import Client

from lessons import assigning, giving, planning
from lessons.handouts.gathering import gather
from tests import make
from tests.lessons.asking_roles import TABLE as ASKING
from tests.lessons.calendar_roles import TABLE as CALENDAR
from tests.lessons.feed_roles import TABLE as FEEDS
from tests.lessons.lesson_roles import TABLE as AT_LESSONS
from tests.lessons.preparation_roles import TABLE as PREPARATION
from tests.lessons.progress_roles import TABLE as PROGRESS
from tests.lessons.repertoire_roles import TABLE as REPERTOIRE
from tests.lessons.tuition_roles import TABLE as TUITION
from tests.people import Cast
from tests.roles import Row, teachers


def of_lesson(cast: Cast) -> dict[str, int]:
    return {"pk": cast.lesson.pk}


def of_assigned(cast: Cast) -> dict[str, int]:
    return {"pk": cast.assigned.pk}


def of_assignment(cast: Cast) -> dict[str, int]:
    return {"pk": cast.assigned.assignment_id}


def of_handout(cast: Cast) -> dict[str, int]:
    """A handout of Oda's lesson that was given."""
    return {"pk": giving.give(lesson=cast.assigned.assignment.lesson, content=gather(cast.lesson)).pk}


def of_removed_lesson(cast: Cast) -> dict[str, str]:
    return {"token": planning.remove_lesson(lesson=make.lesson(student=cast.ravi))}


def of_removed_work(cast: Cast) -> dict[str, str]:
    return {"token": assigning.remove_assigned(assigned=cast.assigned)}


def lesson_fields(cast: Cast) -> dict[str, object]:
    return {"student": cast.oda.pk, "day": "2020-12-01", "time": "15:00", "minutes": 45, "place": ""}


def choices(cast: Cast) -> dict[str, object]:
    page = Client()
    page.force_login(cast.teacher, backend="django.contrib.auth.backends.ModelBackend")
    form = page.get(f"/assigned/{cast.assigned.pk}/").context["form"]
    return {name: field.initial or "" for name, field in form.fields.items() if "-" in name}


# The teacher's own; a student and her guardian see what is theirs.
THEIRS = (200, 200, 200, 404, 404, 404, 302)

LESSONS: dict[str, Row] = {
    "today": Row(get=teachers(200, next_door=200)),
    "week": Row(get=teachers(200, next_door=200)),
    "new-lesson": Row(get=teachers(200, next_door=200), post=teachers(302, next_door=422), data=lesson_fields),
    "lesson": Row(get=teachers(200), target=of_lesson),
    "keep-lesson-notes": Row(
        get=teachers(405, next_door=405), post=teachers(302), target=of_lesson, data=lambda cast: {"notes": "Sing it."}
    ),
    "remove-lesson": Row(get=teachers(200), post=teachers(302), target=of_lesson),
    "restore-lesson": Row(get=teachers(405, next_door=405), post=teachers(302), target=of_removed_lesson),
    "assign": Row(
        get=teachers(200), post=teachers(302), target=of_lesson, data=lambda cast: {"passage": cast.passage.pk}
    ),
    "keep-assignment": Row(
        get=teachers(405, next_door=405),
        post=teachers(302),
        target=of_assignment,
        data=lambda cast: {"remark": "Slowly."},
    ),
    "remove-assignment": Row(get=teachers(405, next_door=405), post=teachers(302), target=of_assignment),
    "restore-work": Row(get=teachers(405, next_door=405), post=teachers(302), target=of_removed_work),
    "assigned": Row(get=teachers(200), post=teachers(302), target=of_assigned, data=choices),
    "move-assigned": Row(
        get=teachers(405, next_door=405), post=teachers(302), target=of_assigned, data=lambda cast: {"to": "up"}
    ),
    "remove-assigned": Row(get=teachers(405, next_door=405), post=teachers(302), target=of_assigned),
    "assigned-music": Row(get=THEIRS, target=of_assigned),
    "assigned-sounding": Row(get=THEIRS, target=of_assigned),
    "assigned-midi": Row(get=THEIRS, target=of_assigned),
    "handout-preview": Row(get=teachers(200), target=of_lesson),
    "handout-draft": Row(get=teachers(200), target=of_lesson),
    "give-handout": Row(get=teachers(405, next_door=405), post=teachers(302), target=of_lesson),
    "handout": Row(get=THEIRS, target=of_handout),
    "handout-pdf": Row(get=THEIRS, target=of_handout),
}

TABLE: dict[str, Row] = LESSONS | PROGRESS | FEEDS | AT_LESSONS | REPERTOIRE | PREPARATION | TUITION | CALENDAR | ASKING
