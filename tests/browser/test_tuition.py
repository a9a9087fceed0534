"""Tuition on a desk and on a phone: paying in two fields, the ledger, a statement, and what a guardian reads."""

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from studio.models import Payment
from tests.studio.tuition.make_tuition import account, charge, enrolment, payment, plan

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def family(people):
    row = account(people.studio, name="Lindqvist family", guardians=[people.birger])
    by = plan(people.studio, per="package")
    enrolment(people.oda, on=row, by=by)
    charge(
        row, 12050, timezone.localdate(), student=people.oda, text="Book of studies, both parts, with the recordings"
    )
    payment(row, 2000, timezone.localdate())
    return row


@pytest.mark.parametrize("device", ["page", "phone"])
def test_a_payment_takes_two_fields_and_can_be_undone(request, people, family, enter, axe, device: str):
    page = request.getfixturevalue(device)
    enter(page, people.teacher)
    page.goto("/tuition/")
    axe(page)
    page.get_by_role("link", name="Lindqvist family").click()
    axe(page)
    expect(page.get_by_label("Amount, EUR")).to_have_value("100.50")
    page.get_by_label("Amount, EUR").fill("40")
    page.get_by_label("Paid by").select_option("cash")
    page.get_by_role("button", name="Paid", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("€40.00 from Lindqvist family is noted.")
    expect(page.get_by_role("heading", level=1)).to_contain_text("€60.50 is to be paid.")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("€100.50 is to be paid.")
    assert Payment.objects.count() == 3


def test_what_is_wrong_is_said_beside_the_field_and_nothing_is_lost(phone, people, family, enter, axe):
    enter(phone, people.teacher)
    phone.goto(f"/tuition/accounts/{family.pk}/")
    phone.get_by_text("Another day than today, or a reference").click()
    phone.get_by_label("Reference").fill("no. 77")
    phone.get_by_label("Amount, EUR").fill("-5")
    phone.get_by_role("button", name="Paid", exact=True).click()
    expect(phone.get_by_text("The amount must be above zero.")).to_be_visible()
    expect(phone.get_by_label("Reference")).to_have_value("no. 77")
    axe(phone)


@pytest.mark.parametrize(
    "address",
    [
        "plans/",
        "plans/new/",
        "billing/",
        "several/",
        "charging/",
        "years/2026/",
        "accounts/{}/remind/",
        "accounts/{}/charge/",
    ],
)
def test_every_page_of_tuition_works_on_a_phone(phone, people, family, enter, axe, address: str):
    enter(phone, people.teacher)
    phone.goto("/tuition/" + address.format(family.pk))
    axe(phone)


def test_a_guardian_reads_the_ledger_on_her_phone(phone, people, family, enter, axe):
    enter(phone, people.birger.user)
    phone.goto("/children/")
    phone.get_by_role("link", name="Tuition").click()
    expect(phone.get_by_role("heading", level=1)).to_contain_text("€100.50 is to be paid.")
    expect(phone.get_by_role("button", name="Take back")).to_have_count(0)
    axe(phone)
    with phone.expect_response("**/statement.pdf*") as answer:
        phone.get_by_role("button", name="Statement (PDF)").click()
    assert (answer.value.status, answer.value.headers["content-type"]) == (200, "application/pdf")
