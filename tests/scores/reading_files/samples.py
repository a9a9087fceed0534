"""Small scores invented for the tests of reading, one in each format, and builders for what a file may hold."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable
from pathlib import Path

import mido
import music21
from lxml import etree

from tests.music import ATTRIBUTES, BACK, grace, note, rest

CONTAINER = (
    '<?xml version="1.0"?><container><rootfiles><rootfile full-path="{name}" '
    'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>'
)

CORPUS = Path(music21.__file__).parent / "corpus"


def corpus_file(name: str) -> bytes:
    """A file of the installed music21 corpus, read where it lies."""
    return (CORPUS / name).read_bytes()


def raw_tree(data: bytes) -> etree._Element:
    """The XML of a MusicXML file, compressed or not, by the plainest way: for counting beside the reader."""
    if data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            name = next(name for name in archive.namelist() if not name.startswith("META-INF"))
            data = archive.read(name)
    return etree.fromstring(data, etree.XMLParser(load_dtd=False, resolve_entities=False, no_network=True))


def part(body: str, *, id: str = "P1") -> str:
    return f'<part id="{id}">{body}</part>'


def listed(id: str, name: str = "Piano") -> str:
    return f'<score-part id="{id}"><part-name>{name}</part-name></score-part>'


def whole(parts: str, *, names: Iterable[tuple[str, str]] = (("P1", "Piano"),), head: str = "") -> bytes:
    """Parts as a whole MusicXML file; `head` goes before the list of parts."""
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">'
        f"{head}<part-list>{''.join(listed(id, name) for id, name in names)}</part-list>{parts}</score-partwise>"
    ).encode()


def one_staff(notes: str, *, sign: str = "G", metre: tuple[int, int] = (3, 4), divisions: int = 12) -> str:
    """Attributes of a part of one staff, and notes that bear no <staff>."""
    line = {"G": 2, "F": 4}[sign]
    return (
        f"<attributes><divisions>{divisions}</divisions><key><fifths>0</fifths></key>"
        f"<time><beats>{metre[0]}</beats><beat-type>{metre[1]}</beat-type></time>"
        f"<clef><sign>{sign}</sign><line>{line}</line></clef></attributes>{notes.replace('<staff>1</staff>', '')}"
    )


def measure(inside: str, number: str = "1", **attributes: str) -> str:
    more = "".join(f' {name}="{value}"' for name, value in attributes.items())
    return f'<measure number="{number}"{more}>{inside}</measure>'


def piano(*measures: str, head: str = "") -> bytes:
    """A piano part in three flats and 3/4; twelve divisions to a quarter; numbered from 1."""
    bodies = [ATTRIBUTES + measures[0], *measures[1:]]
    return whole(part("".join(measure(body, str(place)) for place, body in enumerate(bodies, 1))), head=head)


def three_quarters(*names: str, staff: int = 1) -> str:
    return "".join(note(name, "quarter", staff=staff) for name in names)


PLAIN_MEASURE = three_quarters("C5", "D5", "E5") + BACK + three_quarters("C3", "G3", "C3", staff=2)
PLAIN = piano(PLAIN_MEASURE)


def zipped(files: dict[str, bytes | str], *, container: str | None = "score.musicxml") -> bytes:
    """A zip of these files, with a container that names one of them."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        if container:
            archive.writestr("META-INF/container.xml", CONTAINER.format(name=container))
        for name, body in files.items():
            archive.writestr(name, body)
    return out.getvalue()


def midi(
    tracks: Iterable[Iterable[tuple[float, float, int]]],
    *,
    metres: Iterable[tuple[float, int, int]] = ((0, 4, 4),),
    tempo: int = 90,
    channel: int | None = None,
    names: Iterable[str] = (),
    key: str = "C",
) -> bytes:
    """A MIDI file written by mido. Notes are (start, length, key), in quarters."""
    file = mido.MidiFile(ticks_per_beat=480)
    head = mido.MidiTrack()
    head.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo)))
    head.append(mido.MetaMessage("key_signature", key=key))
    now = 0
    for at, beats, unit in metres:
        ticks = round(at * 480)
        head.append(mido.MetaMessage("time_signature", numerator=beats, denominator=unit, time=ticks - now))
        now = ticks
    file.tracks.append(head)
    labels = list(names)
    for place, notes in enumerate(tracks):
        track = mido.MidiTrack()
        if place < len(labels):
            track.append(mido.MetaMessage("track_name", name=labels[place]))
        events = []
        for start, length, key_number in notes:
            events.append((round(start * 480), 1, key_number))
            events.append((round((start + length) * 480), 0, key_number))
        now = 0
        for ticks, down, key_number in sorted(events):
            kind = "note_on" if down else "note_off"
            where = place if channel is None else channel
            track.append(mido.Message(kind, note=key_number, velocity=64, channel=where, time=ticks - now))
            now = ticks
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


# A pick-up, a tie over the bar line, a triplet, a grace with a stroke, ornaments, fingers, two endings: the same in
# every format that can say it.
MEI = """<?xml version="1.0" encoding="UTF-8"?>
<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">
<meiHead><fileDesc><titleStmt><title>Song of the Kettle</title>
<composer>Invented</composer></titleStmt><pubStmt/></fileDesc></meiHead>
<music><body><mdiv><score>
<scoreDef meter.count="3" meter.unit="4" keysig="1s">
 <staffGrp symbol="brace"><staffDef n="1" lines="5" clef.shape="G" clef.line="2"/>
 <staffDef n="2" lines="5" clef.shape="F" clef.line="4"/></staffGrp></scoreDef>
<section>
<measure n="0" metcon="false" xml:id="m0">
 <staff n="1"><layer n="1"><note xml:id="a1" pname="d" oct="5" dur="4"/></layer></staff>
 <staff n="2"><layer n="1"><rest xml:id="r1" dur="4"/></layer></staff>
 <tempo tstamp="1" staff="1" mm="96" mm.unit="4">Calmly</tempo>
</measure>
<measure n="1">
 <staff n="1"><layer n="1">
  <graceGrp><note xml:id="g1" pname="a" oct="4" dur="8" grace="unacc" stem.mod="1slash"/></graceGrp>
  <note xml:id="a2" pname="b" oct="4" dur="4" dots="1"/>
  <beam><note xml:id="a3" pname="c" oct="5" dur="8"/></beam>
  <note xml:id="a4" pname="d" oct="5" dur="4"/></layer></staff>
 <staff n="2"><layer n="1"><chord xml:id="c1" dur="2" dots="1"><note xml:id="b1" pname="g" oct="2"/>
  <note xml:id="b2" pname="d" oct="3"/></chord></layer></staff>
 <trill startid="#a2" accidupper="s"/>
 <fing startid="#a3">4-5</fing>
 <fing startid="#b1">5</fing><fing startid="#b2">1</fing>
 <tie startid="#a4" endid="#a5"/>
 <slur startid="#a2" endid="#a4"/>
 <arpeg startid="#c1"/>
</measure>
<ending n="1"><measure n="2" right="rptend">
 <staff n="1"><layer n="1"><note xml:id="a5" pname="d" oct="5" dur="4"/>
  <tuplet num="3" numbase="2"><beam><note xml:id="t1" pname="f" oct="4" dur="8"/>
   <note xml:id="t2" pname="g" oct="4" dur="8"/><note xml:id="t3" pname="a" oct="4" dur="8"/></beam></tuplet>
  <note xml:id="a6" pname="g" oct="4" dur="4"/></layer></staff>
 <staff n="2"><layer n="1"><note xml:id="b3" pname="b" oct="2" dur="2" staff="1"/>
  <note xml:id="b4" pname="d" oct="3" dur="4"/></layer></staff>
 <mordent startid="#a6" form="lower"/><turn startid="#a5" delayed="true"/>
 <fingGrp startid="#a6" form="alter"><fing>2</fing><fing>3</fing></fingGrp>
</measure></ending>
<ending n="2"><measure n="3" right="end">
 <staff n="1"><layer n="1"><note xml:id="a7" pname="g" oct="4" dur="2" dots="1"/></layer></staff>
 <staff n="2"><layer n="1"><mRest xml:id="r2"/></layer></staff>
</measure></ending>
</section></score></mdiv></body></music></mei>
"""

KERN = (
    "!!!OTL: Song of the Kettle\n!!!COM: Invented\n"
    "**kern\t**kern\t**fing\n*staff2\t*staff1\t*staff1\n*clefF4\t*clefG2\t*\n*k[f#]\t*k[f#]\t*\n*M3/4\t*M3/4\t*\n"
    "4r\t4dd\t2\n"
    "=1\t=1\t=1\n"
    "2.GG 2.D\t8qa\t.\n"
    ".\t4.bT\t3\n"
    ".\t8cc\t4\n"
    ".\t[4dd\t.\n"
    "=2\t=2\t=2\n"
    "2BB\t4dd]\t.\n"
    ".\t12f#L\t1\n"
    ".\t12g\t.\n"
    ".\t12aJ\t.\n"
    "4D\t4gW\t.\n"
    "=3:|!\t=3:|!\t=3:|!\n"
    "2.GG\t2.g\t.\n"
    "==\t==\t==\n*-\t*-\t*-\n"
)

ABC = """X:1
T:Song of the Kettle
C:Invented
M:3/4
L:1/8
Q:1/4=96
%%score {RH LH}
V:RH clef=treble
V:LH clef=bass
K:G
[V:RH] !2!d2 | {/A}TB3 !4-5!c d2- |1 d2 (3FGA !mordent!G2 :|2 G6 |]
[V:LH] z2 | [!5!G,,!1!D,]6 |1 B,,4 D,2 :|2 z6 |]
"""

__all__ = ["ABC", "KERN", "MEI", "PLAIN", "grace", "rest"]
