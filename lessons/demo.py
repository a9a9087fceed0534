"""Lays out the demo studio of `fixtures/demo.toml`: invented people, a few weeks of lessons and practice.

Nothing is random: the same day gives the same studio.
"""

import importlib.util
import tomllib
import uuid
import zoneinfo
from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from lessons.demo_asking import lay_out_asking
from lessons.demo_attendance import lay_out_attendance
from lessons.demo_tuition import lay_out_tuition
from lessons.demo_week import lay_out_week
from lessons.giving import give as give_sheet
from lessons.handouts.gathering import gather
from lessons.models import AssignedPassage, Assignment, Lesson, OfferedFingering, PlacementChoice
from lessons.models.assignments import ChosenBy
from lessons.practice import write_entry
from scores import noting
from scores.marking import mark_passage
from scores.models import Edition, Fingering, OrnamentChoice, Passage, Piece
from scores.music.crossrhythm import find
from scores.music.fingering.text import read_line
from scores.music.notation import Side
from scores.music.tempo import ladder
from scores.music.tonality import key_of
from scores.ornamenting import keep_ornament
from scores.reading_files.reading import read
from scores.repertoire import keep_edition, keep_piece
from scores.stretches import stretch
from studio.models import Guardian, Hand, Role, Student, Studio, User

HOME = settings.HOME / "fixtures"
NAMESPACE = uuid.UUID("8a5d2d6c-6f4e-4a39-9d36-0b6f2f0b7a11")
PRACTICE_DAYS = (1, 2, 4, 5, 6)  # days after the lesson
Data = dict[str, Any]


@transaction.atomic
def lay_out(*, today: date) -> Studio:
    """Makes the whole demo studio with its history up to `today`, all of it or nothing."""
    data = tomllib.loads((HOME / "demo.toml").read_text())
    studio = Studio.objects.create(**data["studio"])
    teacher = login(studio, Role.TEACHER, data["teacher"], data["password"])
    students = {row["name"]: make_student(studio, row, data["password"], today) for row in data["students"]}
    for row in data["guardians"]:
        make_guardian(studio, row, data["password"], students)
    editions = [edition for row in data["pieces"] for edition in make_piece(studio, row)]
    passages = {row["key"]: make_passage(row, editions) for row in data["passages"]}
    for row in data["students"]:
        student = students[row["name"]]
        for week in range(data["weeks"], -2, -1):
            teach(student, row["lesson"], data["work"][row["name"]], passages, week, data["weeks"], today, teacher)
        hand_out(student)
    lay_out_week(studio, data, students, today)
    lay_out_attendance(studio, data["attendance"], students, today, teacher)
    lay_out_asking(studio, data["asking"], students, today)
    lay_out_tuition(studio, data["tuition"], students, today, teacher)
    return studio


def login(studio: Studio, role: Role, row: Data, password: str) -> User | None:
    if not row.get("email"):
        return None
    return User.objects.create_user(email=row["email"], password=password, name=row["name"], studio=studio, role=role)


def make_student(studio: Studio, row: Data, password: str, today: date) -> Student:
    student = Student.objects.create(
        studio=studio,
        name=row["name"],
        remark=row.get("remark", ""),
        user=login(studio, Role.STUDENT, row, password),
    )
    for measured in filter(None, (row, row.get("earlier"))):
        for side in ("right", "left"):
            comfortable, largest = measured[side]
            Hand.objects.create(
                studio=studio,
                student=student,
                side=side,
                measured_on=today - timedelta(days=measured["measured"]),
                comfortable=comfortable,
                largest=largest,
                width=row["width"],
                pairs=measured.get("pairs", {}) if side == "right" else {},
            )
    return student


def make_guardian(studio: Studio, row: Data, password: str, students: dict[str, Student]) -> None:
    guardian = Guardian.objects.create(
        studio=studio, name=row["name"], email=row["email"], user=login(studio, Role.GUARDIAN, row, password)
    )
    guardian.students.set([students[name] for name in row["students"]])


# Music


def make_piece(studio: Studio, row: Data) -> list[Edition]:
    fields = ("title", "composer", "catalogue", "level", "remark")
    piece = keep_piece(Piece(studio=studio, **{field: row[field] for field in fields if field in row}))
    editions = [make_edition(piece, edition) for edition in row["editions"]]
    piece.key = key_of(editions[0].score)
    piece.save(update_fields=["key"])
    return editions


def make_edition(piece: Piece, row: Data) -> Edition:
    path = corpus() / row["corpus"] if "corpus" in row else HOME / "scores" / row["file"]
    original = path.read_bytes()
    return keep_edition(
        piece=piece, label=row["label"], read=read(path.name, original), file_name=path.name, original=original
    )


def corpus() -> Path:
    """Where the installed music21 package keeps its open corpus; the package itself is not loaded for that."""
    spec = importlib.util.find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "corpus"


def make_passage(row: Data, editions: list[Edition]) -> Passage:
    edition = next(
        edition
        for edition in editions
        if edition.label == row["edition"] and row.get("piece", edition.piece.title) == edition.piece.title
    )
    score = edition.score
    numbers = [measure.number for measure in score.measures]
    first, last = (numbers.index(str(number)) for number in row["measures"])
    notes = score.in_measures(first, last, row["hands"])
    passage = mark_passage(edition=edition, first=notes[0].id, last=notes[-1].id, hands=row["hands"])
    for side in ("right", "left"):
        write_fingerings(passage, side, row)
    for choice in ("graces", "ornaments"):
        if choice in row:
            place_ornaments(passage, row[choice], graces=choice == "graces")
    for number, beat, text in row.get("cues", ()):
        noting.write_cue(passage=passage, text=text, measure=numbers.index(str(number)), beat=beat)
    if row.get("drill"):
        plan_drill(passage)
    return passage


def write_fingerings(passage: Passage, side: Side, row: Data) -> None:
    moments = stretch(passage, side)
    for number, typed in enumerate(row.get(side, ())):
        line = read_line(typed, moments, passage.edition.score)
        if line.problems:
            raise ValueError(f"{row['key']}, {typed}: {[str(problem) for problem in line.problems]}")
        remarks = row.get("remarks", [])
        noting.write_fingering(
            passage=passage,
            side=side,
            fingers=line.fingers,
            remark=remarks[number] if number < len(remarks) else "",
        )


def place_ornaments(passage: Passage, row: Data, *, graces: bool) -> None:
    for note in noting.notes_in(passage):
        if note.is_grace if graces else note.ornaments:
            keep_ornament(
                passage=passage,
                note=note.id,
                placement=row["placement"],
                remark=row.get("remark", ""),
                at=timezone.now(),
            )


def plan_drill(passage: Passage) -> None:
    """A drill on the first cross-rhythm of the passage."""
    score = passage.edition.score
    start, end = score.measures[passage.first_measure].start, score.measures[passage.last_measure].end
    crossing = next(found for found in find(score) if start <= found.start and found.end <= end)
    noting.plan_drill(
        passage=passage, start=Fraction(crossing.start), end=Fraction(crossing.end), tempo_now=40, tempo_goal=72
    )


# Lessons


def teach(
    student: Student,
    slot: list[int],
    work: list[Data],
    passages: dict[str, Passage],
    week: int,
    weeks: int,
    today: date,
    teacher: User | None,
) -> None:
    """The lesson `week` weeks before this week's (-1: the next one), what it gave, and the practice after it."""
    offset, hour, minute, minutes = slot
    day = today + timedelta(days=offset - 7 * week)
    zone = zoneinfo.ZoneInfo(student.studio.timezone)
    starts_at = datetime.combine(day, time(hour, minute), zone).astimezone(UTC)
    lesson = Lesson.objects.create(
        studio=student.studio, student=student, starts_at=starts_at, minutes=minutes, notes=words_for(week, weeks)
    )
    if week < 0 or (week == 0 and offset >= 0):
        return
    for position, task in enumerate(work):
        marks = ladder(*task["tempo"], most=weeks + 2)
        rung = min(weeks - week, len(marks) - 1)
        assigned = give(lesson, task, passages[task["passage"]], position, marks[rung])
        practise(assigned, student, day, week, marks[rung : rung + 3], today, teacher)


def hand_out(student: Student) -> None:
    """Gives the sheet of the newest lesson that has work."""
    lesson = student.lessons.filter(assignments__isnull=False).order_by("-starts_at").first()
    if lesson:
        with timezone.override(zoneinfo.ZoneInfo(student.studio.timezone)):
            give_sheet(lesson=lesson, content=gather(lesson))


def words_for(week: int, weeks: int) -> str:
    if week < 0 or week == 0:
        return ""
    lines = (
        "Sing the melody once before playing. Slow enough that nothing feels tight.",
        "The left hand alone first; then both, a step slower.",
        "Small stops at the bar lines are fine this week. Let the hand fall into each new place.",
        "Play it to someone at home.",
    )
    return lines[(weeks - week) % len(lines)]


def give(lesson: Lesson, task: Data, passage: Passage, position: int, tempo: int) -> AssignedPassage:
    assignment, _ = Assignment.objects.get_or_create(
        lesson=lesson,
        piece_id=passage.edition.piece_id,
        defaults={"studio_id": lesson.studio_id, "position": position},
    )
    assigned = AssignedPassage.objects.create(
        studio_id=lesson.studio_id,
        assignment=assignment,
        passage=passage,
        position=position,
        tempo_now=tempo,
        tempo_goal=task["tempo"][1],
        show_others=task.get("others", False),
    )
    choose_fingerings(assigned, list(passage.fingerings.all()), task.get("fingering", 1))
    for choice in passage.ornament_choices.all():
        place(assigned, choice, is_open=task.get("placement") == "open")
    return assigned


def choose_fingerings(assigned: AssignedPassage, fingerings: list[Fingering], chosen: int | str) -> None:
    """Offers every fingering; chooses the one of that number in each hand, or leaves them open."""
    for side in ("right", "left"):
        lines = [fingering for fingering in fingerings if fingering.side == side]
        for number, fingering in enumerate(lines, start=1):
            is_chosen = chosen != "open" and number == min(int(chosen), len(lines))
            OfferedFingering.objects.create(
                studio_id=assigned.studio_id,
                assigned=assigned,
                fingering=fingering,
                chosen_by=ChosenBy.TEACHER if is_chosen else ChosenBy.NOBODY,
            )


def place(assigned: AssignedPassage, choice: OrnamentChoice, *, is_open: bool) -> None:
    PlacementChoice.objects.create(
        studio_id=assigned.studio_id,
        assigned=assigned,
        note=choice.note,
        placement="" if is_open else choice.placement,
        chosen_by=ChosenBy.NOBODY if is_open else ChosenBy.TEACHER,
    )


def practise(
    assigned: AssignedPassage,
    student: Student,
    lesson_day: date,
    week: int,
    marks: tuple[int, ...],
    today: date,
    teacher: User | None,
) -> None:
    """A week's entries: not every day, and cleaner towards its end."""
    by = student.user or next((guardian.user for guardian in student.guardians.all() if guardian.user), teacher)
    for number, after in enumerate(PRACTICE_DAYS):
        day = lesson_day + timedelta(days=after)
        skipped = (week + number + assigned.position + student.pk) % 4 == 0
        if day > today or skipped or by is None:
            continue
        tries = 4 + (number + week) % 3
        write_entry(
            student=student,
            by=by,
            key=uuid.uuid5(NAMESPACE, f"{assigned.pk}/{day}"),
            day=day,
            minutes=6 + (3 * number + 5 * week + assigned.position) % 11,
            assigned=assigned,
            tempo=marks[min(number // 2, len(marks) - 1)],
            clean_runs=min(tries, 1 + number),
            tries=tries,
            remark="felt easy today" if number == 4 and week % 3 == 0 else "",
        )
