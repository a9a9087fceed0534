"""What the desk and the edition's page say of other places with the same music: where a passage comes again, what
stands here from elsewhere, and what every measure of an edition is again."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _

from scores.inheriting import KINDS, NotesHere, PassageNote
from scores.models import Cue, Edition, Fingering, Passage, RhythmDrill
from scores.music.notation import SIDES, Hands, Score
from scores.music.recurrences import Again, Group
from scores.music.recurrences import again as sayings_of
from scores.music.returns import Return
from scores.recurring import (
    again_words,
    groups_of,
    hand_words,
    height_words,
    joined,
    measures_words,
    range_words,
    runs_words,
    weave_of,
)


@dataclass(frozen=True)
class Elsewhere:
    """A place where a passage's music comes again: `url` leads to the passage marked there, or to the edition at that
    place. `is_next` is the place to jump to from here."""

    words: str
    url: str
    is_marked: bool
    first: int
    is_next: bool = False


@dataclass(frozen=True)
class FromElsewhere:
    """A note of another place as it stands, or does not stand, at a passage."""

    kind: str
    pk: int
    what: str
    words: str
    caution: str
    where: str
    url: str


@dataclass(frozen=True)
class OtherPlaces:
    """All that a desk says of other places."""

    places: tuple[Elsewhere, ...]
    inherited: tuple[FromElsewhere, ...]
    departed: tuple[FromElsewhere, ...]


def gather_other_places(passage: Passage, notes: NotesHere) -> OtherPlaces:
    others = list(passage.edition.passages.standing().exclude(pk=passage.pk))
    return OtherPlaces(
        places=tuple(with_next(sorted(places_of(passage, others), key=lambda one: one.first), passage)),
        inherited=tuple(from_elsewhere(note) for note in notes.inherited if not isinstance(note, Fingering)),
        departed=tuple(from_elsewhere(note) for note in notes.departed),
    )


def places_of(passage: Passage, others: Sequence[Passage]) -> Iterator[Elsewhere]:
    score = passage.edition.score
    for hands, one in returns_of(passage):
        marked = next((other for other in others if is_at(other, one)), None)
        words = [measures_words(score, one.runs), height_words(one.semitones)]
        if passage.hands == "both":
            words.append(hand_words(hands))
        url = (
            reverse("desk", kwargs={"pk": marked.pk})
            if marked
            else reverse("edition", kwargs={"pk": passage.edition_id}) + f"?first={one.first}#leaves"
        )
        yield Elsewhere(joined(words), url, marked is not None, one.first)


def returns_of(passage: Passage) -> Iterator[tuple[Hands, Return]]:
    """Where a passage comes again; one for both hands also where one of them does alone."""
    weave = weave_of(passage.edition)
    whole: set[str] = set()
    for one in weave.returns(passage.first_note, passage.last_note, passage.hands):
        whole.update(one.notes.values())
        yield passage.hands, one
    for side in SIDES if passage.hands == "both" else ():
        for one in weave.returns(passage.first_note, passage.last_note, side):
            if whole.isdisjoint(one.notes.values()):
                yield side, one


def is_at(other: Passage, one: Return) -> bool:
    return (other.first_measure, other.last_measure) == (one.first, one.last)


def with_next(places: Sequence[Elsewhere], passage: Passage) -> Iterator[Elsewhere]:
    """The places, the one after the passage (or the first, from the last one on) marked as the next."""
    after = [place for place in places if place.first > passage.first_measure]
    chosen = (after or list(places) or [None])[0]
    for place in places:
        yield Elsewhere(place.words, place.url, place.is_marked, place.first, is_next=place is chosen)


def from_elsewhere(note: PassageNote) -> FromElsewhere:
    inherited = note.inherited
    return FromElsewhere(
        kind=inherited.kind,
        pk=note.pk,
        what=what_words(note),
        words=inherited.words,
        caution=inherited.caution if isinstance(note, Fingering) else "",
        where=inherited.passage.where,
        url=reverse("desk", kwargs={"pk": inherited.passage.pk}),
    )


def what_words(note: PassageNote) -> str:
    """ "the cue “float”", "the drill of measure 17" """
    score = note.passage.edition.score
    if isinstance(note, Cue):
        return _("the cue “%(text)s”") % {"text": note.text}
    if isinstance(note, Fingering):
        hand = hand_words(note.side)
        return _("the line %(fingers)s, %(hand)s") % {"fingers": " ".join(note.fingers.values()), "hand": hand}
    if isinstance(note, RhythmDrill):
        return _("the rhythm drill")
    measure = score.measure_of(score.by_id[note.note]) if note.note in score.by_id else None
    return _("the ornament in measure %(number)s") % {"number": measure.number if measure else "?"}


# The edition's page


@dataclass(frozen=True)
class Saying:
    """What stands in the margin beside measure `first`: "= 9–16", and in words. `target` is where the source begins;
    `standing` are passages whose notes stand from that measure on, where none is marked."""

    first: int
    numbers: str
    sign: str
    words: str
    target: int
    standing: tuple[Passage, ...] = ()


@dataclass(frozen=True)
class StandsHere:
    """Notes of a passage that stand, by its music's return, where no passage is marked yet."""

    passage: Passage
    first: int
    numbers: str
    words: str


@dataclass(frozen=True)
class Margin:
    """What stands beside the music of an edition. `jumps` gives for each measure (index) the next place with the same
    music, -1 where there is none."""

    passages: tuple[Passage, ...]
    sayings: tuple[Saying, ...]
    standing: tuple[StandsHere, ...]
    jumps: tuple[int, ...]


def gather_margin(edition: Edition) -> Margin:
    """Two queries. What stands where a saying begins stands with it, the rest by itself."""
    score, groups = edition.score, groups_of(edition)
    said = sayings_of(groups, len(score.measures))
    passages = list(with_notes(edition.passages.standing()))
    standing = tuple(standing_in(score, passages))
    beginnings = {one.first for one in said}
    return Margin(
        passages=tuple(passages),
        sayings=tuple(saying(score, one, standing) for one in said),
        standing=tuple(one for one in standing if one.first not in beginnings),
        jumps=jumps_in(groups, len(score.measures)),
    )


def with_notes(passages: QuerySet[Passage]) -> QuerySet[Passage]:
    """With `has_notes`, whether something is written on the passage itself that stands elsewhere too."""
    written = None
    for model in KINDS.values():
        one = Exists(model.objects.standing().filter(passage=OuterRef("pk"), instead_of=None))
        written = one if written is None else written | one
    return passages.annotate(has_notes=written)


def saying(score: Score, one: Again, standing: Iterable[StandsHere]) -> Saying:
    here = tuple(other.passage for other in standing if other.first == one.first)
    sign = joined([f"= {runs_words(score, one.runs)}", height_words(one.semitones), hand_words(one.hands)])
    return Saying(
        one.first, range_words(score, one.first, one.last), sign, again_words(score, one), one.at(one.first), here
    )


def standing_in(score: Score, passages: Sequence[Passage]) -> Iterator[StandsHere]:
    for passage in passages:
        if not passage.has_notes:
            continue
        for hands, one in returns_of(passage):
            if not any(is_at(other, one) for other in passages):
                words = [_("as %(measures)s") % {"measures": passage.where}, height_words(one.semitones)]
                if passage.hands == "both":
                    words.append(hand_words(hands))
                yield StandsHere(passage, one.first, runs_words(score, one.runs), joined(words))


def jumps_in(groups: Iterable[Group], measures: int) -> tuple[int, ...]:
    """For each measure the next one at the same place of a range that it lies in; after the last the first. -1 where it
    lies in none."""
    following, earliest = [measures] * measures, list(range(measures))
    for group in groups:
        for row in zip(*(place.measures for place in group.places), strict=True):
            ring = sorted(row)
            for measure, after in zip(ring, [*ring[1:], measures], strict=True):
                following[measure] = min(following[measure], after)
                earliest[measure] = min(earliest[measure], ring[0])
    return tuple(
        after if after < measures else first if first < measure else -1
        for measure, (after, first) in enumerate(zip(following, earliest, strict=True))
    )
