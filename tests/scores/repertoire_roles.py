"""Who gets what at the addresses of the repertoire."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from scores.models import Upload
from tests.music import LAENDLER
from tests.people import Cast
from tests.roles import Row, teachers


def its_piece(cast: Cast) -> Mapping[str, Any]:
    return {"pk": cast.edition.piece_id}


def its_edition(cast: Cast) -> Mapping[str, Any]:
    return {"pk": cast.edition.pk}


def its_passage(cast: Cast) -> Mapping[str, Any]:
    return {"pk": cast.passage.pk}


def an_upload(cast: Cast) -> Mapping[str, Any]:
    row = Upload.objects.create(studio=cast.studio, user=cast.teacher, key=uuid.UUID(int=1))
    return {"key": row.key}


def a_title(cast: Cast) -> Mapping[str, Any]:
    return {"title": "Evening Song"}


def a_file(cast: Cast) -> Mapping[str, Any]:
    return {"file": SimpleUploadedFile("laendler.musicxml", LAENDLER.encode())}


def a_label(cast: Cast) -> Mapping[str, Any]:
    return {"label": "Second print"}


def a_range(cast: Cast) -> Mapping[str, Any]:
    return {"first_measure": "1", "last_measure": "2", "hands": "right"}


def typed(cast: Cast) -> Mapping[str, Any]:
    return {"label": "Brandt, printed", "first_number": 17, "metre": "3/4", "key": "Eb", "right": "B2 c2 d2 |"}


TABLE: dict[str, Row] = {
    "new-piece": Row(teachers(200, next_door=200), teachers(302, next_door=302), data=a_title),
    "piece": Row(teachers(200), target=its_piece),
    "change-piece": Row(teachers(200), teachers(302), target=its_piece, data=a_title),
    "remove-piece": Row(teachers(200), teachers(422), target=its_piece),
    "new-edition": Row(teachers(200), teachers(302), target=its_piece, data=a_file),
    "upload-state": Row(teachers(200), target=an_upload),
    "enter-passage": Row(teachers(200), teachers(302), target=its_piece, data=typed),
    "entry-preview": Row(teachers(405, next_door=405), teachers(200, next_door=200), data=typed),
    "edition": Row(teachers(200), target=its_edition),
    "change-edition": Row(teachers(200), teachers(302), target=its_edition, data=a_label),
    "remove-edition": Row(teachers(200), teachers(302), target=its_edition),
    "edition-systems": Row(teachers(200), target=its_edition),
    "edition-file": Row(teachers(200), target=its_edition),
    "new-passage": Row(teachers(302), teachers(302), target=its_edition, data=a_range),
    "name-passage": Row(teachers(200), teachers(302), target=its_passage, data=lambda cast: {"name": "The turn"}),
    "remove-passage": Row(teachers(405, next_door=405), teachers(302), target=its_passage),
    "restore-passage": Row(teachers(405, next_door=405), teachers(302), target=its_passage),
}
