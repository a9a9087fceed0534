"""Passage notes at the places where their music returns.

A note is written once, on its own passage. It stands as well on every other passage that holds, or holds a part of, a
return of the notes it speaks of: a fingering's are its own stretch, a drill's the span of both hands, a cue's and an
ornament choice's what their hand plays in the passage. Nothing is copied: each time a passage is read, rows are made in
memory that say how the note stands here, with the key of the note itself (`stand_at`). So a change is seen everywhere
at once, and what refers to the note (a line offered to a student) refers to all its places.

At one place a note can be replaced by another or be said not to stand there: `depart`, `leave_out`, `follow_again`.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from itertools import chain

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from scores.models import Cue, Edition, Fingering, OrnamentChoice, Passage, RhythmDrill
from scores.music.notation import Hands, Note, Score, moment_key, reading_order
from scores.recurring import height_words, joined, weave_of
from scores.stretches import notes_in

PassageNote = Fingering | OrnamentChoice | RhythmDrill | Cue
KINDS: dict[str, type[PassageNote]] = {
    "fingering": Fingering,
    "ornament": OrnamentChoice,
    "drill": RhythmDrill,
    "cue": Cue,
}


@dataclass(frozen=True)
class Inherited:
    """Where a note that stands at a place comes from: `source` as it is kept, and how much higher it stands here."""

    source: PassageNote
    semitones: int

    @property
    def passage(self) -> Passage:
        return self.source.passage

    @property
    def kind(self) -> str:
        return next(kind for kind, model in KINDS.items() if isinstance(self.source, model))

    @property
    def words(self) -> str:
        """ "from measures 9–16, a fifth higher" """
        return joined([_("from %(measures)s") % {"measures": self.passage.where}, height_words(self.semitones)])

    @property
    def caution(self) -> str:
        """What to look at again; "" where the keys are the same."""
        return _("Transposed: look again, black keys fall elsewhere.") if self.semitones else ""

    @property
    def sign(self) -> str:
        """ "= 9–16", to stand beside a note"""
        first, last = self.passage.first_number, self.passage.last_number
        return f"= {first}" if first == last else f"= {first}–{last}"


@dataclass(frozen=True)
class NotesHere:
    """What stands at a passage: its own notes, then those of other places (rows whose `inherited` is set). `departed`
    are notes of other places that do not stand here by the teacher's word; `gone` are lines that stand here no more,
    which a student may have been given: the passage's own, and others' as they stood here."""

    fingerings: tuple[Fingering, ...] = ()
    choices: tuple[OrnamentChoice, ...] = ()
    drills: tuple[RhythmDrill, ...] = ()
    cues: tuple[Cue, ...] = ()
    departed: tuple[PassageNote, ...] = ()
    gone: tuple[Fingering, ...] = ()

    @property
    def every(self) -> Iterator[PassageNote]:
        return chain(self.fingerings, self.choices, self.drills, self.cues)

    @property
    def inherited(self) -> list[PassageNote]:
        return [note for note in self.every if note.inherited]


# Gathering


def here(passage: Passage) -> NotesHere:
    """What stands at a passage; gathered once for a row in memory, or ahead for many of them by `gather_here`."""
    if not hasattr(passage, "notes_here"):
        gather_here([passage])
    return passage.notes_here


def here_now(passage: Passage) -> NotesHere:
    """The same, gathered anew: for what may have been changed since."""
    gather_here([passage])
    return passage.notes_here


def gather_here(passages: Iterable[Passage]) -> None:
    """Reads what stands at these passages, in as many queries whatever their number."""
    passages = list(passages)
    editions: dict[int, Edition] = {passage.edition_id: passage.edition for passage in passages}
    rows = {kind: rows_by_edition(model, editions) for kind, model in KINDS.items()}
    for passage in passages:
        own = {kind: by_edition[passage.edition_id] for kind, by_edition in rows.items()}
        passage.notes_here = Gathering(passage).notes(own)


def rows_by_edition(model: type[PassageNote], editions: dict[int, Edition]) -> dict[int, list[PassageNote]]:
    """The notes of a kind in these editions, in the order of their passages, those taken away included."""
    found: dict[int, list[PassageNote]] = defaultdict(list)
    rows = model.objects.filter(passage__edition__in=list(editions)).select_related("passage")
    for row in rows:
        row.passage.edition = editions[row.passage.edition_id]
        found[row.passage.edition_id].append(row)
    return found


class Gathering:
    """The notes of one edition as they stand at one passage."""

    def __init__(self, passage: Passage) -> None:
        self.passage = passage
        self.ids = {note.id for note in notes_in(passage)}

    def notes(self, rows: dict[str, list[PassageNote]]) -> NotesHere:
        standing: dict[str, list] = {}
        departed: list[PassageNote] = []
        gone: list[Fingering] = []
        for kind, every in rows.items():
            own = [row for row in every if row.passage_id == self.passage.pk]
            for row in own:
                row.passage = self.passage
            replaced = {row.instead_of_id for row in own if row.instead_of_id}
            standing[kind] = [row for row in own if not row.removed_at]
            gone += [row for row in own if row.removed_at and kind == "fingering"]
            for source in sorted(every, key=lambda row: (row.passage.first_measure, row.passage_id)):
                if source.passage_id == self.passage.pk or source.instead_of_id:
                    continue
                found = list(stand_at(source, self.passage, self.ids))
                is_gone = source.removed_at or source.passage.removed_at
                if source.pk in replaced and not is_gone:
                    departed += found[:1]
                elif not is_gone:
                    standing[kind] += [row for row in found if not said_already(row, standing[kind])]
                if is_gone or source.pk in replaced:
                    gone += [row for row in found if kind == "fingering"]
        return NotesHere(
            tuple(standing["fingering"]),
            tuple(standing["ornament"]),
            tuple(standing["drill"]),
            tuple(standing["cue"]),
            tuple(departed),
            tuple(gone),
        )


def said_already(row: PassageNote, standing: Iterable[PassageNote]) -> bool:
    """Whether what stands here says the same, or speaks of the same ornament: the passage's own word goes first."""
    return any(same_word(row, other) for other in standing)


def same_word(one: PassageNote, other: PassageNote) -> bool:
    if isinstance(one, Fingering):
        return (one.side, one.fingers) == (other.side, other.fingers)
    if isinstance(one, OrnamentChoice):
        return one.note == other.note
    if isinstance(one, RhythmDrill):
        return (one.start, one.end) == (other.start, other.end)
    return (one.text, one.measure, one.beat, one.note) == (other.text, other.measure, other.beat, other.note)


# How a note stands elsewhere


@dataclass(frozen=True)
class Fit:
    """How the music of a note's place lies at another: which note is which, which measure is which."""

    semitones: int
    notes: dict[str, str]
    measures: dict[int, int]


def stand_at(source: PassageNote, passage: Passage, ids: set[str] | None = None) -> Iterator[PassageNote]:
    """How a note of another passage of the edition stands at a passage: rows in memory, with the key of the note and
    `inherited` set; none where its music does not return there, or where both passages share notes of its music.

    `ids` are the passage's own notes, if they are known already.
    """
    ids = {note.id for note in notes_in(passage)} if ids is None else ids
    stretch = stretch_of_note(source)
    if stretch and source.passage_id != passage.pk and not shares_notes(stretch, passage, ids):
        fits = list(fits_of(stretch, passage, ids))
        yield from STAND[type(source)](source, passage, fits) if fits else ()


Stretch = tuple[Note, Note, Hands]


def stretch_of_note(source: PassageNote) -> Stretch | None:
    """The notes that a note speaks of: from the moment of the first to that of the last, of these hands. None where
    they are not in the music."""
    passage, score = source.passage, source.passage.edition.score
    if isinstance(source, RhythmDrill):
        start, end = Fraction(source.start), Fraction(source.end)
        near = score.in_measures(passage.first_measure, passage.last_measure)
        inside = [note for note in near if start <= note.onset < end]
        return (inside[0], inside[-1], "both") if inside else None
    ends = source if isinstance(source, Fingering) else passage
    start, end = (score.by_id.get(one) for one in (ends.first_note, ends.last_note))
    if start is None or end is None:
        return None
    if isinstance(source, Fingering):
        return start, end, source.side
    note = score.by_id.get(source.note)
    return start, end, note.side if note else passage.hands


def shares_notes(stretch: Stretch, passage: Passage, ids: set[str]) -> bool:
    start, end, hands = stretch
    if end.measure < passage.first_measure or start.measure > passage.last_measure:
        return False
    inside = passage.edition.score.in_measures(start.measure, end.measure, hands)
    return any(note.id in ids for note in inside if (start.onset, -1) <= moment_key(note) <= moment_key(end))


def fits_of(stretch: Stretch, passage: Passage, ids: set[str]) -> Iterator[Fit]:
    """Every return of the stretch that lies in the passage or reaches into it; or else the return of the whole passage
    in the stretch, for a note that says more than this passage plays."""
    start, end, hands = stretch
    weave = weave_of(passage.edition)
    within = range(passage.first_measure, passage.last_measure + 1)
    reaching = False
    for one in weave.returns(start.id, end.id, hands):
        if one.last in within or one.first in within or (one.first < within[0] and one.last > within[-1]):
            notes = {mine: there for mine, there in one.notes.items() if there in ids}
            if notes:
                reaching = True
                measures = zip(range(start.measure, end.measure + 1), one.measures, strict=True)
                yield Fit(one.semitones, notes, {mine: there for mine, there in measures if there in within})
    if reaching:
        return
    low, high = (start.onset, -1), moment_key(end)
    for one in weave.returns(passage.first_note, passage.last_note, hands):
        source_notes = (weave.score.by_id[there] for there in one.notes.values())
        if all(low <= moment_key(note) <= high for note in source_notes):
            notes = {there: mine for mine, there in one.notes.items()}
            yield Fit(-one.semitones, notes, dict(zip(one.measures, within, strict=True)))


def copied(source: PassageNote, passage: Passage, semitones: int, **fields: object) -> PassageNote:
    """A row in memory: the note as it stands at a passage."""
    row = type(source)(**{field.attname: getattr(source, field.attname) for field in source._meta.concrete_fields})
    row.passage = passage
    for name, value in fields.items():
        setattr(row, name, value)
    row.inherited = Inherited(source, semitones)
    return row


def fingering_at(source: Fingering, passage: Passage, fits: list[Fit]) -> Iterator[Fingering]:
    """One line, though its music may return more than once in the passage."""
    score = passage.edition.score
    pairs = [(one, score.by_id[two]) for fit in fits for one, two in fit.notes.items()]
    marked = {note.id: source.fingers[one] for one, note in pairs if source.fingers.get(one)}
    struck = sorted((note for _one, note in pairs if note.is_attack), key=reading_order)
    if marked and struck:
        yield copied(
            source,
            passage,
            next((fit.semitones for fit in fits if fit.semitones), 0),
            fingers={note.id: marked[note.id] for note in struck if note.id in marked},
            first_note=struck[0].id,
            last_note=struck[-1].id,
        )


def choice_at(source: OrnamentChoice, passage: Passage, fits: list[Fit]) -> Iterator[OrnamentChoice]:
    """Where the same sign, or a grace, stands on the note there."""
    score = passage.edition.score
    for fit in fits:
        note = same_ornament(score, source.note, fit.notes)
        if note:
            yield copied(source, passage, fit.semitones, note=note.id)


def same_ornament(score: Score, origin: str, notes: dict[str, str]) -> Note | None:
    """The note that is said to be the same as `origin`, if it has the same signs."""
    note = score.by_id.get(notes.get(origin, ""))
    same = note and [sign.kind for sign in note.ornaments] == [sign.kind for sign in score.by_id[origin].ornaments]
    return note if same else None


def choices_everywhere(edition: Edition) -> list[OrnamentChoice]:
    """The ornament choices of an edition at every place where they stand, marked as a passage or not: what is written
    at a place, or said not to stand there, goes before what stands there from elsewhere."""
    rows = rows_by_edition(OrnamentChoice, {edition.pk: edition})[edition.pk]
    standing = [row for row in rows if not row.removed_at and not row.passage.removed_at]
    said = {row.note for row in standing} | {row.note for row in rows if row.instead_of_id}
    found = list(standing)
    for row in standing:
        stretch = None if row.instead_of_id else stretch_of_note(row)
        if stretch is None:
            continue
        start, end, hands = stretch
        for place in weave_of(edition).returns(start.id, end.id, hands):
            note = same_ornament(edition.score, row.note, place.notes)
            if note and note.id not in said:
                said.add(note.id)
                found.append(copied(row, row.passage, place.semitones, note=note.id))
    return found


def drill_at(source: RhythmDrill, passage: Passage, fits: list[Fit]) -> Iterator[RhythmDrill]:
    """The same span, where the passage has all of it."""
    stretch, score = stretch_of_note(source), passage.edition.score
    for fit in fits:
        if stretch and passage.hands == "both" and stretch[0].id in fit.notes and stretch[1].id in fit.notes:
            shift = score.by_id[fit.notes[stretch[0].id]].onset - stretch[0].onset
            start, end = (str(Fraction(time) + shift) for time in (source.start, source.end))
            yield copied(source, passage, fit.semitones, start=start, end=end)


def cue_at(source: Cue, passage: Passage, fits: list[Fit]) -> Iterator[Cue]:
    """At the same note; or at the same beat of the same measure."""
    score = passage.edition.score
    for fit in fits:
        note = score.by_id.get(fit.notes.get(source.note, ""))
        if note:
            beat = str(score.measure_of(note).beat_of(note.onset))
            yield copied(source, passage, fit.semitones, note=note.id, measure=note.measure, beat=beat)
        elif not source.note and source.measure in fit.measures:
            yield copied(source, passage, fit.semitones, measure=fit.measures[source.measure])


STAND = {Fingering: fingering_at, OrnamentChoice: choice_at, RhythmDrill: drill_at, Cue: cue_at}


# Leaving the source at one place, and following it again


@transaction.atomic
def depart(*, note: PassageNote) -> PassageNote:
    """Puts a note of the place's own in the place of an inherited one, with the same content: to be changed there
    without touching the others."""
    return write_instead(note, removed_at=None)


@transaction.atomic
def leave_out(*, note: PassageNote, at: datetime) -> PassageNote:
    """Says that an inherited note does not stand at this place."""
    return write_instead(note, removed_at=at)


def write_instead(note: PassageNote, *, removed_at: datetime | None) -> PassageNote:
    source, passage = note.inherited.source, note.passage
    there = type(source).objects.filter(passage=passage, instead_of=source).first()
    if there is None and isinstance(source, OrnamentChoice):
        # An ornament has one row a passage, even one taken away.
        there = OrnamentChoice.objects.filter(passage=passage, note=note.note).first()
    kept = {field.attname: getattr(note, field.attname) for field in note._meta.concrete_fields}
    for name in ("id", "created_at", "changed_at", "instead_of_id", "removed_at"):
        kept.pop(name, None)
    if isinstance(source, Fingering):
        highest = passage.fingerings.aggregate(highest=Max("position"))["highest"]
        kept["position"] = 0 if highest is None else highest + 1
    row = there or type(source)()
    for name, value in kept.items():
        setattr(row, name, value)
    row.instead_of_id, row.removed_at = source.pk, removed_at
    row.save()
    return row


@transaction.atomic
def follow_again(*, passage: Passage, source: PassageNote, at: datetime) -> PassageNote | None:
    """Lets a note of another place stand here again; what stood here instead of it is taken away. Gives that row, whose
    `stood` says whether it stood or only kept the other out; None where nothing did."""
    row = type(source).objects.select_for_update().filter(passage=passage, instead_of=source).first()
    if row is None:
        return None
    row.stood = row.removed_at is None
    row.instead_of = None
    row.removed_at = row.removed_at or at
    row.save(update_fields=["instead_of", "removed_at"])
    return row


@transaction.atomic
def bring_back(*, own: PassageNote, source: PassageNote) -> None:
    """Puts a note of the place's own in the place of another again."""
    own.instead_of, own.removed_at = source, None
    own.save(update_fields=["instead_of", "removed_at"])
