"""Who gets what at the addresses of students and guardians."""

from datetime import date

from django.utils import timezone

from tests import make
from tests.people import Cast
from tests.roles import Row

KEY = "11111111-2222-4333-8444-555555555555"

# A student's own self, her guardian, her teacher.
HERS = (200, 200, 200, 404, 404, 404, 302)
HERS_DONE = (302, 302, 302, 404, 404, 404, 302)


def of_oda(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def of_entry(cast: Cast) -> dict[str, int]:
    return {"pk": make.entry(student=cast.oda, day=timezone.localdate()).pk}


def of_removed_entry(cast: Cast) -> dict[str, int]:
    return {"pk": make.entry(student=cast.oda, day=date(2020, 11, 2), removed_at=timezone.now()).pk}


def entry_fields(cast: Cast) -> dict[str, object]:
    return {"key": KEY, "day": timezone.localdate().isoformat(), "minutes": 12, "remark": ""}


TABLE: dict[str, Row] = {
    # The QR code of a handout leads to it, whoever scans that: guardians and teachers are sent to their own pages.
    "this-week": Row(get=(302, 200, 302, 200, 302, 302, 302), post=(405, 405, 405, 405, 405, 405, 302)),
    # Birger has two children; Sunita has one and is sent to his page.
    "children": Row(get=(404, 404, 200, 404, 302, 404, 302), post=(404, 404, 405, 404, 405, 404, 302)),
    "child": Row(get=(404, 404, 200, 404, 404, 404, 302), post=(404, 404, 405, 404, 405, 404, 302), target=of_oda),
    "choose": Row(
        get=(404, 405, 405, 405, 405, 404, 302),
        post=(404, 302, 302, 404, 404, 404, 302),
        target=lambda cast: {"pk": cast.assigned.pk},
    ),
    "practice-log": Row(get=HERS, target=of_oda),
    "new-entry": Row(get=HERS, post=HERS_DONE, target=of_oda, data=entry_fields),
    "change-entry": Row(get=HERS, post=HERS_DONE, target=of_entry, data=entry_fields),
    "remove-entry": Row(get=(405, 405, 405, 405, 405, 405, 302), post=HERS_DONE, target=of_entry),
    "restore-entry": Row(get=(405, 405, 405, 405, 405, 405, 302), post=HERS_DONE, target=of_removed_entry),
}
