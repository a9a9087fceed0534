"""Which ornaments a score has, what was chosen for each, and which key each of them adorns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from scores.music.notation import Note, Ornament, Pitch, Placement, Score
from scores.music.ornaments.figures import MELODIC, MORDENTS
from scores.music.ornaments.neighbours import Neighbours
from scores.music.ornaments.voices import Chain, Lane, Struck, Voice, voices
from scores.music.ornaments.words import Choice, Remark, Sounding
from scores.music.tempo import FASTEST, SLOWEST, Number, checked

ZERO = Fraction(0)
ORDINARY_TEMPO = Fraction(80)  # Where neither the caller nor the file names one.
ARPEGGIO, TREMOLO, GRACE = "arpeggiate", "tremolo", "grace"
# Signs that change no note, or that belong to another sign.
SILENT = frozenset({"wavy-line", "non-arpeggiate", "accidental-mark", "fermata"})

NOT_KNOWN = "The sign “%(kind)s” is not written out; the note sounds as it stands."
NO_ROOM = Remark("There is no room for this ornament: the note has no length of its own.")
NO_TIME_BEFORE = Remark("There is no time before this note: the ornament falls on the beat.")
NO_NOTE_AFTER = Remark("No key is struck after these grace notes: they come before the beat.")
SECOND_SIGN = Remark("The note has a second sign; only the first is written out.")
SAME_BEFORE = Remark("This ornament has no part before the beat: both placements sound alike.")
AFTER_GRACES = Remark("The grace notes stand on the beat, so this ornament follows them there.")
NO_PARTNER = Remark("The tremolo has no second note: the note sounds as it stands.")
HELD = Remark("Another note has one of these keys at that moment: the key is let go for the stroke, or shared.")


@dataclass(slots=True)
class Entry:
    """An ornament being built; see `words.Realised`."""

    key: str
    kind: str
    note: Note
    placement: Placement
    choice: Choice
    options: dict[str, str] = field(default_factory=dict)
    notes: list[Sounding] = field(default_factory=list)
    taken: dict[str, Fraction] = field(default_factory=dict)
    from_silence: Fraction = ZERO
    waited: dict[str, Fraction] = field(default_factory=dict)
    remarks: list[Remark] = field(default_factory=list)
    led: int = 0

    def take(self, length: Fraction, before: Iterable[Chain]) -> None:
        """Books time taken before the beat."""
        before = list(before)
        for chain in before:
            self.taken[chain.id] = max(length, self.taken.get(chain.id, ZERO))
        if not before:
            self.from_silence = max(length, self.from_silence)


@dataclass(slots=True)
class Lead:
    """Keys struck before the beat, for so many quarters."""

    pitches: tuple[Pitch, ...]
    length: Fraction
    source: str
    entry: Entry


@dataclass(slots=True)
class Group:
    """What one voice strikes at a moment, and the ornaments there. `rolled`: an arpeggio stands at its chord."""

    lane: Lane
    voice: Voice
    onset: Fraction
    chains: list[Chain]
    graces: list[Note]
    rolled: bool = False
    grace: Entry | None = None
    signs: dict[str, Entry] = field(default_factory=dict)  # By the id of the chain that is adorned.
    tremolo: Entry | None = None
    leads: list[Lead] = field(default_factory=list)

    @property
    def is_plain(self) -> bool:
        """Nothing here changes what is written, but for what a later ornament takes from the end."""
        return not (self.rolled or self.graces or self.signs or self.tremolo)

    @property
    def grace_moments(self) -> list[tuple[tuple[Pitch, ...], str]]:
        """The grace notes in order, those of one order together: pitches and the first one's id."""
        by_order: dict[int, list[Note]] = {}
        for note in self.graces:
            by_order.setdefault(note.grace.order if note.grace else 0, []).append(note)
        return [
            (tuple(note.pitch for note in notes), notes[0].id)
            for _, notes in sorted(by_order.items(), key=lambda x: x[0])
        ]


def rolled_order(entry: Entry, members: list[tuple[Group, Chain]]) -> list[tuple[int, Group, Chain]]:
    """The notes of an arpeggio with their places from 0: upwards, or down where the sign says so. One key that two
    voices share has one place."""
    keys = sorted({chain.attack.pitch.midi for _, chain in members}, reverse=entry.options.get("direction") == "down")
    places = {key: place for place, key in enumerate(keys)}
    placed_ = [(places[chain.attack.pitch.midi], group, chain) for group, chain in members]
    return sorted(placed_, key=lambda one: one[0])


class Plan:
    """The groups of a score, voice by voice, with an entry for every grace and sign."""

    def __init__(
        self,
        score: Score,
        choices: Mapping[str, Choice | Placement],
        placement: Placement,
        tempo: Number | None,
    ) -> None:
        self.score = score
        self.choices = {
            key: choice if isinstance(choice, Choice) else Choice(placement=choice) for key, choice in choices.items()
        }
        self.placement: Placement = placement
        self._fixed = Fraction(checked(tempo)) if tempo is not None else None
        self._tempos = sorted(score.tempos, key=lambda mark: mark.onset)
        self.neighbours = Neighbours(score)
        self.entries: list[Entry] = []
        self._used: set[str] = set()
        self.groups = [
            self._group(lane, voice, struck) for lane, voice in voices(score).items() for struck in voice.struck
        ]
        self.arpeggios = self._arpeggios()

    def tempo_at(self, onset: Fraction) -> Fraction:
        """Quarters a minute at a moment, within what a metronome has."""
        if self._fixed is not None:
            return self._fixed
        written = [mark.quarters for mark in self._tempos if mark.onset <= onset] or [
            mark.quarters for mark in self._tempos[:1]
        ]
        tempo = written[-1] if written else ORDINARY_TEMPO
        return min(max(tempo, Fraction(SLOWEST)), Fraction(FASTEST))

    @property
    def unused(self) -> list[str]:
        """Choices that no ornament took up."""
        return [key for key in self.choices if key not in self._used]

    def _group(self, lane: Lane, voice: Voice, struck: Struck) -> Group:
        group = Group(lane, voice, struck.onset, struck.chains, struck.graces)
        if group.graces:
            also = [note.id for note in group.graces[1:]] + [chain.id for chain in group.chains]
            group.grace = self._entry(
                group.graces[0].id, GRACE, group.graces[0], {}, _written_placement(group.graces), also
            )
            self._remark_on_grace_signs(group)
        if any(note.ornaments for chain in group.chains for note in chain.notes):
            self._add_signs(group)
        return group

    def _remark_on_grace_signs(self, group: Group) -> None:
        if group.grace and any(sign.kind not in SILENT for note in group.graces for sign in note.ornaments):
            group.grace.remarks.append(NO_ROOM)

    def _add_signs(self, group: Group) -> None:
        """Finds the key that each melodic sign adorns. A sign on one head of a chord is meant for the top note, or for
        the lowest where it is placed below; signs on several heads for each of them."""
        bearing = [(chain, *found) for chain in group.chains if (found := _melodic(chain))]
        for chain, note, sign, others in bearing:
            options = dict(sign.options)
            adorned = chain
            if len(bearing) == 1 and note is chain.attack:
                adorned = group.chains[0 if options.get("placement") == "below" else -1]
            entry = self._entry(note.id, sign.kind, note if adorned is chain else adorned.attack, options, None)
            if others:
                entry.remarks.append(SECOND_SIGN)
            group.signs[adorned.id] = entry
        for chain in group.chains:
            for note, sign in [(one, sign) for one in chain.notes for sign in one.ornaments]:
                if sign.kind == TREMOLO and dict(sign.options).get("type", "single") != "stop" and not group.tremolo:
                    group.tremolo = self._entry(_second_key(note, TREMOLO), TREMOLO, note, dict(sign.options), None)
                    for other in group.signs.values():
                        other.remarks.append(SECOND_SIGN)
                elif sign.kind not in MELODIC and sign.kind not in SILENT and sign.kind not in (TREMOLO, ARPEGGIO):
                    entry = self._entry(_second_key(note, sign.kind), sign.kind, note, dict(sign.options), None)
                    entry.remarks.append(Remark(NOT_KNOWN, (("kind", sign.kind),)))

    def _arpeggios(self) -> list[tuple[Entry, list[tuple[Group, Chain]]]]:
        """Chords rolled at one moment under one number are one arpeggio, over both hands (MusicXML, arpeggiate)."""
        rolled: dict[tuple[Fraction, str], list[tuple[Group, Chain, Ornament]]] = {}
        for group in self.groups:
            signs = [sign for chain in group.chains for sign in chain.attack.ornaments if sign.kind == ARPEGGIO]
            group.rolled = bool(signs)
            for chain in group.chains if signs else ():
                number = dict(signs[0].options).get("number", "")
                rolled.setdefault((group.onset, number), []).append((group, chain, signs[0]))
        found = []
        for members in rolled.values():
            members.sort(key=lambda member: member[1].attack.pitch.midi)
            bearer = next(
                chain.attack for _, chain, _ in members if any(sign.kind == ARPEGGIO for sign in chain.attack.ornaments)
            )
            options = dict(members[0][2].options)
            also = [chain.id for _, chain, _ in members]
            entry = self._entry(_second_key(bearer, ARPEGGIO), ARPEGGIO, bearer, options, None, also)
            rollable = [(group, chain) for group, chain, _ in members if not group.tremolo]
            if len(rollable) < len(members):
                entry.remarks.append(SECOND_SIGN)
            found.append((entry, rollable))
        return found

    def _entry(
        self,
        key: str,
        kind: str,
        note: Note,
        options: dict[str, str],
        written: Placement | None,
        also: Iterable[str] = (),
    ) -> Entry:
        """Begins an ornament: what was chosen comes before what the file says, that before the general placement."""
        names = [name for name in (key, note.id, *also) if name in self.choices]
        self._used.update(names)
        choice = self.choices[names[0]] if names else Choice()
        entry = Entry(key, kind, note, choice.placement or written or self.placement, choice, placed(kind, options))
        self.entries.append(entry)
        return entry


def placed(kind: str, options: Mapping[str, str]) -> dict[str, str]:
    """The sign's options with its accidentals bound to a neighbour.

    A mordent has one neighbour, wherever the accidental stands. One without a place belongs to the upper neighbour
    of a trill or turn.
    """
    bound = dict(options)
    accidentals = {name: bound.pop(name) for name in list(bound) if name.startswith("accidental")}
    for name, accidental in accidentals.items():
        below = kind == "mordent" if kind in MORDENTS else name.endswith("below")
        bound["accidental-below" if below else "accidental-above"] = accidental
    return bound


def _second_key(note: Note, kind: str) -> str:
    """A note's id names its melodic sign; another sign beside that one, or beside one more, has its kind added."""
    kinds = [sign.kind for sign in note.ornaments if sign.kind not in SILENT]
    first = next((one for one in kinds if one in MELODIC), kinds[0] if kinds else kind)
    return note.id if first == kind else f"{note.id}/{kind}"


def _melodic(chain: Chain) -> tuple[Note, Ornament, bool] | None:
    """The first melodic sign on a chain and whether a different one follows; a trill that goes on over a tie is one."""
    signs = [(note, sign) for note in chain.notes for sign in note.ornaments if sign.kind in MELODIC]
    if not signs:
        return None
    return (*signs[0], any(sign.kind != signs[0][1].kind for _, sign in signs))


def _written_placement(graces: Iterable[Note]) -> Placement | None:
    """What the file says by its steal-time attributes; nothing if it has none."""
    for note in graces:
        if note.grace and note.grace.steal_previous:
            return "before"
        if note.grace and note.grace.steal_following:
            return "on"
    return None
