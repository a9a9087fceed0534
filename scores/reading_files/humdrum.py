"""Humdrum to MEI, with verovio, whose reading of **kern keeps fingerings (**fing), layers and crossed staves."""

from __future__ import annotations

import re
from pathlib import Path

import verovio

from scores.reading_files.terms import CannotRead
from scores.reading_files.terms import marked as _

NOT_UNDERSTOOD = _("The Humdrum file could not be understood. Check that its spines are complete.")
DATA = Path(verovio.__file__).parent / "data"


def mei_of_humdrum(data: bytes) -> bytes:
    """MEI with ids made from line and field, so that the same file gives the same ids. Raises `CannotRead`."""
    text = data.decode("utf-8", "replace").lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    text = re.sub(r"[\x00-\x08\x0b-\x1f]", "", text)
    check_spines(text)
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit(False)
    toolkit.setResourcePath(str(DATA))
    toolkit.setOptions({"inputFrom": "humdrum", "xmlIdSeed": 1})
    if not toolkit.loadData(text):
        raise CannotRead(NOT_UNDERSTOOD)
    return toolkit.getMEI({"scoreBased": True}).encode("utf-8")


def check_spines(text: str) -> None:
    """Follows the spines through splits and joins and refuses a file whose lines do not fit: what comes after is C code
    that trusts them."""
    count = 0
    for number, line in enumerate(text.split("\n"), start=1):
        if not line or line.startswith("!!"):
            continue
        fields = line.split("\t")
        if line.startswith("**"):
            count = len(fields)
            continue
        if not count or len(fields) != count or any(not one for one in fields):
            raise CannotRead(SPINES, {"line": number})
        if line.startswith("*"):
            count = spines_after(fields)


def spines_after(fields: list[str]) -> int:
    """How many spines the next line has (Humdrum syntax: *^ splits, neighbouring *v join, *- ends, *+ adds)."""
    count = 0
    joining = False
    for token in fields:
        if token == "*v":
            count += 0 if joining else 1
            joining = True
            continue
        joining = False
        count += {"*^": 2, "*-": 0, "*+": 2}.get(token, 1)
    return count


SPINES = _("Line %(line)s of the Humdrum file does not have as many fields as there are spines.")
