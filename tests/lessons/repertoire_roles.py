"""Who gets what at the addresses of the repertoire's list and of what a student plays."""

from lessons import repertoire
from lessons.models import PlayedPiece
from tests.people import Cast
from tests.roles import Row, teachers


def of_oda(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def a_status(cast: Cast) -> dict[str, object]:
    return {"piece": cast.edition.piece_id, "status": "learned"}


def said(cast: Cast) -> PlayedPiece:
    return repertoire.say_status(student=cast.oda, piece=cast.edition.piece, fields={"status": "learned"})


def of_said(cast: Cast) -> dict[str, int]:
    return {"pk": said(cast).pk}


def of_unsaid(cast: Cast) -> dict[str, str]:
    return {"token": repertoire.unsay_status(said(cast))}


TABLE: dict[str, Row] = {
    "repertoire": Row(teachers(200, next_door=200)),
    "students-repertoire": Row((200, 200, 200, 404, 404, 404, 302), target=of_oda),
    "say-played": Row(teachers(200), teachers(302), target=of_oda, data=a_status),
    "unsay-played": Row(teachers(405, next_door=405), teachers(302), target=of_said),
    "say-again": Row(teachers(405, next_door=405), teachers(302), target=of_unsaid),
}
