"""Who gets what at the calendar links, the feeds and the way out of the mails."""

from datetime import UTC, datetime

from lessons import busy, feeds, notices
from lessons.models import Lesson
from tests import make
from tests.people import Cast
from tests.roles import Row, open_to_all, teachers

AT = datetime(2020, 12, 1, tzinfo=UTC)
HERE = (200, 200, 200, 200, 200, 200, 302)
POSTED = (302,) * 7
ONLY_POSTED = (405,) * 6 + (302,)
HERS = (404, 302, 404, 404, 404, 404, 302)  # Oda's own link, nobody else's


def a_wish(cast: Cast) -> dict[str, object]:
    return {"changes": "on", "hours_before": "24"}


def her_link(cast: Cast) -> dict[str, int]:
    return {"pk": feeds.make_feed(cast.oda.user).pk}


def her_feed(cast: Cast) -> dict[str, str]:
    return {"token": feeds.link_to(feeds.make_feed(cast.oda.user)).rsplit("/", 1)[-1].removesuffix(".ics")}


def a_way_out(cast: Cast) -> dict[str, str]:
    lesson: Lesson = make.lesson(student=cast.oda, starts_at=datetime(2100, 1, 1, tzinfo=UTC))
    return {"token": notices.token_for(notices.tell_of_change(lesson, "cancelled", at=AT)[0])}


def taken_out(cast: Cast) -> dict[str, str]:
    return {"key": busy.take_out(studio=cast.studio, source="choir")}


TABLE: dict[str, Row] = {
    "busy-times": Row(teachers(200, next_door=200), teachers(422, next_door=422)),
    "take-busy-out": Row(teachers(405, next_door=405), teachers(302, next_door=302)),
    "bring-busy-back": Row(teachers(405, next_door=405), teachers(302), target=taken_out),
    "calendar-links": Row(HERE, POSTED, data=a_wish),
    "make-link": Row(ONLY_POSTED, POSTED),
    "end-link": Row(ONLY_POSTED, HERS, target=her_link),
    "restore-link": Row(ONLY_POSTED, HERS, target=her_link),
    "send-again": Row(teachers(405, next_door=405), teachers(302, next_door=302)),
    # A calendar program has no login: who has the link reads.
    "feed": Row(open_to_all(200), target=her_feed),
    "stop-mails": Row(open_to_all(200), open_to_all(200), target=a_way_out),
}
