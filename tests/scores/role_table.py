"""Who gets what at this room's addresses."""

from tests.roles import Row
from tests.scores.desk_roles import TABLE as DESK
from tests.scores.drill_roles import TABLE as DRILLS
from tests.scores.edition_roles import TABLE as EDITIONS
from tests.scores.playing_roles import TABLE as PLAYING
from tests.scores.recurrence_roles import TABLE as RECURRENCES
from tests.scores.repertoire_roles import TABLE as REPERTOIRE
from tests.scores.survey_roles import TABLE as SURVEY

TABLE: dict[str, Row] = {**REPERTOIRE, **DESK, **DRILLS, **EDITIONS, **PLAYING, **RECURRENCES, **SURVEY}
