"""The money of the demo studio: lively, and in order."""

from datetime import date

import pytest

from lessons.charging import preview
from lessons.demo import lay_out
from studio.models import Account, Charge, Invoice, PackageEntry, Studio
from studio.tuition.balances import states

TODAY = date(2026, 11, 25)


@pytest.mark.django_db
def test_its_ledger_is_in_order_and_has_something_of_everything():
    studio: Studio = lay_out(today=TODAY)
    found = states(Account.objects.filter(studio=studio), studio=studio, on=TODAY)
    assert any(state.owes for state in found)
    assert any(not state.owes for state in found)
    assert preview(studio=studio, at=TODAY).charges == []
    texts = list(Charge.objects.filter(studio=studio).values_list("text", flat=True))
    assert any("10 % off for siblings" in text for text in texts)
    assert any(" days)" in text for text in texts)
    hall = Charge.objects.filter(studio=studio, text__startswith="Hall").values_list("minor", flat=True)
    assert (sum(hall), max(hall) - min(hall)) == (100000, 1)
    assert sum(PackageEntry.objects.filter(studio=studio).values_list("lessons", flat=True)) >= 0
    assert [invoice.number for invoice in Invoice.objects.filter(studio=studio)] == [1]
