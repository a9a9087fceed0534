"""Who gets what at the addresses of the preparation list."""

from collections.abc import Mapping
from typing import Any

from scores.surveying import findings_of
from tests.people import Cast
from tests.roles import Row, teachers


def its_edition(cast: Cast) -> Mapping[str, Any]:
    return {"pk": cast.edition.pk}


def a_finding(name: str):
    def data(cast: Cast) -> Mapping[str, Any]:
        return {name: findings_of(cast.edition)[0].key}

    return data


TABLE: dict[str, Row] = {
    "preparation": Row(teachers(200), target=its_edition),
    "look-at-finding": Row(teachers(405, next_door=405), teachers(302), target=its_edition, data=a_finding("look")),
    "passage-of-finding": Row(teachers(405, next_door=405), teachers(302), target=its_edition, data=a_finding("key")),
    "switch-findings": Row(
        teachers(405, next_door=405), teachers(302), target=its_edition, data=lambda cast: {"kind": "grace"}
    ),
}
