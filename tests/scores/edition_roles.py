"""Who gets what where editions are compared, passages taken over and files exchanged."""

from datetime import UTC, datetime

from django.core import signing

from scores import reattaching, replacing
from scores.models import Replacement
from scores.reading_files.reading import read
from scores.views.reattaching import SALT
from tests import make
from tests.music import LAENDLER
from tests.people import Cast
from tests.roles import Row, teachers
from tests.scores.repertoire_roles import a_file, its_edition, its_passage, its_piece

AT = datetime(2020, 12, 1, tzinfo=UTC)


def sent(cast: Cast) -> Replacement:
    return replacing.propose(
        edition=cast.edition, read=read("a.musicxml", LAENDLER.encode()), name="a.musicxml", original=b"x"
    )


def its_replacement(cast: Cast) -> dict[str, int]:
    return {"pk": sent(cast).pk}


def its_exchange(cast: Cast) -> dict[str, int]:
    return {"pk": replacing.exchange(studio=cast.studio, replacement=sent(cast).pk, at=AT).pk}


def its_reattaching(cast: Cast) -> dict[str, str]:
    there = make.edition(piece=cast.edition.piece, label="First print")
    made = reattaching.reattach(reattaching.plan(cast.passage, there), at=AT, keep=True)
    return {"token": signing.dumps([cast.passage.pk, made.pk], salt=SALT)}


def another_edition(cast: Cast) -> dict[str, object]:
    return {"to": make.edition(piece=cast.edition.piece, label="First print").pk}


ONLY_POSTED = teachers(405, next_door=405)

TABLE: dict[str, Row] = {
    "compare": Row(teachers(200), target=its_piece),
    "readings": Row(teachers(200), target=its_passage),
    "reattach": Row(teachers(200), teachers(302), target=its_passage, data=another_edition),
    "take-reattaching-back": Row(ONLY_POSTED, teachers(302), target=its_reattaching),
    "new-replacement": Row(teachers(200), teachers(302), target=its_edition, data=a_file),
    "replacement": Row(teachers(200), target=its_replacement),
    "exchange": Row(ONLY_POSTED, teachers(302), target=its_replacement),
    "take-exchange-back": Row(ONLY_POSTED, teachers(302), target=its_exchange),
    "exchange-looked-at": Row(ONLY_POSTED, teachers(302), target=its_exchange),
}
