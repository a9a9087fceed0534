"""What the desk of one passage shows, gathered into one dataclass."""

import logging
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from scores.digits import with_fingers
from scores.elsewhere import OtherPlaces, gather_other_places
from scores.engraving import FingerLine, System, engrave_cached
from scores.inheriting import here_now
from scores.lines import Join, ShownLine, joins_of, shown_lines
from scores.marking import beat_words
from scores.models import Cue, Passage
from scores.music.notation import Note, Score, Side
from scores.ornament_places import OrnamentPlace
from scores.ornaments_desk import OrnamentDesk, gather_ornaments
from scores.recurring import joined
from scores.rhythms import FoundSpan, ShownDrill, found_in, shown_drill
from scores.stretches import notes_in, place_of, sides_in, stretch
from scores.whose_hand import NOTHING_ASKED, Asked, WhoseHand, gather_hands
from scores.wording import spoken
from studio.models import Student
from studio.reach import an_interval

log = logging.getLogger(__name__)

DEFAULT_WIDTH = 940
STAFF, NARROW_STAFF, NARROW = 44, 38, 640  # CSS pixels: a staff at reading size at a desk, on a phone, and its column
NARROWEST, WIDEST, WIDTH_STEP = 280, 1400, 20


@dataclass(frozen=True)
class Remark:
    """What stands in the margin at a measure (its index). `kind` says whose it is: teacher, program, printed."""

    measure: int
    number: str
    beat: str
    kind: str
    label: str
    text: str
    cue: Cue | None = None
    line: str = ""  # the key of the line that is spoken of, where the words hold only while it stays as it is


@dataclass(frozen=True)
class ShownSystem:
    svg: SafeString
    first: int
    last: int
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class Desk:
    passage: Passage
    sides: tuple[Side, ...]
    lines: tuple[ShownLine, ...]
    joins: tuple[Join, ...]
    systems: tuple[ShownSystem, ...]
    trouble: bool
    remarks: tuple[Remark, ...]
    ornaments: OrnamentDesk
    drills: tuple[ShownDrill, ...]
    found: tuple[FoundSpan, ...]
    width: int
    script: dict
    hands: WhoseHand
    other_places: OtherPlaces

    @property
    def has_lines(self) -> bool:
        """A finger line of the teacher's or the program's stands here, beside what the edition prints."""
        return any(line.fingering for line in self.lines)


def tidy_width(asked: object) -> int:
    """A column's width in CSS pixels, in steps, so that engravings are shared between nearly equal windows."""
    try:
        width = int(float(str(asked)))
    except (ValueError, OverflowError):
        return DEFAULT_WIDTH
    return max(NARROWEST, min(WIDEST, width)) // WIDTH_STEP * WIDTH_STEP


def gather_desk(
    passage: Passage,
    width: int = DEFAULT_WIDTH,
    students: Sequence[Student] = (),
    asked: Asked = NOTHING_ASKED,
    tempo: int | None = None,
) -> Desk:
    """Everything on the desk, engraved for a column `width` CSS pixels wide. `students` come with their hands; `asked`
    says for whom the lines are ranked and which are compared; `tempo` (quarters a minute) is that of the ornaments."""
    score = passage.edition.score
    notes = here_now(passage)
    lines = shown_lines(passage, notes.fingerings)
    drills = tuple(shown_drill(drill, score, width=width) for drill in notes.drills)
    ornaments = gather_ornaments(passage, list(notes.choices), width, tempo)
    hands = gather_hands(passage, lines, students, asked, wait=False)
    found = [*remarks_of(score, notes.cues, lines, ornaments.places, drills), *hand_remarks(hands, score)]
    remarks = tuple(sorted(found, key=lambda one: one.measure))
    systems, trouble = engraved(passage, lines, remarks, width)
    return Desk(
        passage=passage,
        sides=sides_in(passage),
        lines=lines,
        joins=joins_of(passage, lines),
        systems=systems,
        trouble=trouble,
        remarks=remarks,
        ornaments=ornaments,
        drills=drills,
        found=found_in(passage, [shown.drill for shown in drills]),
        width=width,
        script=for_script(passage, lines),
        hands=hands,
        other_places=gather_other_places(passage, notes),
    )


# The margin


def remarks_of(
    score: Score,
    cues: Iterable[Cue],
    lines: Iterable[ShownLine],
    ornaments: Iterable[OrnamentPlace],
    drills: Iterable[ShownDrill],
) -> Iterator[Remark]:
    """Cues and the remarks of all other notes, each at its measure."""
    for cue in cues:
        yield Remark(
            cue.measure,
            score.measures[cue.measure].number,
            beat_words(Fraction(cue.beat)),
            "teacher",
            cue_label(cue, score),
            cue.text,
            None if cue.inherited else cue,
        )
    for line in lines:
        if line.fingering and line.fingering.remark and line.moments:
            note = line.moments[0].notes[0]
            place = place_of(score, note)
            yield Remark(note.measure, place.measure, place.beat, line.mark, line.numeral, line.fingering.remark)
    for ornament in ornaments:
        if ornament.choice and ornament.choice.remark:
            where = (ornament.measure, ornament.number, ornament.beat)
            yield Remark(*where, "teacher", ornament.what, ornament.choice.remark)
    for shown in drills:
        if shown.drill.remark:
            yield Remark(shown.measure.index, shown.measure.number, "1", "teacher", _("drill"), shown.drill.remark)


def hand_remarks(hands: WhoseHand, score: Score) -> Iterator[Remark]:
    """Where each line asks most of the chosen student's hand: what is beyond its reach, else beyond its comfort."""
    rankings = hands.chosen.rankings if hands.chosen else ()
    for ranked in (line for ranking in rankings for line in ranking.lines):
        verdict, line = ranked.judged.verdict, ranked.judged.line
        if verdict.level == "well":
            continue
        stretch, words = verdict.furthest, _("%(low)s–%(high)s for %(interval)s: more than comfortable for %(name)s.")
        if verdict.level == "beyond":
            stretch, words = verdict.first_beyond, _("%(low)s–%(high)s for %(interval)s: out of reach for %(name)s.")
        if stretch:
            note = score.by_id[stretch.notes[0]]
            place = place_of(score, note)
            low, high = stretch.pair
            named = {"low": low, "high": high, "interval": an_interval(stretch.span), "name": hands.chosen.student}
            text = words % named
            yield Remark(note.measure, place.measure, place.beat, "program", line.numeral, text, line=line.key)


def cue_label(cue: Cue, score: Score) -> str:
    note = score.by_id.get(cue.note)
    return joined(
        [f"{note.pitch.name}{note.pitch.octave}" if note else "", cue.inherited.sign if cue.inherited else ""]
    )


# The music


def engraved(
    passage: Passage, lines: Sequence[ShownLine], remarks: Sequence[Remark], width: int
) -> tuple[tuple[ShownSystem, ...], bool]:
    """The systems with their remarks; or none, and what to say, when the music could not be engraved."""
    try:
        engraving = engrave_cached(
            passage.edition.music,
            first=passage.first_measure,
            last=passage.last_measure,
            width=width,
            staff=STAFF if width >= NARROW else NARROW_STAFF,
            lines=[finger_line(line) for line in lines],
            show_printed=False,
        )
    except Exception:  # Whatever the engraver makes of a score, the words on the desk must stay within reach.
        log.exception("passage %s could not be engraved", passage.pk)
        return (), True
    return tuple(shown_system(passage.edition.score, system, lines, remarks) for system in engraving.systems), False


def finger_line(line: ShownLine) -> FingerLine:
    """The line as it is engraved: with empty places, which are filled afterwards, so that typing engraves nothing."""
    return FingerLine(
        label=line.label,
        fingers={} if line.fingering else line.fingers,
        side=line.side,
        mark=line.mark,
        key=line.key,
        notes=line.note_ids if line.fingering else (),
    )


def shown_system(score: Score, system: System, lines: Sequence[ShownLine], remarks: Sequence[Remark]) -> ShownSystem:
    first, last = system.first_measure, system.last_measure
    drawing = system.labelled(system_words(score, first, last, lines))
    return ShownSystem(
        # The engraving is redrawn element by element from known shapes, and what is put into it is escaped.
        mark_safe(with_fingers(drawing, {line.key: line.fingers for line in lines if line.fingering})),
        first,
        last,
        tuple(remark for remark in remarks if first <= remark.measure <= last),
    )


def system_words(score: Score, first: int, last: int, lines: Sequence[ShownLine]) -> str:
    """A system in words: its measures, and each hand's notes with their fingers."""
    opening, closing = score.measures[first].number, score.measures[last].number
    words = [
        _("Measure %(number)s.") % {"number": opening}
        if first == last
        else _("Measures %(first)s to %(last)s.") % {"first": opening, "last": closing}
    ]
    for side, name in (("right", _("Right hand")), ("left", _("Left hand"))):
        notes = [note for note in score.in_measures(first, last, side) if note.is_attack]
        if notes:
            own = [line for line in lines if line.side == side]
            words.append(name + ": " + "; ".join(note_words(score, note, own) for note in notes) + ".")
    return " ".join(words)


def note_words(score: Score, note: Note, lines: Sequence[ShownLine]) -> str:
    """ "measure 17 beat 2 E flat 5, I 3, II 4" """
    place = place_of(score, note)
    kind = _("grace") + " " if note.is_grace else ""
    where = _("measure %(measure)s beat %(beat)s") % {"measure": place.measure, "beat": place.beat}
    fingers = [f"{line.numeral} {line.fingers[note.id]}" for line in lines if line.fingers.get(note.id)]
    return ", ".join([f"{where} {kind}{spoken(note)}", *fingers])


# What the page's script needs to know


def for_script(passage: Passage, lines: Sequence[ShownLine]) -> dict:
    """The moments of each hand, the notes in words, and the lines that can be typed into."""
    score = passage.edition.score
    moments = {side: [list(moment.ids) for moment in stretch(passage, side)] for side in sides_in(passage)}
    notes = {
        note.id: note_data(score, note)
        for side in moments
        for moment in stretch(passage, side)
        for note in moment.notes
    }
    return {
        "moments": moments,
        "notes": notes,
        "lines": [line_data(line) for line in lines if line.is_own],
        "outside": outside(passage),
        "newLine": reverse("new-fingering", kwargs={"pk": passage.pk}),
        "words": script_words(),
    }


def outside(passage: Passage) -> list[str]:
    """The notes of the passage's hands that are engraved with it, since they stand in its measures, but lie before its
    first note or after its last."""
    engraved_notes = passage.edition.score.in_measures(passage.first_measure, passage.last_measure, passage.hands)
    inside = {note.id for note in notes_in(passage)}
    return [note.id for note in engraved_notes if note.id not in inside]


def script_words() -> dict[str, str]:
    return {
        "choose": _("Choose a line to type fingers into."),
        "note": _("measure %(measure)s beat %(beat)s, %(spoken)s"),
        "grace": _("measure %(measure)s before beat %(beat)s, grace %(spoken)s"),
        "next": _("Now at %(note)s"),
        "unmarked": _("unmarked"),
        "keeping": _("keeping…"),
        "kept": _("kept"),
        "waiting": _("Not kept yet: the connection fails. It is tried again; leave this page open."),
        "out": _("Not kept yet: you are logged out. Log in in another window; it is tried again from here."),
        "changed": _("Line %(numeral)s was changed in another window meanwhile:"),
        "differs": _("%(note)s: %(there)s there, %(here)s here"),
        "elsewhere": _("Not kept: the line was changed elsewhere."),
        "theirs": _("Take what is there"),
        "ours": _("Keep what is here"),
        "refused": _("Not kept."),
    }


def note_data(score: Score, note: Note) -> dict:
    place = place_of(score, note)
    return {"spoken": spoken(note), "measure": place.measure, "beat": place.beat, "grace": note.is_grace}


def line_data(line: ShownLine) -> dict:
    return {
        "key": line.key,
        "numeral": line.numeral,
        "side": line.side,
        "mark": line.mark,
        "fingers": line.fingers,
        "first": line.moments[0].notes[0].id if line.moments else "",
        "last": line.moments[-1].notes[0].id if line.moments else "",
        "seen": line.version,
        "url": reverse("keep-fingers", kwargs={"pk": line.fingering.pk}),
        "problems": [
            {"notes": list(problem.notes), "cannot": problem.cannot, "text": problem.text} for problem in line.problems
        ],
    }
