"""Where a line opens the hand furthest, in words and as a picture of the keys."""

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from scores.music.fingering.options import Widest
from scores.music.keyboard import keyboard
from scores.music.notation import Score
from scores.stretches import place_of
from scores.wording import spoken
from studio.reach import an_interval


def picture_of(widest: Widest | None, score: Score) -> SafeString:
    """The keys of the widest moment with the fingers on them; "" where no two keys are spanned."""
    if widest is None:
        return SafeString("")
    pressed = zip(widest.notes, widest.fingers, strict=True)
    words = ", ".join(_("finger %(finger)s on %(key)s") % {"finger": f, "key": spoken(note)} for note, f in pressed)
    title = _("Keyboard, %(opening)s: %(words)s") % {"opening": opening_words(widest, score), "words": words}
    down = {note.pitch.midi: finger for note, finger in zip(widest.notes, widest.fingers, strict=True)}
    return mark_safe(keyboard(down, title=title))  # Drawn from numbers; the words in it are escaped there.


def opening_words(widest: Widest | None, score: Score) -> str:
    """ "m. 17, beat 2: a ninth held open" """
    if widest is None:
        return ""
    # Of keys down together the last one makes the moment; of two notes in turn the first.
    moment = max if widest.together else min
    place = place_of(score, moment(widest.notes, key=lambda note: note.onset))
    values = {"measure": place.measure, "beat": place.beat, "interval": an_interval(widest.semitones)}
    if widest.together:
        return _("m. %(measure)s, beat %(beat)s: %(interval)s, held open") % values
    return _("m. %(measure)s, beat %(beat)s: %(interval)s, one note after the other") % values
