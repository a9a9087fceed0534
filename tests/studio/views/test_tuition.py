import re
import uuid
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from studio.models import Charge, Payment
from studio.tuition.balances import state_of
from studio.tuition.invoicing import make_invoice
from tests import make
from tests.html import assert_clean
from tests.studio.tuition.make_tuition import account, charge, enrolment, payment, plan

KEY = str(uuid.UUID(int=7))


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


@pytest.fixture
def family(cast):
    return account(cast.studio, name="Lindqvist family", guardians=[cast.birger])


def text(answer) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("\u00a0", " ").split())


def owed(family) -> int:
    return state_of(family, on=date(2100, 1, 1)).minor


def paying(**more: str) -> dict[str, str]:
    return {"key": KEY, "amount": "12.50", "method": "cash", "day": timezone.localdate().isoformat(), **more}


def test_an_empty_page_teaches_the_next_step(cast, teacher):
    assert "It begins with a plan and its price" in text(teacher.get("/tuition/"))
    plan(cast.studio)
    assert "choose a plan" in text(teacher.get("/tuition/"))


def test_the_page_says_who_owes_what_since_when(cast, teacher, family):
    charge(family, 12050, date(2020, 11, 2))
    charge(account(cast.studio, name="Menon"), 100, date(2020, 9, 1))
    payment(account(cast.studio, name="Paid ahead"), 700)
    words = text(teacher.get("/tuition/"))
    assert "€121.50 is owed, by 2 accounts" in words
    assert "Menon Sep 1, 2020 €1.00 Lindqvist family Nov 2, 2020 €120.50 In all €121.50" in words
    assert "Paid ahead €7.00 to their credit" in words


def test_a_payment_takes_two_fields(cast, teacher, family):
    charge(family, 1250)
    answer = teacher.post(f"/tuition/accounts/{family.pk}/pay/", paying(), follow=True)
    assert "€12.50 from Lindqvist family is noted." in text(answer)
    assert owed(family) == 0
    row = Payment.objects.get()
    assert (row.day, row.method, row.written_by) == (timezone.localdate(), "cash", cast.teacher)


def test_a_payment_sent_twice_is_one(cast, teacher, family):
    for _time in range(2):
        teacher.post(f"/tuition/accounts/{family.pk}/pay/", paying())
    assert Payment.objects.count() == 1


def test_the_undo_of_a_payment_is_an_entry_of_its_own(cast, teacher, family):
    answer = teacher.post(f"/tuition/accounts/{family.pk}/pay/", paying(), follow=True)
    said = answer.content.decode().split('class="said"')[1].split("</div>")[0]
    teacher.post(re.search(r'action="([^"]+)"', said)[1])
    assert sorted(Payment.objects.values_list("minor", flat=True)) == [-1250, 1250]
    assert owed(family) == 0


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("amount", "-5", "must be above zero"),
        ("amount", "0", "must be above zero"),
        ("amount", "eighty", "Not an amount. An example is 1,234.50"),
        ("amount", "12.505", "at most 2 decimals"),
        ("amount", "99999999", "at most 2 decimals and €1,000,000.00"),
        ("method", "gold", "Select a valid choice"),
        ("day", "2199-01-01", "years away"),
        ("day", "yesterday", "Enter a valid date"),
    ],
)
def test_a_payment_that_does_not_hold_writes_nothing_and_loses_nothing(teacher, family, field: str, value: str, words):
    answer = teacher.post(f"/tuition/accounts/{family.pk}/pay/", paying(reference="no. 77") | {field: value})
    assert answer.status_code == 422
    assert words in text(answer)
    assert "no. 77" in answer.content.decode()
    assert not Payment.objects.exists()


def test_a_refund_and_a_correction_are_lines_of_their_own(cast, teacher, family):
    payment(family, 5000)
    teacher.post(f"/tuition/accounts/{family.pk}/refund/", paying())
    correction = {"key": KEY, "kind": "less", "amount": "3", "text": "Goodwill", "day": "2026-01-02"}
    correction["day"] = timezone.localdate().isoformat()
    teacher.post(f"/tuition/accounts/{family.pk}/charge/", correction)
    assert owed(family) == -5000 + 1250 - 300
    words = text(teacher.get(f"/tuition/accounts/{family.pk}/"))
    assert "Goodwill" in words
    assert "Refund, cash" in words


def test_a_recital_is_charged_to_several_at_once(cast, teacher, family):
    by = plan(cast.studio)
    enrolment(cast.oda, on=family, by=by)
    enrolment(cast.ilmari, on=family, by=by)
    other = enrolment(cast.ravi, by=by).account
    data = {
        "key": KEY,
        "kind": "recital",
        "text": "Hall",
        "amount": "100",
        "share": "all",
        "day": timezone.localdate().isoformat(),
        "students": [cast.oda.pk, cast.ilmari.pk, cast.ravi.pk],
    }
    answer = teacher.post("/tuition/several/", data, follow=True)
    assert "3 charges, €100.00 in all." in text(answer)
    assert owed(family) + owed(other) == 10000
    assert sorted(Charge.objects.values_list("minor", flat=True)) == [3333, 3333, 3334]


def test_only_those_on_a_plan_can_be_charged_at_once(cast, teacher):
    plan(cast.studio)
    assert "Nobody is on a plan today" in text(teacher.get("/tuition/several/"))


def test_the_ledger_reads_line_by_line_with_its_balance(teacher, family):
    charge(family, 5000, timezone.localdate().replace(day=1), text="Book of studies")
    payment(family, 2000, timezone.localdate())
    words = text(teacher.get(f"/tuition/accounts/{family.pk}/"))
    assert "Book of studies 50.00 50.00 Take back" in words
    assert "Payment, transfer 20.00 30.00 Take back" in words


def test_what_is_older_than_the_last_year_is_one_line_until_it_is_asked_for(teacher, family):
    charge(family, 5000, date(2020, 9, 1), text="An old book")
    charge(family, 700, timezone.localdate(), text="A new book")
    words = text(teacher.get(f"/tuition/accounts/{family.pk}/"))
    assert "An old book" not in words
    assert "the whole ledger 50.00" in words
    assert "A new book 7.00 57.00" in words
    assert "An old book" in text(teacher.get(f"/tuition/accounts/{family.pk}/?all=1"))


def test_an_entry_taken_back_offers_no_second_time(teacher, family):
    row = charge(family, 5000, timezone.localdate())
    teacher.post(f"/tuition/charges/{row.pk}/take-back/")
    html = teacher.get(f"/tuition/accounts/{family.pk}/").content.decode()
    assert "take-back" not in html
    answer = teacher.post(f"/tuition/charges/{row.pk}/take-back/", follow=True)
    assert "taken back already" in text(answer)


def test_a_guardian_reads_her_account_and_can_write_nothing(cast, logged_in, family):
    charge(family, 5000, timezone.localdate())
    client = logged_in(cast.birger.user)
    answer = client.get("/tuition/mine/", follow=True)
    words = text(answer)
    assert "€50.00 is to be paid." in words
    assert '<form method="post" action="/tuition' not in answer.content.decode()
    for address in ("pay", "refund", "charge", "change", "invoice", "remind"):
        assert client.post(f"/tuition/accounts/{family.pk}/{address}/", paying()).status_code == 404
    assert Charge.objects.count() == 1


def test_a_guardian_without_account_is_told_so(cast, logged_in):
    assert "No account is linked to your login" in text(logged_in(cast.sunita.user).get("/tuition/mine/"))


def test_a_guardian_of_two_accounts_chooses(cast, logged_in, family):
    account(cast.studio, name="The other house", guardians=[cast.birger])
    account(cast.studio, name="Menon family", guardians=[cast.sunita])
    words = text(logged_in(cast.birger.user).get("/tuition/mine/"))
    assert "Lindqvist family" in words
    assert "The other house" in words
    assert "Menon family" not in words


def test_an_account_of_next_door_is_not_offered_guardians_of_here(cast, teacher):
    answer = teacher.post("/tuition/accounts/new/", {"name": "X", "guardians": [cast.birger.pk]})
    assert answer.status_code == 302
    elsewhere = make.guardian(students=[cast.bruno], name="Rosa Tavares", email="")
    assert teacher.post("/tuition/accounts/new/", {"name": "Y", "guardians": [elsewhere.pk]}).status_code == 422


def queries(client, url: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


def fill(cast, family, start: int) -> None:
    for number in range(start, start + 10):
        row = account(cast.studio, name=f"Account {number}")
        charge(row, 100)
        charge(family, 100, timezone.localdate(), student=cast.oda)
        payment(family, 50, timezone.localdate())
        charge(family, 10, timezone.localdate())
        make_invoice(account=family, day=timezone.localdate())
        student = make.student(studio=cast.studio, name=f"Student {number}")
        enrolment(student, on=family, by=plan(cast.studio, name=f"Plan {number}", per="package"))


@pytest.mark.parametrize(
    "url", ["/tuition/", "/tuition/accounts/{}/", "/tuition/plans/", "/tuition/several/", "/tuition/charging/"]
)
def test_ten_more_rows_add_no_query_and_no_page_needs_more_than_twelve(cast, teacher, family, url: str):
    fill(cast, family, 0)
    address = url.format(family.pk)
    before = queries(teacher, address)
    fill(cast, family, 10)
    assert queries(teacher, address) == before
    assert before <= 12


@pytest.mark.parametrize(
    "address",
    [
        "/tuition/",
        "/tuition/accounts/{}/",
        "/tuition/accounts/{}/change/",
        "/tuition/accounts/{}/refund/",
        "/tuition/accounts/{}/charge/",
        "/tuition/accounts/{}/remind/",
        "/tuition/accounts/new/",
        "/tuition/several/",
        "/tuition/plans/",
        "/tuition/plans/new/",
        "/tuition/discounts/new/",
        "/tuition/billing/",
        "/tuition/years/2020/",
        "/tuition/charging/",
    ],
)
def test_the_pages_are_clean(cast, teacher, family, address: str):
    fill(cast, family, 0)
    assert_clean(teacher.get(address.format(family.pk)).content.decode())
