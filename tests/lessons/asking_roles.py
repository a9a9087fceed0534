"""Who gets what at the questions of families, the waiting list and the offers."""

from datetime import UTC, datetime, timedelta

from django.utils import timezone

from lessons import asking, asking_mails, waiting
from lessons.models import Asked, Offer, Policy
from tests import make
from tests.people import Cast
from tests.roles import Row, open_to_all, teachers

FAR = datetime(2100, 6, 1, 12, tzinfo=UTC)
HERS = (404, 200, 200, 404, 404, 404, 302)
HERS_DONE = (404, 302, 302, 404, 404, 404, 302)
FOR_FAMILIES = (404, 405, 405, 405, 405, 404, 302)
FOR_TEACHERS = teachers(405, next_door=405)
FOR_ALL = (405,) * 6 + (302,)


def of_oda(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def of_lesson_ahead(cast: Cast) -> dict[str, int]:
    return {"pk": make.lesson(student=cast.oda, starts_at=FAR).pk}


def a_question(cast: Cast) -> Asked:
    lesson = make.lesson(student=cast.oda, starts_at=FAR)
    return asking.ask(lesson=lesson, by=cast.birger.user, kind="cancel", at=timezone.now())[0]


def of_question(cast: Cast) -> dict[str, int]:
    return {"pk": a_question(cast).pk}


def of_answer(cast: Cast) -> dict[str, str]:
    """Birger's undo of what the rules granted him; nobody else's, the teacher's neither."""
    Policy.objects.create(studio=cast.studio, may_cancel=True)
    lesson = make.lesson(student=cast.oda, starts_at=FAR)
    return {"token": asking.ask(lesson=lesson, by=cast.birger.user, kind="cancel", at=timezone.now())[1]}


def who_waits(cast: Cast) -> dict[str, int]:
    return {"pk": waiting.put_on(student=cast.oda, minutes=45, at=timezone.now()).pk}


def who_waited(cast: Cast) -> dict[str, str]:
    row = waiting.put_on(student=cast.oda, minutes=45, at=timezone.now())
    return {"token": waiting.take_off(waiting=row)}


def of_offer(cast: Cast) -> dict[str, str]:
    offer = Offer.objects.create(
        studio=cast.studio,
        student=cast.oda,
        starts_at=FAR,
        minutes=45,
        expires_at=timezone.now() + timedelta(days=1),
    )
    return {"token": asking_mails.token_of(offer)}


TABLE: dict[str, Row] = {
    "coming-lessons": Row(HERS, target=of_oda),
    "ask": Row(HERS, HERS_DONE, target=of_lesson_ahead, data=lambda cast: {"kind": "cancel"}),
    "asked": Row(teachers(200, next_door=200)),
    "grant": Row(FOR_TEACHERS, teachers(302), target=of_question),
    "refuse": Row(FOR_TEACHERS, teachers(302), target=of_question),
    "withdraw": Row(FOR_FAMILIES, HERS_DONE, target=of_question),
    "undo-answer": Row(FOR_ALL, (404, 404, 302, 404, 404, 404, 302), target=of_answer),
    "waiting": Row(teachers(200, next_door=200)),
    "put-on-list": Row(teachers(200), teachers(302), target=of_oda, data=lambda cast: {"minutes": 45}),
    "take-off-list": Row(FOR_TEACHERS, teachers(302), target=who_waits),
    "put-back-on-list": Row(FOR_TEACHERS, teachers(302), target=who_waited),
    "offer-time": Row(FOR_TEACHERS, teachers(302, next_door=302), data=lambda cast: {"freed": "1", "student": "1"}),
    "take-offer-back": Row(FOR_TEACHERS, teachers(302, next_door=302), target=lambda cast: {"key": "1"}),
    # A guardian without a login accepts by the link in her mail: who has the link may.
    "offer": Row(open_to_all(200), open_to_all(200), target=of_offer),
}
