"""For whose hand: which line of a passage lies well in which student's hand, and in detail for one of them."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from urllib.parse import urlencode

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from scores.judging import (
    SaidRemark,
    Verdict,
    can_be_judged,
    engine_hand,
    moments_to_weigh,
    said_remarks,
    verdict_on,
)
from scores.lines import ShownLine
from scores.models import Passage
from scores.music.fingering.options import compare
from scores.music.notation import Note, Score, Side
from scores.openings import opening_words, picture_of
from scores.stretches import notes_in, place_of
from scores.wording import key_words
from studio.models import FingerWidth, Student
from studio.models import Hand as Measured
from studio.models import Side as SideName
from studio.reach import latest_hands, reach_in_words

# Lines longer than this are not weighed for every hand while someone waits; the passage wants to be a shorter one.
MOST_MOMENTS = 300
# So many moments are weighed while the desk is drawn, in about a second; a table of more comes after it.
AT_ONCE = 4000
SHOWN_REMARKS = 4
MARKS = {"well": "●", "care": "◐", "beyond": "○"}


def level_words(level: str) -> str:
    return {"well": _("lies well"), "care": _("with care"), "beyond": _("beyond reach")}[level]


@dataclass(frozen=True)
class Judged:
    """One line for one hand."""

    line: ShownLine
    verdict: Verdict
    least: bool = False

    @property
    def mark(self) -> str:
        return MARKS[self.verdict.level]

    @property
    def words(self) -> str:
        words = level_words(self.verdict.level)
        return _("%(words)s, least costly") % {"words": words} if self.least else words


@dataclass(frozen=True)
class HandRow:
    """A hand in the table: a cell for each line, None where the line cannot be judged."""

    student: Student
    reach: str
    cells: tuple[Judged | None, ...]


@dataclass(frozen=True)
class HandTable:
    side: Side
    lines: tuple[ShownLine, ...]
    rows: tuple[HandRow, ...]

    @property
    def hand(self) -> str:
        return str(SideName(self.side).label)


@dataclass(frozen=True)
class Difference:
    """One note on which two lines differ; "" where a line leaves it unmarked."""

    where: str
    note: str
    one: str
    other: str


@dataclass(frozen=True)
class Ranked:
    """A line in the order for one hand, with all there is to say of it."""

    judged: Judged
    remarks: tuple[SaidRemark, ...]
    picture: SafeString
    opening: str
    differences: tuple[Difference, ...]
    best: str

    @property
    def assumed(self) -> int:
        """How many notes the line leaves unmarked."""
        return len(self.judged.verdict.judgement.assumed)

    @property
    def first_remarks(self) -> tuple[SaidRemark, ...]:
        return self.remarks[:SHOWN_REMARKS]

    @property
    def further_remarks(self) -> tuple[SaidRemark, ...]:
        return self.remarks[SHOWN_REMARKS:]


@dataclass(frozen=True)
class Ranking:
    """The lines of one part of a hand's notes, the least costly first; `where` is "" for the whole passage."""

    side: Side
    where: str
    lines: tuple[Ranked, ...]


@dataclass(frozen=True)
class Chosen:
    """The student that the lines are ranked for; `reaches` says each measured hand in words."""

    student: Student
    reaches: tuple[tuple[Side, str], ...]
    rankings: tuple[Ranking, ...]

    @property
    def is_stretched(self) -> bool:
        """Some line asks for more than is comfortable."""
        lines = [ranked for ranking in self.rankings for ranked in ranking.lines]
        return any(ranked.judged.verdict.level != "well" for ranked in lines)

    @property
    def value(self) -> str:
        """The student among those that lines can be suggested for."""
        return f"student-{self.student.pk}"


@dataclass(frozen=True)
class Change:
    """The least costly line of a part became another one when a hand was measured again. `before` is None where no
    line was within reach."""

    student: Student
    side: Side
    measured_on: date
    before: ShownLine | None
    now: ShownLine

    @property
    def hand(self) -> str:
        return str(SideName(self.side).label)


@dataclass(frozen=True)
class Compared:
    one: ShownLine
    other: ShownLine
    differences: tuple[Difference, ...]


@dataclass(frozen=True)
class Asked:
    """What was asked for in the address: a student's key, two lines' keys, "yes" to wait for the table; else ""."""

    student: str = ""
    one: str = ""
    other: str = ""
    weigh: str = ""

    @classmethod
    def read(cls, query: Mapping[str, str]) -> "Asked":
        return cls(*(query.get(name, "") for name in ("student", "one", "other", "weigh")))

    @property
    def query(self) -> str:
        """The same for an address: "?student=3", or "" where nothing was asked for."""
        given = {name: value for name, value in asdict(self).items() if value}
        return f"?{urlencode(given)}" if given else ""


NOTHING_ASKED = Asked()


@dataclass(frozen=True)
class WhoseHand:
    """What the desk says of the students' hands."""

    tables: tuple[HandTable, ...]
    unmeasured: tuple[Student, ...]
    students: int
    too_long: bool
    later: bool
    chosen: Chosen | None
    changes: tuple[Change, ...]
    pairs: tuple[tuple[ShownLine, str], ...]
    compared: Compared | None
    asked: Asked

    @property
    def some_measured(self) -> bool:
        return self.students > len(self.unmeasured)

    @property
    def has_rows(self) -> bool:
        return any(table.rows for table in self.tables)


def gather_hands(
    passage: Passage,
    lines: Sequence[ShownLine],
    students: Sequence[Student],
    asked: Asked = NOTHING_ASKED,
    *,
    wait: bool = True,
) -> WhoseHand:
    """The tables of the passage's hands, the student asked for, what changed, and two lines compared.

    `students` come with their `hands` fetched. Without `wait`, a table that takes long is left for later.
    """
    too_long = any(len(line.moments) > MOST_MOMENTS for line in lines)
    usable = () if too_long else tuple(line for line in lines if can_be_judged(line))
    sides = tuple(dict.fromkeys(line.side for line in lines))
    chosen = next((student for student in students if str(student.pk) == asked.student), None)
    measured = [hand for student in students for hand in student.hands.all()]
    later = not (wait or asked.weigh) and moments_to_weigh(usable, measured, passage) > AT_ONCE
    weighed = () if later else students
    return WhoseHand(
        tables=tuple(table_of(passage, side, lines, usable, weighed) for side in sides),
        unmeasured=tuple(student for student in students if not list(student.hands.all())),
        students=len(students),
        too_long=too_long,
        later=later,
        chosen=rank_for(passage, chosen, usable) if chosen else None,
        changes=tuple(changes_in(passage, usable, weighed)),
        pairs=comparable(lines),
        compared=compared(passage, lines, asked),
        asked=asked,
    )


# The table


def table_of(
    passage: Passage,
    side: Side,
    lines: Sequence[ShownLine],
    usable: Sequence[ShownLine],
    students: Sequence[Student],
) -> HandTable:
    own = tuple(line for line in lines if line.side == side)
    rows = []
    for student in students:
        measured = latest_hands(student.hands.all()).get(side)
        if measured and usable:
            found = {one.line.key: one for one in judged(passage, side, usable, measured)}
            rows.append(HandRow(student, reach_words(measured), tuple(found.get(line.key) for line in own)))
    return HandTable(side, own, tuple(rows))


def judged(passage: Passage, side: Side, usable: Iterable[ShownLine], measured: Measured) -> list[Judged]:
    """The lines of one hand as they lie in it, the least costly first; of each part with several it is named.

    Unmarked notes are weighed with the fingers that cost least, so a line that marks fewer than half of its notes would
    win by saying little: such a line stands behind the others.
    """
    hand = engine_hand(measured)
    found = [Judged(line, verdict_on(line, hand, passage)) for line in usable if line.side == side]
    found.sort(key=lambda one: (one.verdict.rank[0], says_little(one.line), one.verdict.rank))
    options = Counter(one.line.where for one in found if not says_little(one.line))
    ranked, parts = [], set()
    for one in found:
        where = one.line.where
        can_be_least = options[where] > 1 and one.verdict.level != "beyond" and not says_little(one.line)
        ranked.append(Judged(one.line, one.verdict, can_be_least and where not in parts))
        parts.add(where)
    return ranked


def says_little(line: ShownLine) -> bool:
    """Whether fewer than half of the notes are marked."""
    marked, notes = line.count
    return 2 * marked < notes


def reach_words(measured: Measured) -> str:
    reach = reach_in_words(measured)
    return _("%(reach)s, broad fingers") % {"reach": reach} if measured.width == FingerWidth.BROAD else reach


# One student


def rank_for(passage: Passage, student: Student, usable: Sequence[ShownLine]) -> Chosen:
    """All lines in the order in which they suit this student."""
    latest = latest_hands(student.hands.all())
    rankings = []
    for side, measured in latest.items():
        parts: dict[str, list[Judged]] = {}
        for one in judged(passage, side, usable, measured):
            parts.setdefault(one.line.where, []).append(one)
        rankings += [Ranking(side, where, ranked_lines(passage, part)) for where, part in parts.items()]
    reaches = tuple((side, reach_words(measured)) for side, measured in latest.items())
    return Chosen(student, reaches, tuple(rankings))


def ranked_lines(passage: Passage, part: Sequence[Judged]) -> tuple[Ranked, ...]:
    score, best = passage.edition.score, part[0]
    return tuple(
        Ranked(
            judged=one,
            remarks=said_remarks(one.verdict, score),
            picture=picture_of(one.verdict.widest, score),
            opening=opening_words(one.verdict.widest, score),
            differences=differences(passage, one.line, best.line) if one is not best else (),
            best=best.line.numeral,
        )
        for one in part
    )


# Two lines


def comparable(lines: Sequence[ShownLine]) -> tuple[tuple[ShownLine, str], ...]:
    """The lines that there is another one of the same hand to compare with, each with its name."""
    marked = [line for line in lines if line.fingers]
    sides = [line.side for line in marked]
    several = len(set(sides)) > 1
    return tuple(
        (line, f"{line.numeral}, {SideName(line.side).label}" if several else line.numeral)
        for line in marked
        if sides.count(line.side) > 1
    )


def compared(passage: Passage, lines: Sequence[ShownLine], asked: Asked) -> Compared | None:
    by_key = {line.key: line for line in lines}
    one, other = by_key.get(asked.one), by_key.get(asked.other)
    if one is None or other is None or one is other or one.side != other.side:
        return None
    return Compared(one, other, differences(passage, one, other))


def differences(passage: Passage, one: ShownLine, other: ShownLine) -> tuple[Difference, ...]:
    """Where two lines differ, note by note, in the order of the music; only notes that both lines cover."""
    shared = set(one.note_ids) & set(other.note_ids)
    notes = {note.id: note for note in notes_in(passage, one.side) if note.id in shared}
    score = passage.edition.score
    return tuple(
        Difference(where_words(score, notes[key]), key_words(notes[key]), here, there)
        for key, here, there in compare(one.fingers, other.fingers, notes.values())
    )


def where_words(score: Score, note: Note) -> str:
    place = place_of(score, note)
    if note.is_grace:
        return _("measure %(measure)s, grace before beat %(beat)s") % {"measure": place.measure, "beat": place.beat}
    return _("measure %(measure)s, beat %(beat)s") % {"measure": place.measure, "beat": place.beat}


# Measured again


def changes_in(passage: Passage, usable: Sequence[ShownLine], students: Iterable[Student]) -> Iterator[Change]:
    """Where the least costly line became another one between the last two measurements of a hand."""
    for student in students:
        for side in dict.fromkeys(line.side for line in usable):
            measured = sorted(
                (hand for hand in student.hands.all() if hand.side == side),
                key=lambda hand: (hand.measured_on, hand.pk),
            )
            if len(measured) < 2:
                continue
            earlier, newest = measured[-2:]
            before = best_of_parts(judged(passage, side, usable, earlier))
            for where, now in best_of_parts(judged(passage, side, usable, newest)).items():
                last = before.get(where)
                if last is None or last.key != now.key:
                    yield Change(student, side, newest.measured_on, last, now)


def best_of_parts(found: Iterable[Judged]) -> dict[str, ShownLine]:
    """The least costly line of each part; none where no line is within reach or all say little."""
    best: dict[str, ShownLine] = {}
    for one in found:
        if one.verdict.level != "beyond" and not says_little(one.line):
            best.setdefault(one.line.where, one.line)
    return best
