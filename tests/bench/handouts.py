"""A handout of six passages against the bare libraries drawing the same six excerpts."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import groupby

import verovio
from django.core.cache import cache

from lessons.handouts.gathering import gather
from lessons.handouts.sheet import draw_sheet
from lessons.models import Lesson
from scores.models import Edition, Passage
from scores.music.notation import Side, moments
from scores.reading_files.reading import read
from scores.repertoire import keep_edition
from studio.sheets.paper import SIZES
from tests import make
from tests.bench import bare
from tests.bench.material import polonaise
from tests.bench.measure import Row, lib, medians

RUNS = 5
AT_MOST = 1.5
PLACES: tuple[tuple[int, int, Side], ...] = ((1, 4, "right"), (9, 12, "left"), (17, 20, "right"))


def edition(piece, number: int) -> Edition:
    path = polonaise(number)
    return keep_edition(piece=piece, label=path.stem, read=read(path.name, path.read_bytes()))


def fingered(edition: Edition, first: int, last: int, side: Side) -> tuple[Passage, list]:
    """A passage with a finger on every note of one hand; which fingers makes no difference to the work."""
    notes = edition.score.in_measures(first, last, side)
    passage = make.passage(edition=edition, first=notes[0].id, last=notes[-1].id, hands="both")
    fingers = {
        note.id: str(1 + (place + offset) % 5)
        for place, moment in enumerate(moments(notes))
        for offset, note in enumerate(moment.notes)
    }
    bounds = {"first_note": notes[0].id, "last_note": notes[-1].id}
    return passage, [make.fingering(passage=passage, fingers=fingers, side=side, **bounds)]


def lesson_of_six() -> Lesson:
    """A lesson with three passages of each of two Polonaises."""
    studio = make.studio(name="Studio of six passages")
    lesson = make.lesson(student=make.student(studio=studio))
    for number in (1, 3):
        source = edition(make.piece(studio=studio, title=f"Polonaise no. {number}"), number)
        for first, last, side in PLACES:
            passage, fingerings = fingered(source, first, last, side)
            row = make.assigned(lesson=lesson, passage=passage, fingerings=fingerings)
            row.offered.update(chosen_by="teacher")
    return lesson


def excerpts_of(lesson: Lesson) -> list[bare.Excerpt]:
    passages = Passage.objects.filter(assigned__assignment__lesson=lesson).select_related("edition")
    found = []
    for _, group in groupby(passages.order_by("edition", "first_measure"), key=lambda one: one.edition_id):
        same = list(group)
        music = same[0].edition.music
        found += [(music, passage.first_measure + 1, passage.last_measure + 1) for passage in same]
    return found


def make_handout(lesson_pk: int) -> bytes:
    """All that a request does, from the rows to the PDF."""
    return draw_sheet(gather(Lesson.objects.select_related("studio", "student").get(pk=lesson_pk)))


def rows() -> Iterator[Row]:
    lesson = lesson_of_six()
    toolkit = verovio.toolkit()
    drawn = partial(bare.draw_excerpts, toolkit, excerpts_of(lesson), SIZES["A4"])
    works = (partial(make_handout, lesson.pk), drawn)
    medians(*works, times=1, before=cache.clear)
    ours, theirs = medians(*works, times=RUNS, before=cache.clear)
    [again] = medians(works[0], times=RUNS)
    peers = f"{lib('verovio')} + {lib('svglib')} + {lib('reportlab')}, the same excerpts"
    note = (
        f"engraving cache empty; with the engravings kept {again:.0f} ms; fingerings, words and tables are ours alone"
    )
    yield Row("a handout of six passages", ours, peers, theirs, AT_MOST, note=note)
