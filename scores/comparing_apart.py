"""The comparison of long works. Runs in the workshop, so it knows nothing of models and forms."""

import zlib

from scores.music.readings import Comparison, compare
from scores.reading_files.stored import from_json


def compare_packed(first: bytes, second: bytes) -> Comparison:
    """`readings.compare` of two stored scores. Raises `NoReadings`."""
    return compare(*(from_json(zlib.decompress(packed).decode()) for packed in (first, second)))
