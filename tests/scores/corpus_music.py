"""Piano music of the corpus that music21 brings along, read from the installed package."""

import zipfile
from pathlib import Path

from lxml import etree
from music21 import corpus

from tests.music import LAENDLER

PIECES = (
    "schumann_clara/polonaise_op1n1",
    "schumann_clara/polonaise_op1n2",
    "schumann_clara/polonaise_op1n3",
    "schumann_clara/polonaise_op1n4",
    "mozart/k545/movement1_exposition",
    "joplin/maple_leaf_rag",
)


def with_ids(music: bytes) -> bytes:
    root = etree.fromstring(music, etree.XMLParser(load_dtd=False, no_network=True, resolve_entities=False))
    for number, note in enumerate(root.iter("note")):
        note.set("id", f"n{number}")
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8")


def corpus_music(name: str) -> bytes:
    """A corpus file's own MusicXML, every note with an id."""
    path = Path(corpus.getWork(name))
    if path.suffix != ".mxl":
        return with_ids(path.read_bytes())
    with zipfile.ZipFile(path) as archive:
        inside = [entry for entry in archive.namelist() if not entry.startswith("META-INF") and "xml" in entry]
        return with_ids(archive.read(inside[0]))


def laendler() -> bytes:
    return with_ids(LAENDLER.encode())


def pitched(music: bytes, first: int = 0, last: int = 10_000, staff: str = "") -> list[str]:
    """The ids of the notes (not the rests) in these measures, counted by position, by a plain reading of the XML."""
    return [
        note.get("id")
        for part in etree.fromstring(music).iter("part")
        for measure in part.findall("measure")[first : last + 1]
        for note in measure.iter("note")
        if note.find("pitch") is not None and (not staff or note.findtext("staff", "1") == staff)
    ]


def some_fingers(notes: list[str]) -> dict[str, str]:
    texts = ("1", "2", "3", "4-5", "5", "2-1")
    return {note: texts[place % len(texts)] for place, note in enumerate(notes)}
