"""Charges by rule: what each month, term and lesson should come to, and the entries that bring the ledger there.

Every month, term and lesson has a name (`about`). For each the rules say what is due; what was written about it before
is subtracted; the difference, if any, is one new entry. So a job that runs twice writes nothing twice, and an
attendance or an enrolment that is corrected later makes an adjusting entry, never an edit. Where somebody corrected a
charge by hand, the rules leave it alone from then on.

The rules, all common practice; local law and the studio's agreements with families have the last word:
- a month is charged on its first day, a term on its first day, both to those who are enrolled then or join later;
- the price is that of the first enrolled day in the month or term; the sibling discount too;
- who joins or leaves within a month or term pays the enrolled part of it, by days, by lesson days, or the whole, as the
  plan says; the amount is rounded once;
- a lesson is charged where the studio's policy says so; a package is charged with its first lesson and counts down.
"""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db import transaction
from django.utils.translation import gettext as _

from studio.locales import day_words, month_words, number_words
from studio.models import Charge, Discount, Enrolment, PackageEntry, Plan, Studio, Term, User
from studio.money import days_in, part_of, share_of_days
from studio.tuition.dues import LOOK_BACK, Draft, Due, LessonFact, Period, Share, Written
from studio.tuition.packages import Packages


def share_by_days(_enrolment: Enrolment, period: Period, part: Period) -> Fraction:
    return share_of_days(period, part)


def lock(studio: Studio) -> Studio:
    """Waits until nobody else writes this studio's charges or invoices. Inside a transaction only."""
    return Studio.objects.select_for_update(no_key=True).get(pk=studio.pk)


def draft(*, studio: Studio, at: date, lessons: Sequence[LessonFact], by_lessons: Share = share_by_days) -> Draft:
    """What the rules would write on a day; nothing is written. `by_lessons` tells the share of a period for the plans
    that are divided by lesson days."""
    return Rules(studio, at, by_lessons).draft(lessons)


@transaction.atomic
def write(
    *,
    studio: Studio,
    at: date,
    lessons: Sequence[LessonFact],
    by_lessons: Share = share_by_days,
    by: User | None = None,
) -> Draft:
    """Writes what `draft` tells. The caller has locked the studio before it read the lessons."""
    made = draft(studio=studio, at=at, lessons=lessons, by_lessons=by_lessons)
    for charge in made.charges:
        charge.written_by = by
    Charge.objects.bulk_create(made.charges)
    for entry in made.package_entries:
        entry.charge = entry.charge  # takes over the key that the charge has by now
    PackageEntry.objects.bulk_create(made.package_entries)
    return made


def months(first: date, last: date) -> list[Period]:
    """The calendar months that touch the days from first to last, each whole."""
    found = []
    start = first.replace(day=1)
    while start <= last:
        following = (start + timedelta(days=32)).replace(day=1)
        found.append((start, following - timedelta(days=1)))
        start = following
    return found


def enrolled_part(enrolment: Enrolment, period: Period) -> Period | None:
    """The days of a period on which somebody is enrolled."""
    first = max(period[0], enrolment.first_day)
    last = min(period[1], enrolment.last_day or period[1])
    return (first, last) if first <= last else None


class Rules:
    """All that the rules need to know of one studio, read at once: the number of queries does not grow."""

    def __init__(self, studio: Studio, at: date, by_lessons: Share) -> None:
        self.studio, self.at, self.by_lessons = studio, at, by_lessons
        self.since = at - LOOK_BACK
        self.enrolments = list(
            Enrolment.objects.filter(studio=studio)
            .select_related("student", "account", "plan")
            .prefetch_related("plan__prices")
        )
        self.discounts = list(Discount.objects.filter(studio=studio, from_day__lte=at))
        self.of_student: dict[int, list[Enrolment]] = defaultdict(list)
        self.of_account: dict[int, list[Enrolment]] = defaultdict(list)
        for enrolment in self.enrolments:
            self.of_student[enrolment.student_id].append(enrolment)
            self.of_account[enrolment.account_id].append(enrolment)
        self.troubles: dict[str, None] = {}

    def draft(self, lessons: Sequence[LessonFact]) -> Draft:
        made = Draft(anybody=bool(self.enrolments))
        dues = [*self.month_dues(), *self.term_dues(), *self.lesson_dues(lessons, made)]
        written = self.written()
        named = {due.about for due in dues}
        gone = [row.first for about, row in written.items() if about not in named and row.first]
        dues += [self.nothing_due(first) for first in gone if first.day >= self.since]
        for due in sorted(dues, key=lambda due: (due.day, due.about)):
            charge = self.settling(due, written[due.about])
            if charge:
                made.charges.append(charge)
        made.charges.sort(key=lambda charge: charge.day)
        made.troubles = list(self.troubles)
        return made

    # What is due

    def month_dues(self) -> list[Due]:
        found = []
        for enrolment in self.enrolments:
            if enrolment.plan.per != Plan.Per.MONTH:
                continue
            last = min(self.at, enrolment.last_day or self.at)
            for period in months(max(enrolment.first_day, self.since), last):
                name = month_words(period[0], self.studio.locale)
                about = f"month-{period[0]:%Y-%m}-{enrolment.pk}"
                found.append(self.period_due(enrolment, period, about, name))
        return [due for due in found if due]

    def term_dues(self) -> list[Due]:
        found = []
        by_term = [enrolment for enrolment in self.enrolments if enrolment.plan.per == Plan.Per.TERM]
        terms = Term.objects.filter(studio=self.studio, first_day__lte=self.at, last_day__gte=self.since)
        terms = list(terms) if by_term else []
        for enrolment in by_term:
            for term in terms:
                about = f"term-{term.pk}-{enrolment.pk}"
                found.append(self.period_due(enrolment, (term.first_day, term.last_day), about, term.name))
        return [due for due in found if due]

    def period_due(self, enrolment: Enrolment, period: Period, about: str, name: str) -> Due | None:
        """The enrolled part of a month or term. None where it has not come yet, lies too far back, or has no price."""
        part = enrolled_part(enrolment, period)
        if part is None or part[0] > self.at or part[0] < self.since:
            return None
        price = self.price(enrolment, part[0])
        if price is None:
            return None
        share = self.share(enrolment, period, part)
        off = self.percent_off(enrolment, part[0])
        minor = part_of(price, share, off)

        def words() -> str:
            text = _("Tuition, %(period)s") % {"period": name}
            return text + ("" if share == 1 else self.part_words(enrolment, period, part)) + self.off_words(off)

        return Due(about, enrolment.account, enrolment.student, minor, part[0], words, part)

    def share(self, enrolment: Enrolment, period: Period, part: Period) -> Fraction:
        if part == period or enrolment.plan.divided == Plan.Divided.WHOLE:
            return Fraction(1)
        if enrolment.plan.divided == Plan.Divided.LESSONS:
            return self.by_lessons(enrolment, period, part)
        return share_of_days(period, part)

    def part_words(self, enrolment: Enrolment, period: Period, part: Period) -> str:
        days = {"first": day_words(part[0], self.studio.locale), "last": day_words(part[1], self.studio.locale)}
        if enrolment.plan.divided == Plan.Divided.LESSONS:
            return _(" (%(first)s to %(last)s, by lesson days)") % days
        return _(" (%(part)d of %(whole)d days)") % {"part": days_in(*part), "whole": days_in(*period)}

    def off_words(self, off: Decimal) -> str:
        if not off:
            return ""
        return _(", %(percent)s %% off for siblings") % {"percent": number_words(off, self.studio.locale)}

    def lesson_dues(self, lessons: Sequence[LessonFact], made: Draft) -> list[Due]:
        """Lessons of those who pay by the lesson; those in packages are counted down on the way."""
        found: list[Due] = []
        packages = Packages(self)
        packages.give_back_gone({lesson.about for lesson in lessons})
        for lesson in sorted(lessons, key=lambda lesson: (lesson.day, lesson.about)):
            if not self.since <= lesson.day <= self.at:
                continue
            enrolment = self.enrolled(lesson.student_id, lesson.day)
            per = enrolment.plan.per if enrolment else ""
            made.unsaid += not lesson.said and per in (Plan.Per.LESSON, Plan.Per.PACKAGE)
            packages.settle(lesson, enrolment if per == Plan.Per.PACKAGE else None)
            if enrolment and per == Plan.Per.LESSON:
                due = self.lesson_due(lesson, enrolment)
                found += [due] if due else []
        made.package_entries += packages.entries
        made.charges += packages.charges
        return found

    def lesson_due(self, lesson: LessonFact, enrolment: Enrolment) -> Due | None:
        price = self.price(enrolment, lesson.day)
        if price is None:
            return None
        off = self.percent_off(enrolment, lesson.day)
        minor = part_of(price, Fraction(1), off) if lesson.counts else 0

        def words() -> str:
            text = _("Lesson of %(day)s") % {"day": day_words(lesson.day, self.studio.locale)}
            return text + (f" ({lesson.remark})" if lesson.remark else "") + self.off_words(off)

        return Due(lesson.about, enrolment.account, enrolment.student, minor, lesson.day, words)

    def enrolled(self, student_id: int, day: date) -> Enrolment | None:
        return next((one for one in self.of_student[student_id] if one.covers(day)), None)

    def price(self, enrolment: Enrolment, day: date) -> int | None:
        price = enrolment.plan.price_on(day)
        if price is None:
            words = {"plan": enrolment.plan.name, "day": day_words(day, self.studio.locale)}
            self.troubles[_("“%(plan)s” has no price on %(day)s.") % words] = None
        return price.minor if price else None

    def percent_off(self, enrolment: Enrolment, day: date) -> Decimal:
        """The sibling discount of a child on a day: by her place among those of the account who are enrolled then."""
        holding = [one for one in self.discounts if one.from_day <= day]
        if not holding:
            return Decimal(0)
        discount = max(holding, key=lambda one: one.from_day)
        family = self.of_account[enrolment.account_id]
        joined: dict[int, date] = {}
        for one in family:
            joined[one.student_id] = min(one.first_day, joined.get(one.student_id, one.first_day))

        def place(one: Enrolment) -> tuple[int, date, int]:
            price = one.plan.price_on(day)
            dearest = discount.order == Discount.Order.DEAREST and price is not None
            return (-price.minor if dearest and price else 0, joined[one.student_id], one.student_id)

        here = sorted((one for one in family if one.covers(day)), key=place)
        rank = [one.student_id for one in here].index(enrolment.student_id)
        return Decimal(0) if rank == 0 else discount.second if rank == 1 else discount.further

    # What stands, and what is missing

    def written(self) -> dict[str, Written]:
        """What was written about each thing. An adjusting entry stands at most `LOOK_BACK` after the first
        about the same thing, so with twice that time every first entry is seen."""
        found: dict[str, Written] = defaultdict(Written)
        rows = Charge.objects.filter(studio=self.studio, day__gte=self.since - LOOK_BACK).exclude(about="")
        for charge in rows.select_related("account", "student").order_by("pk"):
            row = found[charge.about]
            row.count += 1
            if charge.by_rule:
                row.minor += charge.minor
            else:
                row.by_hand = True
            row.first = row.first or charge
        return found

    def nothing_due(self, first: Charge) -> Due:
        """For what was charged and is not there any more: an enrolment ended earlier, a lesson taken out."""
        period = (first.first_day, first.last_day) if first.first_day and first.last_day else None
        # A package stays charged; its countdown tells what is left of it.
        minor = first.minor if first.about.startswith("package-") else 0
        return Due(first.about, first.account, first.student, minor, first.day, lambda: first.text, period)

    def settling(self, due: Due, row: Written) -> Charge | None:
        """The entry that brings the ledger to what is due; None where it is there."""
        missing = due.minor - row.minor
        if missing == 0 or row.by_hand:
            return None
        fields = {
            "studio": self.studio,
            "account": due.account,
            "student": due.student,
            "minor": missing,
            "currency": self.studio.currency,
            "about": due.about,
            "by_rule": True,
            "first_day": due.period[0] if due.period else None,
            "last_day": due.period[1] if due.period else None,
        }
        if row.count == 0:
            return Charge(kind=Charge.Kind.TUITION, day=due.day, text=due.words()[:200], once=due.about, **fields)
        text = (_("Adjusted: %(text)s") % {"text": due.words()})[:200]
        once = f"{due.about}#{row.count + 1}"
        whole = row.first is not None and row.count == 1 and row.first.minor == -missing
        reverses = row.first if whole else None
        return Charge(kind=Charge.Kind.ADJUSTMENT, day=self.at, text=text, once=once, reverses=reverses, **fields)
