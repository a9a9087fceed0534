"""Ornaments written out above the music: which lines stand there, and how they are said in words."""

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from scores.engraving import Ossia
from scores.models import Passage
from scores.music.notation import Pitch, Placement
from scores.music.ornaments.notated import AROUND, Written
from scores.music.ornaments.values import Value
from scores.music.ornaments.written import Strip, strips_of
from scores.ornament_places import PLACEMENTS, Both, sound_alike
from scores.stretches import place_of

VALUE_WORDS = {
    "breve": gettext_noop("breve"),
    "whole": gettext_noop("whole"),
    "half": gettext_noop("half"),
    "quarter": gettext_noop("quarter"),
    "eighth": gettext_noop("eighth"),
    "16th": gettext_noop("16th"),
    "32nd": gettext_noop("32nd"),
    "64th": gettext_noop("64th"),
    "128th": gettext_noop("128th"),
}


def placement_words(placement: Placement) -> str:
    return _("before the beat") if placement == "before" else _("on the beat")


def ossias_of(
    passage: Passage,
    both: Both,
    shown: Mapping[str, Placement | None],
    chosen: Mapping[str, Placement] | None = None,
    *,
    ways: Both | None = None,
) -> tuple[Ossia, ...]:
    """A line for each ornament in `shown`: for its placement, or for both where that is None. Where both come to the
    same, one line says so. `chosen` marks lines. `ways` has every ornament in both placements, where `both` has what is
    decided in one alone."""
    ways = ways or both
    found: list[Ossia] = []
    for placement in PLACEMENTS:
        keys = [key for key, wanted in shown.items() if wanted_here(ways, key, wanted, placement)]
        first, last = passage.first_measure, passage.last_measure
        for strip in strips_of(passage.edition.score, both[placement], keys, first, last):
            key = strip.ornaments[0]
            alike = sound_alike(ways, key)
            words = _("written out") if alike else placement_words(placement)
            is_chosen = not alike and (chosen or {}).get(key) == placement
            found.append(Ossia(strip, placement, words if strip.is_exact else f"≈ {words}", is_chosen))
    return tuple(found)


def wanted_here(ways: Both, key: str, wanted: Placement | None, placement: Placement) -> bool:
    """Whether an ornament has a line in the row of a placement."""
    if sound_alike(ways, key):
        return placement == "on"
    return wanted is None or wanted == placement


# In words


def ossia_words(passage: Passage, ossias: Iterable[Ossia], first: int, last: int) -> str:
    """The ossias that begin in the measures `first` to `last` (indexes): "Measure 1, beat 1½, before the beat: C5 32nd,
    B♭4 eighth." """
    score = passage.edition.score
    said = []
    for ossia in ossias:
        strip = ossia.strip
        beginning = min(one.measure for layer in strip.layers for one in layer)
        if not first <= beginning <= last:
            continue
        note = score.by_id[strip.ornaments[0].partition("/")[0]]
        place = place_of(score, note)
        words = {
            "measure": place.measure,
            "beat": place.beat,
            "how": ossia.label,
            "notes": strip_words(strip),
        }
        said.append(_("Measure %(measure)s, beat %(beat)s, ornament %(how)s: %(notes)s.") % words)
    return " ".join(said)


def strip_words(strip: Strip) -> str:
    """The notes of a strip with their values: "B♭4 dotted 16th, C5 32nd, B♭4 eighth"."""
    early = [" + ".join(pitch_words(key.pitch) for key in keys) for keys in strip.early]
    return ", ".join([*early, *(words for words in map(written_words, strip.layers[0]) if words)])


def written_words(written: Written) -> str:
    """One value; nothing for the later values of a tie."""
    struck = [key for key in written.keys if not key.from_before or key.order == AROUND]
    if written.keys and not struck:
        return ""
    names = " + ".join(pitch_words(key.pitch) for key in struck) or _("rest")
    return f"{names} {value_words(written.value)}"


def pitch_words(pitch: Pitch) -> str:
    return f"{pitch.name}{pitch.octave}"


def value_words(value: Value) -> str:
    """ "16th", "dotted eighth", "32nd of a triplet" """
    words = _(VALUE_WORDS.get(value.type, value.type))
    if value.dots:
        words = (_("dotted %(value)s") if value.dots == 1 else _("double-dotted %(value)s")) % {"value": words}
    if value.tuplet:
        values = {"value": words, "actual": value.tuplet.actual, "normal": value.tuplet.normal}
        words = _("%(value)s (%(actual)d in the time of %(normal)d)") % values
    return words
