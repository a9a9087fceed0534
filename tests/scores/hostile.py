"""Files that nobody should send, and what the page says to each: made here, none larger than it must be."""

import io
import zipfile
from collections.abc import Callable

from tests.music import LAENDLER, note, score

CONTAINER = '<?xml version="1.0"?><container><rootfiles><rootfile full-path="{path}"/></rootfiles></container>'


def zipped(files: dict[str, bytes], *, compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", compression) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return packed.getvalue()


def entity_bomb() -> bytes:
    layers = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 9))
    return (
        f'<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY l0 "ha">{layers}]>'
        "<score-partwise><work><work-title>&l8;</work-title></work></score-partwise>"
    ).encode()


def zip_bomb() -> bytes:
    return zipped(
        {"META-INF/container.xml": CONTAINER.format(path="a.xml").encode(), "a.xml": b"<" + b" " * (110 << 20)}
    )


def path_in_zip() -> bytes:
    return zipped(
        {"META-INF/container.xml": CONTAINER.format(path="../../a.xml").encode(), "../../a.xml": LAENDLER.encode()}
    )


def three_staves() -> bytes:
    inside = (
        "<attributes><divisions>12</divisions><staves>3</staves></attributes>"
        + "<backup><duration>12</duration></backup>".join(note("C4", "quarter", staff=staff) for staff in (1, 2, 3))
    )
    return score([inside], title="Three staves").encode()


def no_notes() -> bytes:
    return score(["<attributes><divisions>12</divisions></attributes>"], title="Nothing").encode()


def too_many_measures() -> bytes:
    return score([note("C4", "quarter")] * 10_000, title="Ten thousand").encode()


def only_drums() -> bytes:
    drum = (
        "<note><unpitched><display-step>C</display-step><display-octave>5</display-octave></unpitched>"
        "<duration>12</duration><type>quarter</type></note>"
    )
    head = "<attributes><divisions>12</divisions><clef><sign>percussion</sign></clef></attributes>"
    return score([head + drum], title="Drum").encode()


# What is sent: the file's name, its bytes, words of the answer.
HOSTILE: dict[str, tuple[str, Callable[[], bytes], str]] = {
    "an empty file": ("a.xml", lambda: b"", "is empty"),
    "a PDF under the name of a score": ("a.mxl", lambda: b"%PDF-1.7\n%\xe2\xe3", "PDF"),
    "an entity bomb": ("a.xml", entity_bomb, "entities"),
    "a zip bomb": ("a.mxl", zip_bomb, "would unpack to more than"),
    "a path out of the zip": ("a.mxl", path_in_zip, "unsafe name"),
    "broken XML": ("a.musicxml", lambda: LAENDLER.encode()[:1500], "not well-formed"),
    "three staves": ("a.musicxml", three_staves, "3 staves"),
    "a score without notes": ("a.musicxml", no_notes, "no notes"),
    "ten thousand measures": ("a.musicxml", too_many_measures, "measures"),
    "nothing but drums": ("a.musicxml", only_drums, "percussion only"),
    "what is no score at all": ("a.krn", lambda: b"\x00\x01\x02 hello", "not a score"),
}
