"""Lines that the program suggests, kept like any other with their source said until the teacher takes them over."""

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from scores.inheriting import here_now
from scores.models import Fingering, Passage, Source
from scores.music.fingering.hand import Hand
from scores.music.fingering.hand import hand as medium_hand
from scores.music.fingering.options import Option, propose
from scores.music.notation import Side
from scores.music.refusal import Refusal
from scores.noting import write_fingering
from scores.stretches import notes_in, place_of, stretch

MOST_LINES = 4
MOST_MOMENTS = 600


def propose_lines(*, passage: Passage, side: Side, hand: Hand | None = None) -> list[Fingering]:
    """Writes up to four clearly different lines for a hand (a medium one, if none is given), the least costly first.
    Those that stand there already are not written again. Raises `Refusal` where the hand strikes nothing or the passage
    is too long to be searched while someone waits."""
    moments = stretch(passage, side)
    if len(moments) > MOST_MOMENTS:
        raise Refusal(
            gettext_noop(
                "This passage has %(moments)d moments for that hand. Mark a shorter one, of %(most)d at most."
            ),
            {"moments": len(moments), "most": MOST_MOMENTS},
        )
    score = passage.edition.score
    options = propose(notes_in(passage, side), hand or medium_hand(side), count=MOST_LINES, score=score)
    heard = [said_on(option, passage) for option in options]
    standing = [line.fingers for line in here_now(passage).fingerings if line.side == side]
    with transaction.atomic():
        return [
            write_fingering(
                passage=passage,
                side=side,
                fingers=option.fingers,
                remark=words_on(option, said, heard),
                source=Source.PROGRAM,
            )
            for option, said in zip(options, heard, strict=True)
            if option.fingers not in standing
        ]


def words_on(option: Option, said: list[str], heard: list[list[str]]) -> str:
    """What is impossible for that hand; else the one thing that most sets the option apart from the others.

    `said` is on this option, `heard` on all.
    """
    if option.impossible:
        problem = option.impossible[0]
        return _(problem.message) % dict(problem.params)
    return min(said, key=lambda text: sum(text in other for other in heard), default="")


def said_on(option: Option, passage: Passage) -> list[str]:
    """The remarks on an option, each with its place."""
    score = passage.edition.score
    found = []
    for remark in option.remarks:
        words = _(remark.message) % dict(remark.params)
        if remark.notes:
            place = place_of(score, score.by_id[remark.notes[0]])
            where = {"measure": place.measure, "beat": place.beat, "words": words}
            words = _("m. %(measure)s, beat %(beat)s: %(words)s") % where
        found.append(words)
    return found


def adopt(fingering: Fingering) -> Fingering:
    """Makes a line of the program's the teacher's own."""
    fingering.source = Source.TEACHER
    fingering.save(update_fields=["source", "changed_at"])
    return fingering
