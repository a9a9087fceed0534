import re
from datetime import date

import pytest

from studio.models import Account, Billing, Discount, Enrolment, Plan
from tests.html import assert_clean
from tests.studio.tuition.make_tuition import account, charge, enrolment, plan


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def text(answer) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("\u00a0", " ").split())


PLAN = {"name": "45 minutes", "per": "month", "divided": "days", "amount": "80,50", "from_day": "2020-09-01"}


def test_a_plan_is_made_with_its_first_price(cast, teacher):
    assert teacher.post("/tuition/plans/new/", PLAN).status_code == 302
    row = Plan.objects.get()
    assert (row.per, row.price_on(date(2020, 9, 1)).minor) == ("month", 8050)
    assert "45 minutes per month €80.50" in text(teacher.get("/tuition/plans/"))


def test_a_package_asks_for_its_size(cast, teacher):
    answer = teacher.post("/tuition/plans/new/", PLAN | {"per": "package"})
    assert answer.status_code == 422
    assert "How many lessons has the package?" in text(answer)
    assert teacher.post("/tuition/plans/new/", PLAN | {"per": "package", "lessons": "10"}).status_code == 302
    assert Plan.objects.get().lessons == 10


@pytest.mark.parametrize(
    "change", [{"amount": "-1"}, {"amount": "free"}, {"lessons": "0", "per": "package"}, {"name": ""}]
)
def test_a_plan_that_does_not_hold_is_not_made(cast, teacher, change: dict[str, str]):
    assert teacher.post("/tuition/plans/new/", PLAN | change).status_code == 422
    assert not Plan.objects.exists()


def test_a_new_price_holds_from_its_day(cast, teacher):
    row = plan(cast.studio)
    teacher.post(f"/tuition/plans/{row.pk}/price/", {"amount": "85", "from_day": "2199-01-01"})
    assert "€80.00 €85.00 from Jan 1, 2199" in text(teacher.get("/tuition/plans/"))


def test_a_plan_that_is_not_offered_any_more_can_be_offered_again(cast, teacher):
    row = plan(cast.studio)
    teacher.post(f"/tuition/plans/{row.pk}/retire/")
    assert "First there must be a plan" in text(teacher.get(f"/students/{cast.oda.pk}/enrol/"))
    teacher.post(f"/tuition/plans/{row.pk}/offer/")
    assert row.name in text(teacher.get(f"/students/{cast.oda.pk}/enrol/"))


def test_a_discount_over_all_measure_is_refused(cast, teacher):
    data = {"second": "101", "further": "-1", "order": "joined", "from_day": "2020-09-01"}
    answer = teacher.post("/tuition/discounts/new/", data)
    assert answer.status_code == 422
    assert len(answer.context["form"].errors) == 2
    teacher.post("/tuition/discounts/new/", data | {"second": "10", "further": "15"})
    assert Discount.objects.get().second == 10
    assert "second child 10 % off, each further 15 %" in text(teacher.get("/tuition/plans/"))


def enrolling(row: Plan, **more: str) -> dict[str, str]:
    return {"plan": str(row.pk), "account": "", "name": "Lindqvist family", "first_day": "2020-09-01", **more}


def test_a_student_is_put_on_a_plan_from_her_own_page(cast, teacher):
    row = plan(cast.studio)
    assert "On no plan: nothing is charged." in text(teacher.get(f"/students/{cast.oda.pk}/"))
    teacher.post(f"/students/{cast.oda.pk}/enrol/", enrolling(row))
    made = Account.objects.get()
    assert (made.name, list(made.guardians.all())) == ("Lindqvist family", [cast.birger])
    assert "Plan month, Lindqvist family since Sep 1, 2020" in text(teacher.get(f"/students/{cast.oda.pk}/"))


def test_a_sibling_is_offered_the_familys_account(cast, teacher):
    row = plan(cast.studio)
    teacher.post(f"/students/{cast.oda.pk}/enrol/", enrolling(row))
    page = teacher.get(f"/students/{cast.ilmari.pk}/enrol/")
    assert page.context["form"]["account"].value() == Account.objects.get().pk


def test_a_day_before_the_plan_that_she_is_on_is_refused_in_words(cast, teacher):
    row = enrolment(cast.oda)
    data = enrolling(row.plan, account=str(row.account_id), first_day="2020-08-01")
    answer = teacher.post(f"/students/{cast.oda.pk}/enrol/", data)
    assert answer.status_code == 422
    assert "Choose a later day" in text(answer)


def test_a_plan_or_account_of_next_door_cannot_be_chosen(cast, teacher):
    own, theirs = plan(cast.studio), plan(cast.next_door)
    elsewhere = account(cast.next_door)
    address = f"/students/{cast.oda.pk}/enrol/"
    assert teacher.post(address, enrolling(theirs)).status_code == 422
    assert teacher.post(address, enrolling(own, account=str(elsewhere.pk))).status_code == 422
    assert not Enrolment.objects.exists()


def test_a_plan_ends_and_an_end_before_its_begin_is_refused(cast, teacher):
    row = enrolment(cast.oda)
    assert teacher.post(f"/enrolments/{row.pk}/end/", {"last_day": "2020-08-31"}).status_code == 422
    teacher.post(f"/enrolments/{row.pk}/end/", {"last_day": "2020-12-31"})
    row.refresh_from_db()
    assert row.last_day == date(2020, 12, 31)


def test_a_tax_line_needs_name_and_rate(cast, teacher):
    address = "/tuition/billing/"
    assert teacher.post(address, {"due_days": "14", "tax_name": "VAT"}).status_code == 422
    assert teacher.post(address, {"due_days": "14", "tax_rate": "25"}).status_code == 422
    assert teacher.post(address, {"due_days": "14", "tax_name": "VAT", "tax_rate": "25"}).status_code == 302
    row = Billing.objects.get()
    assert (row.tax_name, row.tax_rate, row.by_itself) == ("VAT", 25, False)
    assert "local law decides" in text(teacher.get(address))


STUDIO = {"name": "Harbour", "timezone": "Europe/Helsinki", "paper": "A4", "locale": "fi_FI"}


def test_a_currency_is_changed_only_while_there_is_no_money_in_it(cast, teacher):
    assert teacher.post("/studio/", STUDIO | {"currency": "SEK"}).status_code == 302
    plan(cast.studio)
    answer = teacher.post("/studio/", STUDIO | {"currency": "JPY"})
    assert answer.status_code == 422
    assert "There are prices or payments in SEK" in text(answer)
    cast.studio.refresh_from_db()
    assert (cast.studio.currency, cast.studio.locale) == ("SEK", "fi_FI")
    assert teacher.post("/studio/", STUDIO | {"currency": "SEK", "name": "Harbour 2"}).status_code == 302


def test_a_currency_stays_where_only_an_entry_is_there(cast, teacher):
    charge(account(cast.studio))
    assert teacher.post("/studio/", STUDIO | {"currency": "NOK"}).status_code == 422


def test_the_pages_are_clean(cast, teacher):
    row = enrolment(cast.oda)
    for address in (
        f"/students/{cast.oda.pk}/",
        f"/students/{cast.oda.pk}/enrol/",
        f"/enrolments/{row.pk}/end/",
        f"/tuition/plans/{row.plan_id}/price/",
        "/studio/",
    ):
        assert_clean(teacher.get(address).content.decode())
