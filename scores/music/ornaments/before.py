"""What sounds before the beat, and whose time it takes."""

from __future__ import annotations

from fractions import Fraction
from math import floor

from scores.music.ornaments import figures
from scores.music.ornaments.plan import (
    AFTER_GRACES,
    NO_NOTE_AFTER,
    NO_ROOM,
    NO_TIME_BEFORE,
    SAME_BEFORE,
    ZERO,
    Entry,
    Group,
    Lead,
    Plan,
    rolled_order,
)
from scores.music.ornaments.voices import Chain

# The parts that note values make of one another, the plainest first.
DIVISIONS = tuple(
    dict.fromkeys(Fraction(part, parts) for parts in (3, 6, 8, 12, 16, 24, 32, 48) for part in range(1, parts))
)


def take_time(plan: Plan) -> None:
    """Fills the groups' leads, the early strokes of arpeggios, and trims what precedes them."""
    for entry, members in plan.arpeggios:
        if entry.placement == "before":
            _roll_early(plan, entry, members)
    for group in plan.groups:
        if not group.is_plain:
            _lead(plan, group)


def _roll_early(plan: Plan, entry: Entry, members: list[tuple[Group, Chain]]) -> None:
    """The last note of the chord falls on the beat, the others before it."""
    ordered = rolled_order(entry, members)
    if not ordered or not ordered[-1][0]:
        return
    steps = ordered[-1][0]
    rooms = [group.voice.room_before(group.onset) for _, group, _ in ordered]
    # Graces before the chord need time too: the arpeggio takes half at most where there are some.
    room = min(room / 2 if group.graces else room for (room, _), (_, group, _) in zip(rooms, ordered, strict=True))
    if room <= 0:
        entry.placement = "on"
        entry.remarks.append(NO_TIME_BEFORE)
        return
    unit = min(figures.crushed(plan.tempo_at(entry.note.onset)), room / steps)
    for (place, _, chain), (_, before) in zip(ordered, rooms, strict=True):
        chain.shift = -unit * (steps - place)
        if chain.shift:
            entry.take(-chain.shift, before)


def _lead(plan: Plan, group: Group) -> None:
    room, before = group.voice.room_before(group.onset)
    rolled = max(ZERO, *(-chain.shift for chain in group.chains)) if group.chains else ZERO
    left = room - rolled
    graces = _grace_leads(plan, group, left, rolled)
    left -= sum((lead.length for lead in graces), ZERO)
    signs = _sign_leads(plan, group, left, bool(graces))
    group.leads = [*graces, *signs]
    total = rolled + sum((lead.length for lead in group.leads), ZERO)
    for chain in before:
        chain.trim = max(chain.trim, total)
    if not before and group.voice.is_held_through(group.onset):
        return
    for entry in {id(lead.entry): lead.entry for lead in group.leads}.values():
        entry.take(sum((lead.length for lead in group.leads if lead.entry is entry), ZERO), before)


def _grace_leads(plan: Plan, group: Group, room: Fraction, rolled: Fraction) -> list[Lead]:
    entry = group.grace
    if entry is None:
        return []
    if entry.placement == "on" and not group.chains:
        entry.placement = "before"
        entry.remarks.append(NO_NOTE_AFTER)
    if entry.placement == "on":
        return []
    if room <= 0:
        entry.remarks.append(NO_TIME_BEFORE if group.chains else NO_ROOM)
        entry.placement = "on" if group.chains else "before"
        return []
    lengths = _grace_lengths(plan, group, room, rolled)
    return [
        Lead(pitches, length, source, entry)
        for (pitches, source), length in zip(group.grace_moments, lengths, strict=True)
    ]


def _grace_lengths(plan: Plan, group: Group, room: Fraction, rolled: Fraction) -> list[Fraction]:
    """Quarters for each of the graces: what the file states for it, else as quick as may be; less where room lacks."""
    before = group.voice.room_before(group.onset)[1]
    previous = min((chain.notes[-1].length for chain in before), default=ZERO)
    quick = figures.crushed(plan.tempo_at(group.onset))
    lengths, stated = [], False
    for _, source in group.grace_moments:
        grace = plan.score.by_id[source].grace
        length = None
        if grace and grace.steal_previous and before:
            length = share(grace.steal_previous) * previous
        elif grace and grace.make_time:
            length = grace.make_time
        stated = stated or length is not None
        lengths.append(quick if length is None else length)
    if stated and before:
        # What the file states may be more than half; something of the note has to be left.
        room = min(chain.length for chain in before) * Fraction(7, 8) - rolled
    return fitted(lengths, room)


def fitted(lengths: list[Fraction], room: Fraction) -> list[Fraction]:
    """The lengths themselves, or all made less in proportion where they need more than the room."""
    total = sum(lengths, ZERO)
    return lengths if total <= room else [length * room / total for length in lengths]


def _sign_leads(plan: Plan, group: Group, room: Fraction, graces_led: bool) -> list[Lead]:
    leads: list[Lead] = []
    for chain in group.chains:
        entry = group.signs.get(chain.id)
        if entry is None or entry.placement == "on":
            continue
        tempo = plan.tempo_at(group.onset)
        if entry.note is not chain.attack or not figures.lead(
            entry.kind, entry.choice, entry.options, Fraction(1), tempo
        ):
            entry.remarks.append(SAME_BEFORE)
            continue
        figure = figures.lead(entry.kind, entry.choice, entry.options, room, tempo)
        if not figure or leads or (group.graces and not graces_led):
            entry.placement = "on"
            entry.remarks.append(AFTER_GRACES if group.graces and not graces_led else NO_TIME_BEFORE)
            continue
        for step, length in figure:
            pitch = plan.neighbours.of(entry.note, step, entry.options)
            leads.append(Lead((pitch,), length, entry.note.id, entry))
        entry.led = len(figure)
    return leads


def nearest_percent(share: Fraction) -> int:
    """A share of one in whole percent, a half upwards."""
    return floor(share * 100 + Fraction(1, 2))


def share(percent: Fraction) -> Fraction:
    """A percentage as a share of one. A file's decimals are read as the simple fraction they stand for: 33.3333 is a
    third. So is a whole number that is none of the round ones: 33 is a third, 13 an eighth; 10 is a tenth."""
    exact = Fraction(percent) / 100
    if exact.denominator in (25, 50, 100):
        return next((simple for simple in DIVISIONS if nearest_percent(simple) == percent), exact)
    simple = exact.limit_denominator(96)
    return simple if abs(simple - exact) < Fraction(1, 10_000) else exact
