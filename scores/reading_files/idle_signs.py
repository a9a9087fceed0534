"""Ornaments that stand where nothing sounds."""

from __future__ import annotations

from lxml import etree

from scores.reading_files.terms import marked as _

ON_RESTS = _("An ornament stands on a rest, where no key is struck: it is not written out. Measures: %(measures)s.")


def measures_with_idle_signs(part: etree._Element) -> list[str]:
    """The numbers of the measures in which a rest bears an ornament."""
    return [
        measure.get("number", "")
        for measure in part.iterfind("measure")
        if any(note.find("rest") is not None and note.find("notations/ornaments/*") is not None for note in measure)
    ]
