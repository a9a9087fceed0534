"""What the rules of charging speak of: lessons that are over, what is due for them, and what would be written."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from fractions import Fraction

from studio.models import Account, Charge, Enrolment, PackageEntry, Student

LOOK_BACK = timedelta(days=400)  # what lies further back is never charged or adjusted by rule

Period = tuple[date, date]
Share = Callable[[Enrolment, Period, Period], Fraction]


@dataclass(frozen=True)
class LessonFact:
    """A lesson that is over: whether the policy charges it, and a word for the ledger ("missed"). `said` is False while
    nobody has said who was there: then nothing is due yet."""

    about: str
    student_id: int
    day: date
    counts: bool
    remark: str = ""
    said: bool = True


@dataclass(frozen=True)
class Due:
    """What one month, term or lesson should come to, in minor units. `words` gives the text of its entry, asked for
    only where one is written."""

    about: str
    account: Account
    student: Student | None
    minor: int
    day: date
    words: Callable[[], str]
    period: Period | None = None


@dataclass
class Draft:
    """What would be written: charges, the countdown of packages, and what could not be charged. `unsaid`: how many
    lessons of those who pay by the lesson wait for their attendance. `anybody`: whether a plan was ever entered on."""

    charges: list[Charge] = field(default_factory=list)
    package_entries: list[PackageEntry] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)
    unsaid: int = 0
    anybody: bool = False

    @property
    def minor(self) -> int:
        return sum(charge.minor for charge in self.charges)


@dataclass
class Written:
    """What stands in the ledger about one thing."""

    minor: int = 0
    count: int = 0
    by_hand: bool = False
    first: Charge | None = None
