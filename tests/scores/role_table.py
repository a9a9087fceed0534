"""Who gets what at this room's addresses."""

from tests.roles import Row
from tests.scores.desk_roles import TABLE as DESK
from tests.scores.playing_roles import TABLE as PLAYING
from tests.scores.repertoire_roles import TABLE as REPERTOIRE

TABLE: dict[str, Row] = {**REPERTOIRE, **DESK, **PLAYING}
