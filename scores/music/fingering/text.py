"""How fingerings are typed and kept.

A fingering maps note ids to text: "3", or "4-5" for a substitution, the first finger first; a note that is not in it
is unmarked. A typed line has one token for each moment, tokens separated by blanks:

    line    = token { blank token }       bar lines "|" may stand anywhere and mean nothing
    token   = "_"                         the whole moment is unmarked
            | mark { mark }               one mark for each note, from low to high: "135"
            | finger "-" finger ...       a substitution on a single note: "4-5"
    mark    = finger | "."                "." leaves this one note unmarked
            | "(" finger "-" finger ")"   a substitution inside a chord: "1(4-5)"
    finger  = "1" to "5"                  1 is the thumb in both hands

En dashes and full-width digits are read as their plain forms.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from scores.music.fingering.problems import Problem, gettext_noop, place
from scores.music.notation import Moment, Score
from scores.music.refusal import Refusal

NOT_A_FINGER = gettext_noop("“%(typed)s” is no finger: fingers are 1 to 5, a substitution is written 4-5.")
NOT_A_FINGER_AT = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: “%(typed)s” is no finger. Fingers are 1 to 5, a substitution is written 4-5."
)
TOO_FEW_MOMENTS = gettext_noop(
    "The line ends before measure %(measure)s, beat %(beat)s: %(typed)s of %(wanted)s places are "
    "typed. “_” leaves a place unmarked."
)
TOO_MANY_MOMENTS = gettext_noop(
    "The line goes on after the last note (measure %(measure)s, beat %(beat)s): %(typed)s typed for %(wanted)s places."
)
TOO_FEW_FINGERS = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: “%(token)s” has too few fingers, %(typed)s for %(wanted)s notes."
)
TOO_MANY_FINGERS = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: “%(token)s” has too many fingers, %(typed)s for %(wanted)s notes."
)
NO_NOTES = gettext_noop("There are no notes here to finger.")

DASHES = str.maketrans({"–": "-", "—": "-", "‑": "-", "‐": "-", "−": "-"})
FINGER = re.compile(r"[1-5](?:-[1-5])*")
MARK = re.compile(r"\(([^()]*)\)|(.)")
LONGEST_QUOTE = 20


class NotAFinger(Refusal):
    """The text is neither a finger nor a substitution."""


@dataclass(frozen=True)
class Line:
    """What a typed line says: note id -> text for the marked notes, and what is wrong with it."""

    fingers: dict[str, str]
    problems: tuple[Problem, ...]


def plain(text: str) -> str:
    return unicodedata.normalize("NFKC", text).translate(DASHES)


def quoted(text: str) -> str:
    return text if len(text) <= LONGEST_QUOTE else text[: LONGEST_QUOTE - 1] + "…"


def parse_finger(text: str) -> tuple[int, ...]:
    """The fingers that take a key one after the other: "3" -> (3,), "4-5" -> (4, 5). Raises `NotAFinger`."""
    typed = plain(text).replace(" ", "")
    if not FINGER.fullmatch(typed):
        raise NotAFinger(NOT_A_FINGER, {"typed": quoted(text)})
    fingers = tuple(int(digit) for digit in typed.split("-"))
    if any(here == there for here, there in pairwise(fingers)):
        raise NotAFinger(NOT_A_FINGER, {"typed": quoted(text)})
    return fingers


def write_finger(fingers: Sequence[int]) -> str:
    """The inverse of `parse_finger`."""
    return "-".join(str(finger) for finger in fingers)


def fingers_of(text: str | None) -> tuple[int, ...]:
    """As `parse_finger`, but () for an unmarked note and for what is no finger."""
    try:
        return parse_finger(text) if text else ()
    except NotAFinger:
        return ()


def read_line(text: str, moments: Sequence[Moment], score: Score) -> Line:
    """Reads a typed line against the moments it stands for. What is right is kept even when something else is wrong."""
    tokens = plain(text).replace("|", " ").split()
    fingers: dict[str, str] = {}
    problems: list[Problem] = []
    for token, moment in zip(tokens, moments, strict=False):
        found, problem = read_token(token, moment, score)
        fingers |= found
        if problem:
            problems.append(problem)
    counts: dict[str, str | int] = {"typed": len(tokens), "wanted": len(moments)}
    if not moments and tokens:
        problems.append(Problem("no-notes", (), NO_NOTES))
    elif len(tokens) < len(moments):
        missing = moments[len(tokens)]
        problems.append(
            Problem("too-few", missing.ids, TOO_FEW_MOMENTS, place(missing.notes[0], score) | counts),
        )
    elif len(tokens) > len(moments):
        last = moments[-1]
        problems.append(Problem("too-many", last.ids, TOO_MANY_MOMENTS, place(last.notes[0], score) | counts))
    return Line(fingers, tuple(problems))


def read_token(token: str, moment: Moment, score: Score) -> tuple[dict[str, str], Problem | None]:
    """The fingers of one moment, or what is wrong with its token. `token` is in plain characters."""
    if token == "_":
        return {}, None
    marks = [token] if FINGER.fullmatch(token) and "-" in token else split_marks(token)
    where = place(moment.notes[0], score)
    for mark in marks:
        if mark != "." and not fingers_of(mark):
            problem = Problem("not-a-finger", moment.ids, NOT_A_FINGER_AT, where | {"typed": quoted(mark)})
            return {}, problem
    if len(marks) != len(moment.notes):
        short = len(marks) < len(moment.notes)
        counts: dict[str, str | int] = {"token": quoted(token), "typed": len(marks), "wanted": len(moment.notes)}
        kind, message = ("too-few", TOO_FEW_FINGERS) if short else ("too-many", TOO_MANY_FINGERS)
        return {}, Problem(kind, moment.ids, message, where | counts)
    return {note.id: mark for note, mark in zip(moment.notes, marks, strict=True) if mark != "."}, None


def split_marks(token: str) -> list[str]:
    """ "1(4-5)." -> ["1", "4-5", "."]. A run of characters that are no mark stays in one piece, to be quoted whole."""
    marks: list[str] = []
    strange = False
    for inside, single in MARK.findall(token):
        known = not single or single in "12345."
        if not known and strange:
            marks[-1] += single
        else:
            marks.append(single or inside or "()")
        strange = not known
    return marks


def write_line(fingers: Mapping[str, str], moments: Sequence[Moment]) -> str:
    """The line that `read_line` reads back as the same fingering. Notes outside the moments are left out."""
    return " ".join(write_token(fingers, moment) for moment in moments)


def write_token(fingers: Mapping[str, str], moment: Moment) -> str:
    texts = [plain(fingers.get(note.id, "")).replace(" ", "") for note in moment.notes]
    if not any(texts):
        return "_"
    if len(texts) == 1:
        return texts[0]
    return "".join(text if len(text) == 1 else f"({text})" if text else "." for text in texts)
