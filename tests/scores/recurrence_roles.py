"""Who gets what at the addresses of notes that stand at other places."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from scores.inheriting import depart, follow_again, here
from scores.models import Passage
from tests import make
from tests.people import Cast
from tests.roles import Row, teachers
from tests.scores.rondino import RONDINO

ONLY_POST = teachers(405, next_door=405)


def source(cast: Cast) -> Passage:
    """A fingered theme that comes again four measures later."""
    edition = make.edition(
        piece=make.piece(studio=cast.studio, title="Rondino"), music=RONDINO, name="rondino.musicxml"
    )
    notes = edition.score.in_measures(0, 1, "right")
    passage = make.passage(edition=edition, first=notes[0].id, last=notes[-1].id)
    make.fingering(passage=passage, fingers={notes[0].id: "1"})
    return passage


def its_note(cast: Cast) -> Mapping[str, Any]:
    """The line of the theme, at the place where it comes again."""
    passage = source(cast)
    notes = passage.edition.score.in_measures(4, 5, "right")
    place = make.passage(edition=passage.edition, first=notes[0].id, last=notes[-1].id)
    return {"pk": place.pk, "kind": "fingering", "note": passage.fingerings.get().pk}


def its_own_note(cast: Cast) -> Mapping[str, Any]:
    """The same, with the place's own line that was put aside."""
    target = its_note(cast)
    place = Passage.objects.get(pk=target["pk"])
    own = depart(note=here(place).fingerings[0])
    follow_again(passage=place, source=own.instead_of, at=datetime(2020, 11, 24, tzinfo=UTC))
    return {**target, "own": own.pk}


def its_return(cast: Cast) -> Mapping[str, Any]:
    return {"pk": source(cast).pk, "measure": 4}


TABLE: dict[str, Row] = {
    "depart-note": Row(ONLY_POST, teachers(302), target=its_note),
    "leave-out-note": Row(ONLY_POST, teachers(302), target=its_note),
    "follow-note": Row(ONLY_POST, teachers(302), target=its_note),
    "return-note": Row(ONLY_POST, teachers(302), target=its_own_note),
    "mark-return": Row(ONLY_POST, teachers(302), target=its_return),
}
