"""Who gets what at the addresses of progress."""

from tests.people import Cast
from tests.roles import Row, teachers

THEIRS = (200, 200, 200, 404, 404, 404, 302)


def of_oda(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def of_passage(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk, "passage": cast.assigned.passage_id}


TABLE: dict[str, Row] = {
    "progress-of-all": Row(teachers(200, next_door=200)),
    "students-progress": Row(THEIRS, target=of_oda),
    "passage-progress": Row(THEIRS, target=of_passage),
}
