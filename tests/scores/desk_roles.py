"""Who gets what at the addresses of the desk."""

import json
from collections.abc import Mapping
from typing import Any

from scores.models import RhythmDrill
from scores.noting import keep_drill, plan_drill
from scores.ornamenting import token_of
from scores.rhythms import found_in
from tests import make
from tests.people import Cast
from tests.roles import Row, teachers

# A way that only takes a POST says so to every teacher, before it looks for the row.
ONLY_POST = teachers(405, next_door=405)


def its_passage(cast: Cast) -> Mapping[str, Any]:
    return {"pk": cast.passage.pk}


def its_fingering(cast: Cast) -> Mapping[str, Any]:
    return {"pk": cast.fingering.pk}


def its_drill(cast: Cast) -> Mapping[str, Any]:
    return {"pk": a_drill(cast).pk}


def its_changed_drill(cast: Cast) -> Mapping[str, Any]:
    return {"pk": keep_drill(drill=a_drill(cast), plan=[], remark="Later.").pk}


def its_cue(cast: Cast) -> Mapping[str, Any]:
    return {"pk": make.cue(passage=cast.passage).pk}


def a_drill(cast: Cast) -> RhythmDrill:
    [span] = found_in(cast.passage, [])
    return plan_drill(passage=cast.passage, start=span.start, end=span.end, tempo_now=60, tempo_goal=80)


def a_twin(cast: Cast) -> Mapping[str, Any]:
    """Another passage that anything may be copied to."""
    return {"passage": make.passage(edition=cast.edition, name="Once more").pk}


def a_hand(cast: Cast) -> Mapping[str, Any]:
    return {"side": "right"}


def a_line(cast: Cast) -> Mapping[str, Any]:
    return {"line": "2 2 4 2 3 5 4 2 3 5 4 4 3 13 5"}


def a_mapping(cast: Cast) -> Mapping[str, Any]:
    return {"fingers": json.dumps({cast.passage.first_note: "3"})}


def a_stretch(cast: Cast) -> Mapping[str, Any]:
    return {"first_note": cast.passage.first_note, "last_note": cast.passage.last_note, "remark": "Light."}


def a_period(cast: Cast) -> Mapping[str, Any]:
    return {"period": "baroque"}


def its_ornaments_before(cast: Cast) -> Mapping[str, Any]:
    return {"pk": cast.passage.pk, "token": token_of(cast.passage, [])}


def a_placement(cast: Cast) -> Mapping[str, Any]:
    turn = next(note for note in cast.edition.score.notes if note.ornaments)
    return {"note": turn.id, "placement": "on"}


def a_span(cast: Cast) -> Mapping[str, Any]:
    return {"start": "4", "end": "7", "tempo_now": "60", "tempo_goal": "88"}


def no_stages(cast: Cast) -> Mapping[str, Any]:
    return {"stage-TOTAL_FORMS": "0", "stage-INITIAL_FORMS": "0", "remark": "Later."}


def a_cue(cast: Cast) -> Mapping[str, Any]:
    return {"text": "Breathe.", "place": "beat:1:1"}


TABLE: dict[str, Row] = {
    "desk": Row(teachers(200), target=its_passage),
    "desk-music": Row(teachers(200), target=its_passage),
    "desk-hands": Row(teachers(200), target=its_passage),
    "new-fingering": Row(ONLY_POST, teachers(302), target=its_passage, data=a_hand),
    "propose-fingerings": Row(
        ONLY_POST, teachers(302), target=its_passage, data=lambda cast: {"side": "right", "size": "small"}
    ),
    "adopt-fingering": Row(ONLY_POST, teachers(302), target=its_fingering),
    "keep-fingering": Row(teachers(200), teachers(302), target=its_fingering, data=a_stretch),
    "keep-line": Row(ONLY_POST, teachers(302), target=its_fingering, data=a_line),
    "keep-fingers": Row(ONLY_POST, teachers(200), target=its_fingering, data=a_mapping),
    "copy-fingering": Row(teachers(200), teachers(302), target=its_fingering, data=a_twin),
    "remove-fingering": Row(ONLY_POST, teachers(302), target=its_fingering),
    "restore-fingering": Row(ONLY_POST, teachers(302), target=its_fingering),
    "keep-ornament": Row(ONLY_POST, teachers(302), target=its_passage, data=a_placement),
    "desk-ornaments": Row(teachers(200), target=its_passage),
    "take-over-style": Row(ONLY_POST, teachers(302), target=its_passage, data=a_period),
    "restore-ornaments": Row(ONLY_POST, teachers(302), target=its_ornaments_before),
    "new-drill": Row(ONLY_POST, teachers(302), target=its_passage, data=a_span),
    "keep-drill": Row(teachers(200), teachers(302), target=its_drill, data=no_stages),
    "drill-chart": Row(teachers(200), target=its_drill),
    "propose-drill": Row(ONLY_POST, teachers(302), target=its_drill),
    "undo-drill": Row(ONLY_POST, teachers(302), target=its_changed_drill),
    "copy-drill": Row(teachers(200), teachers(302), target=its_drill, data=a_twin),
    "remove-drill": Row(ONLY_POST, teachers(302), target=its_drill),
    "restore-drill": Row(ONLY_POST, teachers(302), target=its_drill),
    "new-cue": Row(ONLY_POST, teachers(302), target=its_passage, data=a_cue),
    "keep-cue": Row(teachers(200), teachers(302), target=its_cue, data=a_cue),
    "copy-cue": Row(teachers(200), teachers(302), target=its_cue, data=a_twin),
    "remove-cue": Row(ONLY_POST, teachers(302), target=its_cue),
    "restore-cue": Row(ONLY_POST, teachers(302), target=its_cue),
}
