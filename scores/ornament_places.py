"""The graces and ornaments of a passage, in words, with what was chosen for each."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from scores.models import OrnamentChoice, Passage
from scores.music.notation import Placement, Score, Side
from scores.music.ornaments import Choice, Performance, Realised, realise
from scores.music.ornaments.figures import MORDENTS, TRILLS, TURNS
from scores.music.ornaments.plan import TREMOLO
from scores.music.tempo import Number
from scores.stretches import notes_in, place_of
from scores.wording import key_words

# The signs that are written out, under the names that MusicXML gives them; its "mordent" goes down.
SIGNS = {
    "trill-mark": gettext_noop("trill"),
    "shake": gettext_noop("shake"),
    "turn": gettext_noop("turn"),
    "inverted-turn": gettext_noop("inverted turn"),
    "vertical-turn": gettext_noop("turn"),
    "inverted-vertical-turn": gettext_noop("inverted turn"),
    "delayed-turn": gettext_noop("turn after the note"),
    "delayed-inverted-turn": gettext_noop("inverted turn after the note"),
    "mordent": gettext_noop("mordent"),
    "inverted-mordent": gettext_noop("short trill"),
    "schleifer": gettext_noop("slide"),
    "tremolo": gettext_noop("tremolo"),
    "arpeggiate": gettext_noop("arpeggio"),
    "haydn": gettext_noop("Haydn ornament"),
}
GRACE = "grace"
PLACEMENTS: tuple[Placement, Placement] = ("before", "on")
CHOSEN = ("placement", "count", "start", "turn", "long")
NEAR = 2  # measures around a passage that may lend its ornaments their time

Choices = Mapping[str, Choice]
Both = Mapping[Placement, Performance]


@dataclass(frozen=True)
class OrnamentPlace:
    """A grace (or group of graces) or an ornament of the passage. `note` is the key that its choice is kept under: the
    id of the first grace or of the note with the sign. `measure` is an index, `number` and `beat` are as printed."""

    note: str
    kind: str
    side: Side
    measure: int
    number: str
    beat: str
    what: str
    choice: OrnamentChoice | None
    graces: int = 0

    @property
    def has_placement(self) -> bool:
        """It can fall before the beat or on it: a tremolo cannot, and a turn after the note stands there."""
        return self.kind in TRILLS | MORDENTS | TURNS.keys() | {GRACE, "schleifer", "arpeggiate"}

    @property
    def has_count(self) -> bool:
        return self.kind in TRILLS | MORDENTS | {TREMOLO}

    @property
    def has_start(self) -> bool:
        return self.kind in TRILLS | TURNS.keys() or self.kind.startswith("delayed-")

    @property
    def has_ending(self) -> bool:
        return self.kind in TRILLS

    @property
    def has_length(self) -> bool:
        """A single grace may be a leaning note or a crushed one."""
        return self.kind == GRACE and self.graces == 1


def ornaments_in(passage: Passage, choices: Iterable[OrnamentChoice]) -> Iterator[OrnamentPlace]:
    """The graces and the ornaments of the passage, in score order."""
    found = realise(score_near(passage), {})
    chosen = {choice.note: choice for choice in choices}
    yield from (place_in(passage, one, chosen) for one in own_ornaments(passage, found))


def own_ornaments(passage: Passage, performance: Performance) -> tuple[Realised, ...]:
    """Those of a performance that stand in the passage, in score order."""
    inside = {note.id for note in notes_in(passage)}
    return tuple(one for one in performance.ornaments if one.key in inside or one.note in inside)


def place_in(passage: Passage, one: Realised, chosen: Mapping[str, OrnamentChoice]) -> OrnamentPlace:
    score = passage.edition.score
    note = score.by_id[one.note]
    place = place_of(score, note)
    graces = 0
    if one.kind == GRACE:
        graces, what = grace_words(score, one.note)
    else:
        sign = _(SIGNS[one.kind]) if one.kind in SIGNS else one.kind.replace("-", " ")
        what = _("%(sign)s on %(note)s") % {"sign": sign, "note": key_words(note)}
    return OrnamentPlace(
        one.key, one.kind, one.side, note.measure, place.measure, place.beat, what, chosen.get(one.key), graces
    )


def grace_words(score: Score, name: str) -> tuple[int, str]:
    """How many graces stand together with this one, and which: "grace notes C5 D5"."""
    first = score.by_id[name]
    group = [
        note
        for note in score.in_measures(first.measure, first.measure, first.side)
        if note.is_grace and note.onset == first.onset and note.voice == first.voice
    ]
    names = " ".join(key_words(note) for note in group)
    words = _("grace note %(names)s") if len(group) == 1 else _("grace notes %(names)s")
    return len(group), words % {"names": names}


# What is chosen, and what comes of it


def choice_of(row: OrnamentChoice) -> Choice:
    """A row as the engine's choice; what the row leaves blank is left to the edition, then to the tool."""
    return Choice(row.placement or None, row.count, row.start or None, row.turn, row.long)


def choices_in(rows: Iterable[OrnamentChoice]) -> dict[str, Choice]:
    """The standing choices, by ornament."""
    return {row.note: choice_of(row) for row in rows if not row.removed_at}


def score_near(passage: Passage) -> Score:
    """The passage's score with no notes but those in the passage and close around it: ornaments are written out of
    these alone, whatever the length of the piece."""
    score = passage.edition.score
    first = max(0, passage.first_measure - NEAR)
    return replace(score, notes=score.in_measures(first, passage.last_measure + NEAR), rests=())


def both_placements(
    passage: Passage, choices: Choices, *, open_only: bool = False, tempo: Number | None = None
) -> Both:
    """The passage with its ornaments written out twice: all before the beat and all on it, otherwise as chosen.

    With `open_only` what has a placement keeps it. `tempo` in quarters a minute; None: the edition's own marks. Raises
    `BadTempo`.
    """
    score = score_near(passage)
    names = [one.key for one in realise(score, {}).ornaments]
    return {
        placement: realise(score, placed(names, choices, placement, open_only=open_only), tempo=tempo)
        for placement in PLACEMENTS
    }


def placed(names: Iterable[str], choices: Choices, placement: Placement, *, open_only: bool) -> dict[str, Choice]:
    """The choices of all these ornaments with one placement."""
    found = {}
    for name in names:
        choice = choices.get(name, Choice())
        found[name] = choice if open_only and choice.placement else replace(choice, placement=placement)
    return found


def sound_alike(both: Both, key: str) -> bool:
    """Whether both placements of an ornament come to the same."""
    before, on = (both[placement].by_key.get(key) for placement in PLACEMENTS)
    return before is None or on is None or before.placement == on.placement or before.notes == on.notes
