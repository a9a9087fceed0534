"""Who gets what at the addresses of what is heard."""

from collections.abc import Mapping
from typing import Any

from tests.people import Cast
from tests.roles import Row, teachers
from tests.scores.desk_roles import a_drill

EVERYONE = (200, 200, 200, 200, 200, 200, 302)
ONLY_GET = (405, 405, 405, 405, 405, 405, 302)


def its_passage(cast: Cast) -> Mapping[str, Any]:
    return {"pk": cast.passage.pk}


def its_drill(cast: Cast) -> Mapping[str, Any]:
    return {"pk": a_drill(cast).pk}


TABLE: dict[str, Row] = {
    "sounding": Row(get=teachers(200), target=its_passage),
    "passage-midi": Row(get=teachers(200), target=its_passage),
    "drill-midi": Row(get=teachers(200), target=its_drill),
    "piano": Row(get=EVERYONE, post=ONLY_GET),
    "metronome": Row(get=EVERYONE, post=ONLY_GET),
}
