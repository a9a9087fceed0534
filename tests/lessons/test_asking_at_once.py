"""Two families at one moment: of two who want one time, one gets it."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier

import pytest
from django.db import connection

from lessons import asking, waiting
from lessons.models import Lesson, Offer, Policy
from tests import make, people

AT = datetime(2021, 2, 1, 6, tzinfo=UTC)
FREE = datetime(2021, 2, 4, 13, tzinfo=UTC)


@pytest.fixture
def cast(transactional_db):
    return people.gather()


def together(*works: Callable[[], object]) -> list[object]:
    """Begins all at one moment; gives what each gave, or what it raised."""
    start = Barrier(len(works))

    def run(work: Callable[[], object]) -> object:
        start.wait(timeout=20)
        try:
            return work()
        except (waiting.OfferOver, asking.TimeTaken, asking.NotAnyMore) as trouble:
            return trouble
        finally:
            connection.close()

    with ThreadPoolExecutor(len(works)) as pool:
        return list(pool.map(run, works))


def test_two_accept_one_time_and_one_lesson_is_planned(cast):
    given = {"studio": cast.studio, "starts_at": FREE, "minutes": 45, "expires_at": FREE}
    offers = [Offer.objects.create(student=student, **given) for student in (cast.oda, cast.ravi)]
    found = together(*(lambda offer=offer: waiting.accept(offer=offer, at=AT) for offer in offers))
    assert sorted(type(one).__name__ for one in found) == ["Lesson", "OfferOver"]
    assert Lesson.objects.get().starts_at == FREE
    assert sorted(Offer.objects.values_list("state", flat=True)) == ["gone", "taken"]


def test_two_move_to_one_time_and_the_later_is_told(cast):
    Policy.objects.create(studio=cast.studio, may_move=True)
    rows = [
        (make.lesson(student=cast.oda, starts_at=FREE + timedelta(days=4)), cast.birger.user),
        (make.lesson(student=cast.ravi, starts_at=FREE + timedelta(days=5)), cast.sunita.user),
    ]
    found = together(
        *(
            lambda lesson=lesson, by=by: asking.ask(lesson=lesson, by=by, kind="move", wanted=FREE, listed=True, at=AT)
            for lesson, by in rows
        )
    )
    assert sorted(type(one).__name__ for one in found) == ["TimeTaken", "tuple"]
    assert Lesson.objects.filter(starts_at=FREE).count() == 1


def test_pressed_twice_at_once_one_question_is_kept(cast):
    lesson = make.lesson(student=cast.oda, starts_at=FREE)
    works = [lambda: asking.ask(lesson=lesson, by=cast.birger.user, kind="cancel", at=AT)] * 2
    found = together(*works)
    assert sorted(type(one).__name__ for one in found) == ["NotAnyMore", "tuple"]
    assert lesson.asked.count() == 1
