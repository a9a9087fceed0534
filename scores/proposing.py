"""Lines that the program suggests, kept like any other with their source said until the teacher takes them over."""

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from scores.models import Fingering, Passage, Source
from scores.music.fingering.hand import hand
from scores.music.fingering.options import Option, propose
from scores.music.notation import Side
from scores.music.refusal import Refusal
from scores.noting import write_fingering
from scores.stretches import notes_in, stretch

MOST_LINES = 4
MOST_MOMENTS = 600
MOST_REMARKS = 2


def propose_lines(*, passage: Passage, side: Side, size: str = "medium") -> list[Fingering]:
    """Writes up to four clearly different lines for a small, medium or large hand, the least costly first. Those that
    stand there already are not written again. Raises `Refusal` where the hand strikes nothing or the passage is too
    long to be searched while someone waits."""
    moments = stretch(passage, side)
    if len(moments) > MOST_MOMENTS:
        raise Refusal(
            gettext_noop(
                "This passage has %(moments)d moments for that hand. Mark a shorter one, of %(most)d at most."
            ),
            {"moments": len(moments), "most": MOST_MOMENTS},
        )
    score = passage.edition.score
    options = propose(notes_in(passage, side), hand(side, size), count=MOST_LINES, score=score)
    standing = [line.fingers for line in passage.fingerings.standing() if line.side == side]
    with transaction.atomic():
        return [
            write_fingering(
                passage=passage,
                side=side,
                fingers=option.fingers,
                remark=words_on(option),
                source=Source.PROGRAM,
            )
            for option in options
            if option.fingers not in standing
        ]


def words_on(option: Option) -> str:
    """What is impossible for that hand, else the first things worth saying."""
    if option.impossible:
        problem = option.impossible[0]
        return _(problem.message) % dict(problem.params)
    said = list(dict.fromkeys(_(remark.message) % dict(remark.params) for remark in option.remarks))
    return " ".join(said[:MOST_REMARKS])


def adopt(fingering: Fingering) -> Fingering:
    """Makes a line of the program's the teacher's own."""
    fingering.source = Source.TEACHER
    fingering.save(update_fields=["source", "changed_at"])
    return fingering
