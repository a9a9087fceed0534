"""The figures of the ornaments: which steps, how long each, before the beat and on it.

A figure is a list of (step, length): step 0 is the written note, 1 its upper neighbour, -1 the lower; lengths are exact
quarters. Lengths on the beat always add up to the room there is. Patterns are those of J. S. Bach's Explication (1720)
and of Grove's Dictionary (1879-89); see the tests for each.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from scores.music.ornaments.words import Choice, Remark, Start
from scores.music.tempo import milliseconds

Figure = tuple[tuple[int, Fraction], ...]

TRILLS = frozenset({"trill-mark", "shake"})
MORDENTS = frozenset({"mordent", "inverted-mordent"})
TURNS = {"turn": 1, "vertical-turn": 1, "inverted-turn": -1, "inverted-vertical-turn": -1}
DELAYED = {"delayed-turn": 1, "delayed-inverted-turn": -1}
SLIDES = frozenset({"schleifer"})
MELODIC = TRILLS | MORDENTS | SLIDES | TURNS.keys() | DELAYED.keys()

# Common practice: a crushed note takes 50 ms or a little more, a trill has about ten notes a second; a trill faster
# than one note in 70 ms, or any quick note under 45 ms, is more than most hands do evenly.
CRUSHED_MS = 50
TRILL_MS = 100
TRILL_WISE_MS = 70
QUICK_MS = 45
QUARTER_PARTS = tuple(Fraction(1, parts) for parts in (4, 8, 16, 32))
TRILL_UNITS = tuple(Fraction(1, parts) for parts in (2, 3, 4, 6, 8, 12, 16, 24, 32))
EVEN_COUNTS = (2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64)


def crushed(tempo: Fraction) -> Fraction:
    """The length of one quick note at a tempo: the least of a 16th, 32nd, 64th, 128th that lasts 50 ms."""
    return min((part for part in QUARTER_PARTS if milliseconds(part, tempo) >= CRUSHED_MS), default=QUARTER_PARTS[0])


def start_of(kind: str, choice: Choice, options: Mapping[str, str]) -> Start:
    """The note a sign starts from: as chosen, as the file says (trill-sound), else the 18th century's upper note for
    trills and turns, and the main note for mordents."""
    if choice.start:
        return choice.start
    written = {"upper": "upper", "main": "main", "below": "lower"}.get(options.get("start-note", ""))
    if written == "main":
        return "main"
    if written == "lower" and kind in TRILLS:
        return "lower"
    return "main" if kind in MORDENTS else "upper"


def lead(kind: str, choice: Choice, options: Mapping[str, str], room: Fraction, tempo: Fraction) -> Figure:
    """What sounds before the beat when the ornament is placed there; at most `room` quarters in all.

    Empty where the sign has no part before the beat: a trill from the main note, a turn after the note.
    """
    start = start_of(kind, choice, options)
    steps: tuple[int, ...] = ()
    if kind in TRILLS:
        steps = {"upper": (1,), "lower": (-1,), "main": (), "turn": (1, 0, -1)}[start]
    elif kind in MORDENTS:
        steps = _mordent(kind, _odd(choice, options))[:-1]
    elif kind in TURNS:
        steps = _turn(TURNS[kind], start, choice)[:-1]
    elif kind in SLIDES:
        steps = (-2, -1)
    if not steps or room <= 0:
        return ()
    unit = min(crushed(tempo), room / len(steps))
    return tuple((step, unit) for step in steps)


def body(
    kind: str,
    choice: Choice,
    options: Mapping[str, str],
    room: Fraction,
    tempo: Fraction,
    *,
    led: int = 0,
    before_dot: Fraction | None = None,
) -> tuple[Figure, tuple[Remark, ...]]:
    """What sounds from the beat on, `room` quarters in all.

    `led` is the number of its notes that sounded before the beat. `before_dot` is the time up to the dot of a dotted
    note that is followed by one of half its undotted value: a turn after the note then ends there.
    """
    if kind in TRILLS:
        return _trill(kind, choice, options, room, tempo, led)
    if kind in DELAYED:
        return _delayed(_turn(DELAYED[kind], start_of(kind, choice, options), choice), room, before_dot), ()
    if led:
        return ((0, room),), ()
    if kind in MORDENTS:
        steps = _mordent(kind, _odd(choice, options))
        return _then_hold(steps, min(Fraction(1, 8), room / (len(steps) + 1)), room), ()
    if kind in TURNS:
        steps = _turn(TURNS[kind], start_of(kind, choice, options), choice)
        return _then_hold(steps, min(Fraction(1, 4), room / len(steps)), room), ()
    if kind in SLIDES:
        return _then_hold((-2, -1, 0), min(Fraction(1, 8), room / 4), room), ()
    return ((0, room),), ()


def wiser_count(count: int, room: Fraction, tempo: Fraction) -> int:
    """The most notes, no more than `count` and of its parity, that stay slow enough to be played evenly; at least 2."""
    most = int(milliseconds(room, tempo) // TRILL_WISE_MS)
    while count > max(2, most):
        count -= 2
    return max(2, count)


def _then_hold(steps: tuple[int, ...], unit: Fraction, room: Fraction) -> Figure:
    """Quick notes of `unit`; the last is held for what is left."""
    quick = tuple((step, unit) for step in steps[:-1])
    return (*quick, (steps[-1], room - unit * len(quick)))


def _odd(choice: Choice, options: Mapping[str, str]) -> int:
    count = choice.count or (5 if options.get("long") == "yes" else 3)
    return max(3, count if count % 2 else count - 1)


def _mordent(kind: str, count: int) -> tuple[int, ...]:
    neighbour = -1 if kind == "mordent" else 1
    return tuple(neighbour if place % 2 else 0 for place in range(count))


def _turn(way: int, start: Start, choice: Choice) -> tuple[int, ...]:
    """Four notes from the neighbour, or five from the main note."""
    four = (way, 0, -way, 0)
    return (0, *four) if start == "main" or (choice.count or 4) > 4 else four


def _delayed(steps: tuple[int, ...], room: Fraction, before_dot: Fraction | None) -> Figure:
    if before_dot and before_dot < room:
        # Half of the undotted value is held; all but the last note of the turn fill the other half.
        quick = before_dot / 2 / (len(steps) - 1)
        return (
            (0, before_dot / 2),
            *((step, quick) for step in steps[:-1]),
            (steps[-1], room - before_dot),
        )
    quick = min(Fraction(1, 8), room / (2 * len(steps)))
    return ((0, room - quick * len(steps)), *((step, quick) for step in steps))


def _trill(
    kind: str, choice: Choice, options: Mapping[str, str], room: Fraction, tempo: Fraction, led: int
) -> tuple[Figure, tuple[Remark, ...]]:
    start: Start = "main" if led else start_of(kind, choice, options)
    turn = choice.turn if choice.turn is not None else options.get("two-note-turn", "none") != "none"
    wanted = choice.count or _beats(options)
    least = {"main": 3, "upper": 2, "lower": 4, "turn": 6}[start] + (2 if turn else 0)
    if wanted is None:
        return _free_trill(start, turn, room, tempo, least), ()
    remarks: tuple[Remark, ...] = ()
    count = max(wanted - led, least if turn else 2)
    if turn and (count % 2 == 1) != (start == "main"):
        count += 1
    if count + led != wanted:
        remarks = (
            Remark(
                "With this beginning and end the trill has %(count)d notes, not %(wanted)d.",
                (("count", count + led), ("wanted", wanted)),
            ),
        )
    steps = trill_steps(start, count, turn=turn)
    return tuple(zip(steps, _trill_lengths(count, options, room), strict=True)), remarks


def _free_trill(start: Start, turn: bool, room: Fraction, tempo: Fraction, least: int) -> Figure:
    """A trill of about ten notes a second that ends on the main note, in a simple division of the time."""
    units = {unit for unit in TRILL_UNITS if (room / unit).denominator == 1} | {room / count for count in EVEN_COUNTS}
    fitting = [unit for unit in units if room / unit >= least] or [room / least]

    def distance(unit: Fraction) -> tuple[Fraction, Fraction]:
        ms = milliseconds(unit, tempo)
        return max(ms / TRILL_MS, TRILL_MS / ms), -unit

    unit = min(fitting, key=distance)
    count = int(room / unit)
    if (count % 2 == 1) != (start == "main"):
        count -= 1  # The last note is held for two, so that the trill ends on the written note.
    if count < least:
        count = least
        unit = room / count
    return _then_hold(trill_steps(start, count, turn=turn), unit, room)


def trill_steps(start: Start, count: int, *, turn: bool) -> tuple[int, ...]:
    """The steps of a trill of `count` notes; with `turn` the last two are the lower neighbour and the main note."""
    opening: tuple[int, ...] = {"main": (), "upper": (), "lower": (-1, 0), "turn": (1, 0, -1, 0)}[start]
    first = 0 if start == "main" else 1
    shaken = count - len(opening) - (2 if turn else 0)
    alternating = tuple(first if place % 2 == 0 else 1 - first for place in range(max(0, shaken)))
    return (*opening, *alternating, *((-1, 0) if turn else ()))[:count]


def _trill_lengths(count: int, options: Mapping[str, str], room: Fraction) -> tuple[Fraction, ...]:
    """Equal lengths, or as MusicXML's second-beat and last-beat ask: percentages of the way at which the second and
    the last note fall."""
    second, last = _percent(options.get("second-beat")), _percent(options.get("last-beat"))
    if count < 3 or second is None or last is None or not 0 < second < last < 1:
        return (room / count,) * count
    inner = (last - second) / (count - 2)
    return (second * room, *(inner * room,) * (count - 2), (1 - last) * room)


def _beats(options: Mapping[str, str]) -> int | None:
    """MusicXML's number of notes of a trill, when the file states one that can be played."""
    try:
        beats = int(Fraction(options["beats"]))
    except (KeyError, ValueError, ZeroDivisionError):
        return None
    return beats if 2 <= beats <= 128 else None


def _percent(text: str | None) -> Fraction | None:
    try:
        return Fraction(text) / 100 if text else None
    except (ValueError, ZeroDivisionError):
        return None
