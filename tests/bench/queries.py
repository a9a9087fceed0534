"""How many queries the pages of the demo need, and whether any needs more when there are more rows."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import time, timedelta
from functools import cache

from django.db import connection
from django.db.models import Count, Model, QuerySet
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from lessons.demo import lay_out
from lessons.giving import give
from lessons.handouts.gathering import gather
from lessons.models import (
    Absence,
    Asked,
    AssignedPassage,
    Assignment,
    BusyTime,
    Feed,
    FreeHours,
    Handout,
    Holiday,
    Lesson,
    Offer,
    PlayedPiece,
    PracticeEntry,
    Slot,
    TermReport,
    Waiting,
)
from lessons.scheduling import SlotPlan, make_slot
from scores.models import Cue, Edition, Fingering, Passage, Piece, Replacement, RhythmDrill
from studio.models import (
    Account,
    Charge,
    Enrolment,
    Guardian,
    Hand,
    Invitation,
    Invoice,
    Payment,
    Plan,
    Role,
    Student,
    Studio,
    Term,
    User,
)
from tests import make
from tests.bench.measure import Row
from tests.studio.tuition import make_tuition

AT_MOST = 12
MORE = 10  # rows of each kind that are added
EACH = 3  # rows of a kind whose pages are opened
MODELS: dict[str, type[Model]] = {
    "absences": Absence,
    "asked": Asked,
    "assigned": AssignedPassage,
    "assignments": Assignment,
    "calendar-links": Feed,
    "cues": Cue,
    "children": Student,
    "drills": RhythmDrill,
    "editions": Edition,
    "fingerings": Fingering,
    "guardians": Guardian,
    "handouts": Handout,
    "hands": Hand,
    "holidays": Holiday,
    "invitations": Invitation,
    "lessons": Lesson,
    "passages": Passage,
    "pieces": Piece,
    "played": PlayedPiece,
    "practice": PracticeEntry,
    "reports": TermReport,
    "replacements": Replacement,
    "students": Student,
    "terms": Term,
    "waiting": Waiting,
    "weekly-lessons": Slot,
    "enrolments": Enrolment,
    "tuition/accounts": Account,
    "tuition/charges": Charge,
    "tuition/invoices": Invoice,
    "tuition/payments": Payment,
    "tuition/plans": Plan,
}


@dataclass(frozen=True)
class Focus:
    """The rows on whose pages most stands, and to which more is added."""

    studio: Studio
    student: Student
    guardian: Guardian
    lesson: Lesson
    passage: Passage

    @property
    def rows(self) -> dict[type[Model], int]:
        """The row of each kind that is opened in any case."""
        return {
            Student: self.student.pk,
            Guardian: self.guardian.pk,
            Lesson: self.lesson.pk,
            Passage: self.passage.pk,
            Edition: self.passage.edition_id,
            Piece: self.passage.edition.piece_id,
        }

    @property
    def users(self) -> dict[str, User]:
        teacher = User.objects.get(studio=self.studio, role=Role.TEACHER)
        return {"teacher": teacher, "student": self.student.user, "guardian": self.guardian.user}


@dataclass(frozen=True)
class Page:
    who: str
    name: str
    url: str


@cache
def demo() -> Focus:
    """The demo studio, with a handout given at the lesson that has most in it."""
    studio = lay_out(today=timezone.localdate())
    lessons = Lesson.objects.filter(
        studio=studio, student__user__isnull=False, student__guardians__user__isnull=False
    ).select_related("student__user", "studio")
    lesson = lessons.annotate(much=Count("assignments__passages")).order_by("-much", "-starts_at")[0]
    give(lesson=lesson, content=gather(lesson))
    passage = Passage.objects.filter(assigned__assignment__lesson=lesson).select_related("edition").first()
    return Focus(studio, lesson.student, lesson.student.guardians.select_related("user")[0], lesson, passage)


# Which pages there are


def patterns(found: list[URLPattern | URLResolver]) -> Iterator[URLPattern]:
    for pattern in found:
        if isinstance(pattern, URLResolver):
            yield from patterns(pattern.url_patterns)
        else:
            yield pattern


def model_of(path: str) -> type[Model]:
    """The model whose key stands in an address, by its first words."""
    first, second, *_ = path.split("/")
    return MODELS[f"{first}/{second}" if first == "tuition" else first]


def rows_for(model: type[Model], focus: Focus) -> list[int]:
    every: QuerySet = model.objects.filter(studio=focus.studio)
    if model in (Lesson, PracticeEntry, Hand):
        every = every.filter(student=focus.student)
    keys = list(every.order_by("pk").values_list("pk", flat=True))
    spread = keys[:: max(1, len(keys) // EACH)][:EACH]
    return sorted({*spread, focus.rows.get(model, spread[0])}) if keys else []


def addresses(focus: Focus) -> Iterator[tuple[str, str]]:
    """Every address of the URL configuration that can be made with a row's key: (name, URL)."""
    for pattern in patterns(get_resolver().url_patterns):
        wanted = set(pattern.pattern.converters)
        if not wanted:
            yield pattern.name, reverse(pattern.name)
        elif wanted == {"pk"}:
            for pk in rows_for(model_of(str(pattern.pattern)), focus):
                yield pattern.name, reverse(pattern.name, args=[pk])
        elif wanted == {"year"}:
            yield pattern.name, reverse(pattern.name, args=[timezone.localdate().year])
        elif wanted == {"topic"}:
            yield pattern.name, reverse(pattern.name, args=["fingerings"])


# Opening them


def clients(focus: Focus) -> dict[str, Client]:
    found = {}
    for who, user in focus.users.items():
        found[who] = Client(SERVER_NAME="localhost", raise_request_exception=False)
        found[who].force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return found


def opened(client: Client, url: str) -> tuple[int, int]:
    """Status and number of queries of a GET."""
    with CaptureQueriesContext(connection) as queries:
        status = client.get(url).status_code
    return status, len(queries)


@cache
def walk(focus: Focus) -> tuple[dict[Page, int], list[Page]]:
    """The queries of every page that answers 200 to somebody; and the pages that broke."""
    counts: dict[Page, int] = {}
    broken = []
    for who, client in clients(focus).items():
        for name, url in addresses(focus):
            status, count = opened(client, url)
            if status == 200:
                counts[Page(who, name, url)] = count
            elif status >= 500:
                broken.append(Page(who, name, url))
    return counts, broken


def again(focus: Focus, pages: dict[Page, int]) -> dict[Page, int]:
    everyone = clients(focus)
    return {page: opened(everyone[page.who], page.url)[1] for page in pages}


# More rows


def add_more(focus: Focus) -> None:
    """Ten more of each kind, on the pages that were opened: as likely a long list as the site can show."""
    edition = focus.passage.edition
    measures = len(edition.score.measures)
    for number in range(MORE):
        student = make.student(studio=focus.studio, name=f"Student {number}")
        focus.guardian.students.add(student)
        for someone in (student, focus.student):
            make.hand(student=someone, measured_on=timezone.localdate() - timedelta(days=number))
        make.guardian(students=[focus.student], name=f"Guardian {number}", email=f"g{number}@example.org")
        for someone in (student, focus.student):
            make.lesson(student=someone, starts_at=timezone.now() + timedelta(hours=number))
        make.edition(piece=make.piece(studio=focus.studio, title=f"Piece {number}"))
        make.edition(piece=edition.piece, label=f"Edition {number}")
        notes = edition.score.in_measures(number % measures, min(number % measures + 1, measures - 1))
        passage = make.passage(edition=edition, first=notes[0].id, last=notes[-1].id, hands="both")
        for one in (passage, focus.passage):
            add_notes(one)
        assigned = make.assigned(lesson=focus.lesson, passage=passage, fingerings=list(passage.fingerings.all()))
        make.entry(student=focus.student, assigned=assigned, day=timezone.localdate() - timedelta(days=number % 7))
        add_money(focus, student, number)
        add_calendar(focus, student, number)
        add_asking(focus, student, number)
        make.handout(lesson=focus.lesson, revision=number + 100, content=focus.lesson.handouts.last().content)


def add_money(focus: Focus, student: Student, number: int) -> None:
    """A plan, an account that owes, and entries on the account of the family that is opened."""
    today = timezone.localdate()
    plan = make_tuition.plan(focus.studio, per="package", name=f"Plan {number}")
    other = make_tuition.account(focus.studio, name=f"Account {number}")
    make_tuition.enrolment(student, on=other, by=plan, first_day=today)
    own = Account.objects.filter(studio=focus.studio, guardians=focus.guardian)
    for account in (other, *own):
        make_tuition.charge(account, 1000 + number, today)
        make_tuition.payment(account, 100, today)


def add_calendar(focus: Focus, student: Student, number: int) -> None:
    """A weekly lesson, days without lessons, free and busy hours."""
    now, today = timezone.now(), timezone.localdate()
    plan = SlotPlan([student, focus.student], today, time(8 + number), 45, "FREQ=WEEKLY;COUNT=4")
    make_slot(studio=focus.studio, plan=plan, at=now)
    days = {"studio": focus.studio, "first_day": today + timedelta(days=number), "last_day": today + timedelta(days=30)}
    Holiday.objects.create(name=f"Holiday {number}", **days)
    Term.objects.create(name=f"Term {number}", **days)
    Absence.objects.create(student=focus.student, **days)
    hours = {"weekday": number % 7, "begins": time(9), "ends": time(10 + number)}
    FreeHours.objects.create(studio=focus.studio, student=focus.student, **hours)
    moments = {"starts_at": now, "ends_at": now + timedelta(hours=1 + number)}
    BusyTime.objects.create(studio=focus.studio, source="a file", uid=str(number), label="Choir", **moments)
    Waiting.objects.create(studio=focus.studio, student=student)
    for user in focus.users.values():
        Feed.objects.create(studio=focus.studio, user=user, nonce=f"{user.pk} {number}")
    later = make.lesson(student=focus.student, starts_at=now + timedelta(days=2 + number))
    Asked.objects.create(studio=focus.studio, lesson=later, asked_by=focus.guardian.user, kind=Asked.Kind.CANCEL)


def add_asking(focus: Focus, student: Student, number: int) -> None:
    """A move that is asked for, a cancelled lesson whose time is free, and an offer."""
    now = timezone.now()
    for someone in (student, focus.student):
        lesson = make.lesson(student=someone, starts_at=now + timedelta(days=20, hours=number))
        Asked.objects.create(studio=focus.studio, lesson=lesson, kind=Asked.Kind.MOVE, wanted=now + timedelta(days=21))
        make.lesson(student=someone, starts_at=now + timedelta(days=22, hours=number), cancelled_at=now)
        at = now + timedelta(days=23, minutes=number)
        Offer.objects.create(studio=focus.studio, student=someone, starts_at=at, minutes=30, expires_at=at)


def add_notes(passage: Passage) -> None:
    note = passage.edition.score.by_id[passage.first_note]
    make.fingering(passage=passage, fingers={note.id: "2"}, side=note.side, last_note=note.id)
    make.cue(passage=passage)


def rows() -> Iterator[Row]:
    warnings.simplefilter("ignore")
    focus = demo()
    before, broken = walk(focus)
    worst = max(before, key=lambda page: before[page])
    names = len({page.name for page in before})
    note = f"{worst.name} as {worst.who}; {len(before)} pages opened, {names} kinds, teacher, student and guardian"
    if broken:
        note += f"; broken: {', '.join(sorted({page.name for page in broken}))}"
    yield Row("queries of the worst page", before[worst], "limit", AT_MOST, 1, "queries", note, bool(broken))
    add_more(focus)
    after = again(focus, before)
    grown = {page: after[page] - before[page] for page in before}
    most = max(grown, key=lambda page: (grown[page], after[page]))
    names = sorted(
        {f"{page.name} as {page.who} ({before[page]} to {after[page]})" for page in grown if grown[page] > 0}
    )
    note = f"with {MORE} more of each kind; grown: {', '.join(names) or 'none'}"
    yield Row("queries with more rows, worst page", after[most], "before", before[most], 1, "queries", note)
