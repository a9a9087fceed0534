"""Writes out every grace and ornament of a score in exact fractions.

Before the beat an ornament takes its time from the end of what precedes it in its own voice (from silence where there
is a rest), never more than half unless the file says so; on the beat from its own note. So what sounds in a voice
always lasts as long as what is written. One key is never struck while an ornament still holds it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from scores.music.notation import Grace, Note, Pitch, Placement, Score
from scores.music.ornaments import figures
from scores.music.ornaments.before import fitted, share, take_time
from scores.music.ornaments.keys import finished, part_keys
from scores.music.ornaments.plan import NO_PARTNER, NO_ROOM, ZERO, Entry, Group, Plan, rolled_order
from scores.music.ornaments.voices import Chain
from scores.music.ornaments.words import Choice, Performance, Remark, Role, Sounding
from scores.music.tempo import Number

NEAR = 4  # A grace within a major third of a chord's note holds up that note alone; one further off, the whole chord.
FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4}
MARKS = 3  # Strokes of a tremolo whose sign has no number of its own.
NOTHING_THERE = "No ornament stands at note %(note)s."


def realise(
    score: Score,
    choices: Mapping[str, Choice | Placement] | None = None,
    *,
    placement: Placement = "on",
    tempo: Number | None = None,
) -> Performance:
    """Every note of `score` as it sounds, with all graces and ornaments written out.

    `choices` maps an ornament's key (see `words.Realised`; for graces any grace of the group or the note they lead to)
    to what is wanted there. `placement` holds where neither a choice nor the file says. `tempo` is quarters a minute
    throughout; None follows the score's own marks. Raises `BadTempo`.
    """
    plan = Plan(score, choices or {}, placement, tempo)
    take_time(plan)
    _roll_on_beat(plan)
    sounding = _Sounding(plan)
    notes, released = part_keys(sounding.all(), {entry.key: entry for entry in plan.entries})
    remarks = tuple(Remark(NOTHING_THERE, (("note", key),)) for key in plan.unused)
    return Performance(notes, finished(plan, notes), tuple(released.items()), remarks)


def _roll_on_beat(plan: Plan) -> None:
    """An arpeggio on the beat: the first note with the beat, the last after half of the shortest note at most."""
    for entry, members in plan.arpeggios:
        if entry.placement == "before":
            continue
        ordered = rolled_order(entry, members)
        steps = ordered[-1][0] if ordered else 0
        if steps:
            room = min(chain.length - chain.trim for _, _, chain in ordered)
            unit = min(figures.crushed(plan.tempo_at(entry.note.onset)), room / (2 * steps))
            for place, _, chain in ordered:
                chain.shift = unit * place
                if place:
                    entry.waited[chain.id] = chain.shift


class _Sounding:
    """Strikes the keys of a plan, group by group."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.notes: list[Sounding] = []
        self._done: set[str] = set()
        self._rolled = {chain.id: entry for entry, members in plan.arpeggios for _, chain in members}

    def all(self) -> list[Sounding]:
        for group in self.plan.groups:
            if group.is_plain:
                self._plain(group)
                continue
            self._lead(group)
            if not (group.tremolo and self._tremolo(group, group.tremolo)):
                self._group(group)
        return self.notes

    def _plain(self, group: Group) -> None:
        side, voice = group.lane
        for chain in group.chains:
            if chain.id not in self._done:
                note = chain.attack
                length = chain.length - chain.trim if chain.trim else chain.length
                self.notes.append(Sounding(note.pitch, note.onset, length, note.id, side, voice))

    def _strike(
        self,
        pitches: Iterable[Pitch],
        onset: Fraction,
        length: Fraction,
        source: Note | str,
        group: Group,
        entry: Entry | None = None,
        role: Role = "ornament",
    ) -> Fraction:
        """Adds keys struck together; gives their end."""
        name = source if isinstance(source, str) else source.id
        if length > 0:
            for pitch in pitches:
                self.notes.append(
                    Sounding(pitch, onset, length, name, group.lane[0], group.lane[1], role, entry.key if entry else "")
                )
        return onset + length

    def _lead(self, group: Group) -> None:
        early = min((chain.shift for chain in group.chains), default=ZERO)
        at = group.onset + min(early, ZERO) - sum((lead.length for lead in group.leads), ZERO)
        for lead in group.leads:
            at = self._strike(lead.pitches, at, lead.length, lead.source, group, lead.entry)

    def _group(self, group: Group) -> None:
        delays = self._graces_on_beat(group)
        for chain in group.chains:
            if chain.id in self._done:
                continue
            begin = chain.onset + chain.shift + delays.get(chain.id, ZERO)
            end = chain.end - chain.trim
            entry = group.signs.get(chain.id)
            if entry:
                self._sign(group, chain, entry, begin, end)
            else:
                owner = self._rolled.get(chain.id) or (group.grace if chain.id in delays or group.leads else None)
                role: Role = "main" if owner else "plain"
                self._strike((chain.attack.pitch,), begin, end - begin, chain.id, group, owner, role)

    def _graces_on_beat(self, group: Group) -> dict[str, Fraction]:
        """Strikes graces that fall on the beat; gives how much each chain of the chord has to wait for them."""
        entry = group.grace
        if entry is None or entry.placement == "before" or not group.chains:
            return {}
        waiting = _waiting(group)
        room = min(chain.length - chain.trim - max(chain.shift, ZERO) for chain in waiting)
        lengths = self._on_beat_lengths(entry, group, waiting, room)
        at = group.onset
        for (pitches, source), length in zip(group.grace_moments, lengths, strict=True):
            at = self._strike(pitches, at, length, source, group, entry)
        return {chain.id: at - group.onset for chain in waiting}

    def _on_beat_lengths(self, entry: Entry, group: Group, waiting: list[Chain], room: Fraction) -> list[Fraction]:
        """Quarters for each grace on the beat: as chosen, as the file states, a long appoggiatura, or quick."""
        main = min(waiting, key=lambda chain: chain.length)
        graces = [self.plan.score.by_id[source].grace for _, source in group.grace_moments]
        stated = [_stated(grace, main.attack.length) if grace else None for grace in graces]
        first, long = graces[0], entry.choice.long
        if len(graces) == 1 and (long or (long is None and not stated[0] and first and not first.slash)):
            wanted = [appoggiatura(main)]
        else:
            quick = figures.crushed(self.plan.tempo_at(group.onset))
            wanted = [quick if length is None or long is False else length for length in stated]
            if not any(stated):
                wanted = fitted(wanted, room / 2)
        return wanted if sum(wanted, ZERO) < room else fitted(wanted, room / 2)

    def _sign(self, group: Group, chain: Chain, entry: Entry, begin: Fraction, end: Fraction) -> None:
        note = entry.note
        if note is not chain.attack and note.onset > begin:
            until = min(note.onset, end)
            begin = self._strike((note.pitch,), begin, until - begin, chain.id, group, entry, "main")
        if end <= begin:
            entry.remarks.append(NO_ROOM)
            return
        figure, remarks = figures.body(
            entry.kind,
            entry.choice,
            entry.options,
            end - begin,
            self.plan.tempo_at(begin),
            led=entry.led,
            before_dot=self._before_dot(group, chain),
        )
        entry.remarks.extend(remarks)
        held = max(reversed(figure), key=lambda item: (item[0] == 0, item[1]))
        for item in figure:
            pitch = self.plan.neighbours.of(note, item[0], entry.options)
            begin = self._strike(
                (pitch,), begin, item[1], chain.id, group, entry, "main" if item is held else "ornament"
            )

    def _before_dot(self, group: Group, chain: Chain) -> Fraction | None:
        """The undotted value of a dotted note that is followed by one of half that value (Grove's rule for turns)."""
        following = group.voice.at(chain.end)
        if (
            len(chain.notes) == 1
            and chain.attack.dots == 1
            and any(3 * one.length == chain.length for one in following)
        ):
            return chain.length * 2 / 3
        return None

    def _tremolo(self, group: Group, entry: Entry) -> bool:
        """Strikes a tremolo on one chord or between two; False where the second is missing."""
        first, second = group.chains, list[Chain]()
        if entry.options.get("type") == "start":
            second = group.voice.at(min(chain.end for chain in first))
            if not second:
                entry.remarks.append(NO_PARTNER)
                return False
        delay = max(self._graces_on_beat(group).values(), default=ZERO)
        last = second or first
        begin = group.onset + delay
        total = min(chain.end - chain.trim for chain in last) - begin
        unit = _tremolo_unit(entry, total)
        strokes = max(1, int(total / unit))
        self._done.update(chain.id for chain in second)
        for stroke in range(strokes):
            chains = second if second and stroke % 2 else first
            length = unit if stroke < strokes - 1 else total - unit * stroke
            for chain in chains:
                self._strike((chain.attack.pitch,), begin, length, chain.id, group, entry)
            begin += length
        return True


def appoggiatura(main: Chain) -> Fraction:
    """How long a long appoggiatura lasts: half of a note that halves, two thirds of a dotted one, the whole of the
    first of two tied notes (Gehrkens, Music Notation and Terminology, section 74)."""
    first = main.attack
    if len(main.notes) > 1:
        return first.length
    return first.length * 2 / 3 if first.dots == 1 else first.length / 2


def _stated(grace: Grace, following: Fraction) -> Fraction | None:
    """What the file states for a grace on the beat, in quarters."""
    return share(grace.steal_following) * following if grace.steal_following else grace.make_time


def _waiting(group: Group) -> list[Chain]:
    """The chains that graces on the beat hold up: the one near by, or else (and in an arpeggio) all."""
    last = group.grace_moments[-1][0]
    if len(last) == 1 and not any(chain.shift for chain in group.chains):
        nearest = min(group.chains, key=lambda chain: abs(chain.attack.pitch.midi - last[0].midi))
        if abs(nearest.attack.pitch.midi - last[0].midi) <= NEAR:
            return [nearest]
    return group.chains


def _tremolo_unit(entry: Entry, total: Fraction) -> Fraction:
    if entry.choice.count:
        return total / entry.choice.count
    written = next((entry.options[name] for name in ("marks", "value", "text") if name in entry.options), "")
    marks = int(written) if written.isdigit() and 0 < int(written) <= 8 else MARKS
    return Fraction(1, 2 ** (marks + FLAGS.get(entry.note.type, 0)))
