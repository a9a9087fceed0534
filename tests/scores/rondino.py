"""A little rondo, invented: its theme (measures 1–2) comes again as it was (5–6), a fifth higher (7–8), and in the
right hand alone (9–10). The theme has a turn, and three against four."""

from tests.music import ATTRIBUTES, BACK, TURN, note, score

FIFTH = {"Eb": "Bb", "F": "C", "G": "D", "Ab": "Eb", "Bb": "F", "C": "G", "D": "A"}
LETTERS = "CDEFGAB"


def fifth(name: str) -> str:
    """A note a fifth higher: five letters with the first, so the octave turns from F on."""
    octave = int(name[-1]) + (LETTERS.index(name[0]) + 4) // 7
    return f"{FIFTH[name[:-1]]}{octave}"


def same(name: str) -> str:
    return name


def theme(move=same, left: tuple[str, str] | None = None) -> list[str]:
    """Two measures; `left` are other measures for the left hand."""
    run = "".join(note(move(name), "eighth") for name in ("Eb5", "F5", "G5", "Ab5", "Bb5", "G5"))
    bass = "".join(note(move(name), "quarter", staff=2) for name in ("Eb3", "Bb3", "G3"))
    turned = "".join(
        note(move(name), "quarter", extra=extra) for name, extra in (("Ab5", ""), ("F5", TURN), ("Eb5", ""))
    )
    four = "".join(note(move(name), "quarter", duration=9, staff=2) for name in ("Bb2", "F3", "D3", "F3"))
    first, second = left or (bass, four)
    return [run + BACK + first, turned + BACK + second]


def three(*names: str, staff: int = 1) -> str:
    return "".join(note(name, "quarter", staff=staff) for name in names)


BETWEEN = [
    three("G5", "Eb5", "C5") + BACK + note("C3", "half.", staff=2),
    three("D5", "F5", "Bb4") + BACK + note("Bb2", "half.", staff=2),
]
OTHER_LEFT = (note("C3", "half.", staff=2), three("Ab2", "Bb2", "Eb3", staff=2))
CLOSE = [
    three("Eb5", "G5", "Bb5") + BACK + note("Eb3", "half.", staff=2),
    note("Eb5", "half.") + BACK + note("Eb2", "half.", staff=2),
]

MEASURES = [*theme(), *BETWEEN, *theme(), *theme(fifth), *theme(left=OTHER_LEFT), *CLOSE]
RONDINO = score([ATTRIBUTES + MEASURES[0], *MEASURES[1:]], title="Rondino", composer="Invented")
