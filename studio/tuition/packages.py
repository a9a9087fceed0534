"""The countdown of packages, lesson by lesson."""

from collections import defaultdict
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from django.db.models import Case, Count, F, Min, Q, Sum, Value, When
from django.utils.translation import gettext as _

from studio.models import Charge, Enrolment, PackageEntry, Plan, Studio
from studio.money import part_of
from studio.tuition.dues import LOOK_BACK, LessonFact


class Pricing(Protocol):
    """What the countdown asks of the rules."""

    studio: Studio
    at: date
    since: date
    enrolments: list[Enrolment]

    def price(self, enrolment: Enrolment, day: date) -> int | None: ...
    def percent_off(self, enrolment: Enrolment, day: date) -> Decimal: ...
    def off_words(self, off: Decimal) -> str: ...


class Packages:
    """The countdown of packages: a new one is charged when a lesson comes and none is left."""

    def __init__(self, rules: Pricing) -> None:
        self.rules = rules
        self.entries: list[PackageEntry] = []
        self.charges: list[Charge] = []
        self.left: dict[int, int] = defaultdict(int)
        self.bought: dict[int, int] = defaultdict(int)
        self.used: dict[str, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        self.lines: dict[str, int] = defaultdict(int)
        self.days: dict[str, date] = {}
        if any(enrolment.plan.per == Plan.Per.PACKAGE for enrolment in rules.enrolments):
            self.read()

    def read(self) -> None:
        """What is left of each package, how many were bought, and which lessons were counted: one query."""
        recent = Q(about__startswith="lesson-", day__gte=self.rules.since - LOOK_BACK)
        of_lesson = Case(When(recent, then=F("about")), default=Value(""))
        bought = Count("pk", filter=Q(about__startswith="package-"))
        rows = PackageEntry.objects.filter(studio=self.rules.studio).values("enrolment_id", of_lesson=of_lesson)
        sums = rows.annotate(sum=Sum("lessons"), lines=Count("pk"), first=Min("day"), bought=bought).order_by()
        fields = ("enrolment_id", "of_lesson", "sum", "lines", "first", "bought")
        for enrolment_id, about, lessons, lines, first, count in sums.values_list(*fields):
            self.left[enrolment_id] += lessons
            self.bought[enrolment_id] += count
            if about:
                self.used[about][enrolment_id] -= lessons
                self.lines[about] += lines
                self.days[about] = min(first, self.days.get(about, first))

    def give_back_gone(self, there: set[str]) -> None:
        """Gives back the lessons that were counted and are not `there` any more: taken out, or moved to a day to come.
        What lies too far back is left alone."""
        for about, taken in self.used.items():
            if about not in there and self.days[about] >= self.rules.since:
                for enrolment_id, lessons in taken.items():
                    if lessons:
                        self.take(about, enrolment_id, lessons, self.rules.at)

    def settle(self, lesson: LessonFact, enrolment: Enrolment | None) -> None:
        """Takes the lesson off the package that it belongs to, or gives it back."""
        taken = self.used[lesson.about]
        wanted = {enrolment.pk: 1} if enrolment and lesson.counts else {}
        for enrolment_id in {*taken, *wanted}:
            change = taken[enrolment_id] - wanted.get(enrolment_id, 0)
            if change < 0 and enrolment and self.left[enrolment_id] <= 0 and not self.buy(enrolment, lesson.day):
                continue
            if change:
                self.take(lesson.about, enrolment_id, change, lesson.day if change < 0 else self.rules.at)

    def take(self, about: str, enrolment_id: int, change: int, day: date) -> None:
        """One more line about a lesson: -1 where it is taken off, +1 where it is given back."""
        self.count(enrolment_id, change, day, about, self.lines[about])
        self.lines[about] += 1
        self.used[about][enrolment_id] -= change

    def count(
        self, enrolment_id: int, lessons: int, day: date, about: str, number: int, charge: Charge | None = None
    ) -> None:
        self.left[enrolment_id] += lessons
        once = f"{about}#{number + 1}" if number else about
        self.entries.append(
            PackageEntry(
                studio=self.rules.studio,
                enrolment_id=enrolment_id,
                lessons=lessons,
                day=day,
                about=about,
                once=once,
                charge=charge,
            )
        )

    def buy(self, enrolment: Enrolment, day: date) -> bool:
        """Charges one more package. False where it has no price."""
        rules, size = self.rules, enrolment.plan.lessons or 1
        price = rules.price(enrolment, day)
        if price is None:
            return False
        off = rules.percent_off(enrolment, day)
        self.bought[enrolment.pk] += 1
        about = f"package-{enrolment.pk}-{self.bought[enrolment.pk]}"
        minor = part_of(price, Fraction(1), off)
        text = _("Package of %(count)d lessons") % {"count": size} + rules.off_words(off)
        charge = None
        if minor:
            charge = Charge(
                studio=rules.studio,
                account=enrolment.account,
                student=enrolment.student,
                kind=Charge.Kind.TUITION,
                minor=minor,
                currency=rules.studio.currency,
                day=day,
                text=text,
                about=about,
                once=about,
                by_rule=True,
            )
            self.charges.append(charge)
        self.count(enrolment.pk, size, day, about, 0, charge)
        return True
