"""Who gets what at this room's addresses."""

from tests.roles import Row

TABLE: dict[str, Row] = {}
