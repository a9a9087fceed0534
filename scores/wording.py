"""Notes in words, for the eye and for those who hear the page read."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from scores.music.notation import Note

SPOKEN_SIGNS = {
    -2: gettext_noop("double flat"),
    -1: gettext_noop("flat"),
    0: "",
    1: gettext_noop("sharp"),
    2: gettext_noop("double sharp"),
}


def key_words(note: Note) -> str:
    """The key as it is written: "E♭5"."""
    return f"{note.pitch.name}{note.pitch.octave}"


def spoken(note: Note) -> str:
    """The note for those who hear it read: "E flat 5"."""
    sign = SPOKEN_SIGNS.get(note.pitch.alter, "")
    return " ".join(part for part in (note.pitch.step, str(_(sign)) if sign else "", str(note.pitch.octave)) if part)
