"""From a lesson's rows to the content of its handout."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from fractions import Fraction

from django.conf import settings
from django.db.models import OuterRef, Prefetch, QuerySet, Subquery
from django.urls import reverse
from django.utils.timezone import localdate
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lessons.choosing import as_they_stand
from lessons.handouts.choices import Choices, choices_of
from lessons.handouts.content import Content, Music, Option, Ornament, Remark, Rhythm, Stage, Task, Work
from lessons.models import AssignedPassage, Assignment, Lesson
from lessons.ornaments import GivenOrnaments, given_ornaments
from scores.desk import system_words
from scores.engraving import engrave_cached
from scores.inheriting import gather_here, here
from scores.lines import ShownLine
from scores.models import Cue, Edition, Passage, Placement, RhythmDrill
from scores.music.notation import SIDES, Score
from scores.music.tempo import ladder
from scores.ossias import ossia_words
from scores.rhythms import ShownDrill, grid_words, how_words, shown_drill
from scores.workshop import WorkshopFailed
from studio.sheets.paper import Layout, layout_for

RUNGS = 10  # of a ladder, as many as stand in one line of the sheet
LONGEST = 28  # days in a practice table


def gather(
    lesson: Lesson, *, paper: str | None = None, large_print: bool = False, until: date | None = None
) -> Content:
    """The handout of a lesson as it stands now, engraved for this paper ("A4" or "Letter"; by default the studio's).

    `until` is the day of the next lesson; by default that of the student's next one, or a week later.
    """
    paper = paper or lesson.studio.paper
    layout = layout_for(paper, large_print)
    assignments = assignments_of(lesson)
    day = localdate(lesson.starts_at)
    return Content(
        studio=lesson.studio.name,
        student=lesson.student.name,
        day=day,
        until=until or next_day(lesson),
        notes=lesson.notes.strip(),
        tasks=tuple(tasks_of(assignments)),
        works=tuple(works_of(assignments, layout)),
        caution=_("Rest your hands often. If anything hurts, stop and say so; pain that lasts belongs to a doctor."),
        url=f"{settings.SITE_URL}{reverse('this-week')}" if settings.SITE_URL else "",
        paper=paper,
        large_print=large_print,
        language=get_language() or "en",
    )


def assignments_of(lesson: Lesson) -> list[Assignment]:
    """With all that a handout reads of them, in as many queries whatever their number."""
    passages = AssignedPassage.objects.select_related("passage__edition__piece")
    assignments = list(
        lesson.assignments.select_related("piece").prefetch_related(
            Prefetch("passages", passages),
            "passages__offered",
            "passages__placements",
        )
    )
    share_rows(assignments)
    return assignments


def share_rows(assignments: Iterable[Assignment]) -> None:
    """Passages of one edition share it, so that its music is unpacked once; what is offered is as it stands there."""
    editions: dict[int, Edition] = {}
    every = [assigned for assignment in assignments for assigned in assignment.passages.all()]
    for assigned in every:
        assigned.passage.edition = editions.setdefault(assigned.passage.edition_id, assigned.passage.edition)
    gather_here(assigned.passage for assigned in every)
    for assigned in every:
        as_they_stand(assigned.offered.all(), assigned.passage)


def with_following(lessons: QuerySet[Lesson]) -> QuerySet[Lesson]:
    """With `following_at`, when the student's next lesson begins: at least half a day later."""
    later = (
        Lesson.objects.held()
        .filter(student=OuterRef("student"), starts_at__gt=OuterRef("starts_at") + timedelta(hours=12))
        .order_by("starts_at")
    )
    return lessons.annotate(following_at=Subquery(later.values("starts_at")[:1]))


def next_day(lesson: Lesson) -> date:
    """The day of the student's next lesson: at least a day away, and no further than a practice table goes."""
    day = localdate(lesson.starts_at)
    if not hasattr(lesson, "following_at"):
        lesson = with_following(Lesson.objects.filter(pk=lesson.pk)).get()
    if lesson.following_at is None:
        return day + timedelta(days=7)
    return min(max(localdate(lesson.following_at), day + timedelta(days=1)), day + timedelta(days=LONGEST))


def tasks_of(assignments: Iterable[Assignment]) -> Iterator[Task]:
    for assignment in assignments:
        if assignment.remark.strip() or not assignment.passages.all():
            yield Task(assignment.piece.title, assignment.piece.composer, assignment.remark.strip())


def works_of(assignments: Iterable[Assignment], layout: Layout) -> Iterator[Work]:
    every = (assigned for assignment in assignments for assigned in assignment.passages.all())
    for number, assigned in enumerate(every, start=1):
        yield work_of(assigned, number, layout)


def work_of(assigned: AssignedPassage, number: int, layout: Layout, ornaments: GivenOrnaments | None = None) -> Work:
    """One passage as given. `ornaments` as on the page where the student chooses; by default as decided."""
    passage, choices = assigned.passage, choices_of(assigned)
    ornaments = ornaments or given_ornaments(assigned)
    edition = passage.edition
    music, trouble = music_of(assigned, choices, ornaments, layout)
    return Work(
        number=number,
        title=edition.piece.title,
        composer=edition.piece.composer,
        edition=edition.label,
        where=f"{passage.name}, {passage.where}" if passage.name else str(passage.where),
        hands=str(passage.get_hands_display()),
        task=assigned.remark.strip(),
        music=music,
        trouble=trouble,
        options=tuple(options_of(choices)),
        ornaments=tuple(ornaments_of(ornaments)),
        rhythms=tuple(rhythms_of(assigned, layout)),
        remarks=tuple(remarks_of(assigned, choices)),
        tempo_now=assigned.tempo_now,
        tempo_goal=assigned.tempo_goal,
        ladder=ladder_of(assigned),
    )


def ladder_of(assigned: AssignedPassage) -> tuple[int, ...]:
    if assigned.tempo_now and assigned.tempo_goal:
        return ladder(assigned.tempo_now, assigned.tempo_goal, most=RUNGS)
    return ()


# Music


def music_of(
    assigned: AssignedPassage, choices: Choices, ornaments: GivenOrnaments, layout: Layout
) -> tuple[tuple[Music, ...], str]:
    """The passage's systems; or none, and what to say, when it could not be engraved."""
    passage = assigned.passage
    try:
        engraving = engrave_cached(
            passage.edition.music,
            first=passage.first_measure,
            last=passage.last_measure,
            width=layout.width,
            staff=layout.staff,
            lines=choices.finger_lines,
            ossias=ornaments.ossias,
            on_notes=choices.on_notes,
            show_printed=False,
        )
    except WorkshopFailed:
        return (), _("This passage could not be engraved just now.")
    score = passage.edition.score
    lines = spoken_lines(score, choices)
    return tuple(
        Music(
            svg=system.labelled(words),
            width=system.width,
            height=system.height,
            words=words,
        )
        for system in engraving.systems
        for words in [words_of(passage, system.first_measure, system.last_measure, lines, ornaments)]
    ), ""


def words_of(passage: Passage, first: int, last: int, lines: Sequence[ShownLine], ornaments: GivenOrnaments) -> str:
    """A system in words: its notes with their fingers, then the ornaments written out."""
    said = (
        system_words(passage.edition.score, first, last, lines),
        ossia_words(passage, ornaments.ossias, first, last),
    )
    return " ".join(words for words in said if words)


def spoken_lines(score: Score, choices: Choices) -> list[ShownLine]:
    """The fingers in words: what stands on the notes as "finger 3", the lines beside it by their numerals."""
    on_notes = choices.on_notes
    found = []
    for side in SIDES:
        fingers = {note: text for note, text in on_notes.items() if score.by_id[note].side == side}
        found.append(ShownLine("chosen", _("finger"), side, "teacher", None, fingers, (), ""))
    return [*found, *choices.beside]


# Words


def options_of(choices: Choices) -> Iterator[Option]:
    chosen = {line.key for line in choices.chosen}
    for line in sorted(
        (*choices.chosen, *choices.beside), key=lambda one: (one.side != "right", one.key not in chosen)
    ):
        fingering = line.fingering
        yield Option(
            numeral=line.numeral,
            hand=str(fingering.get_side_display()) if fingering else "",
            where=line.where,
            fingers=line.text,
            is_chosen=line.key in chosen,
            remark=fingering.remark.strip() if fingering else "",
        )


def ornaments_of(ornaments: GivenOrnaments) -> Iterator[Ornament]:
    for one in ornaments.ornaments:
        place = one.place
        said = str(Placement(one.placement).label) if one.placement else _("before the beat or on it: try both")
        yield Ornament(
            measure=place.number,
            beat=place.beat,
            what=str(place.what),
            placement=said if place.has_placement else _("as written out"),
            remark=place.choice.remark.strip() if place.choice else "",
            written=tuple(words for _placement, words in one.written),
        )


def rhythms_of(assigned: AssignedPassage, layout: Layout) -> Iterator[Rhythm]:
    score = assigned.passage.edition.score
    for drill in here(assigned.passage).drills:
        yield rhythm_of(drill, score, assigned.tempo_now or 60, layout)


def rhythm_of(drill: RhythmDrill, score: Score, tempo: int, layout: Layout) -> Rhythm:
    """On paper the chart grows with the text; on a screen it is as wide as the column."""
    factor = layout.text / 11 if layout.size[1] else 1
    shown = shown_drill(drill, score, tempo, width=layout.width / factor)
    chart = shown.chart
    return Rhythm(
        where=str(shown.where),
        chart=chart.svg if chart else "",
        width=chart.width * factor if chart else 0,
        height=chart.height * factor if chart else 0,
        words=" ".join(filter(None, (grid_words(shown.crossing.grid), shown.near, shown.skeleton)))
        if shown.crossing
        else "",
        order=shown.order,
        remark=drill.remark.strip(),
        stages=tuple(Stage(one.title, f"{one.instruction} {how_words(one.stage)}") for one in shown.stages),
    )


def in_words(shown: ShownDrill) -> str:
    """The chart said: the grid, what nearly meets, the simpler ratio inside."""
    grid = grid_words(shown.crossing.grid) if shown.crossing else ""
    return " ".join(filter(None, (grid, shown.near, shown.skeleton)))


def remarks_of(assigned: AssignedPassage, choices: Choices) -> list[Remark]:
    """Cues, what the teacher said about the chosen fingerings, and where the same fingers stand already; in the order
    of the music."""
    score = assigned.passage.edition.score
    found = [(cue.measure, Fraction(cue.beat), cue_words(cue)) for cue in here(assigned.passage).cues]
    for line in choices.chosen:
        said = fingering_words(line)
        if said and line.moments:
            note = line.moments[0].notes[0]
            found.append((note.measure, score.measure_of(note).beat_of(note.onset), said))
    return [Remark(score.measures[measure].number, text) for measure, _beat, text in sorted(found)]


def cue_words(cue: Cue) -> str:
    """ "float", "float (= 9–16)" """
    return f"{cue.text} ({cue.inherited.sign})" if cue.inherited else cue.text


def fingering_words(line: ShownLine) -> str:
    """Where a chosen line stands as well, and the teacher's remark on it; "" where there is neither."""
    same = _("Fingers %(place)s.") % {"place": line.inherited.words} if line.inherited else ""
    remark = line.fingering.remark.strip() if line.fingering else ""
    return " ".join(words for words in (same, remark) if words)
