"""The survey of a long work. Runs in the workshop, so it knows nothing of models and forms."""

import zlib
from typing import Any

from scores.music.survey import Options, survey
from scores.music.survey.stored import to_data
from scores.reading_files.stored import from_json


def survey_packed(packed: bytes, options: Options) -> list[list[Any]]:
    """The findings of a stored score, as `survey.stored` writes them."""
    return to_data(survey(from_json(zlib.decompress(packed).decode()), options))
