"""Who gets what where rhythms are practised."""

from tests.roles import Row
from tests.scores.playing_roles import EVERYONE, ONLY_GET

TABLE: dict[str, Row] = {
    "cross-rhythm": Row(get=EVERYONE, post=ONLY_GET),
    "ratio-chart": Row(get=EVERYONE, post=ONLY_GET),
}
