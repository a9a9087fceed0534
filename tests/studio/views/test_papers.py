import csv
from datetime import date
from io import BytesIO, StringIO

import pdfplumber
import pytest

from studio.models import Invoice
from tests.studio.tuition.make_tuition import account, charge, payment


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


@pytest.fixture
def family(cast):
    row = account(cast.studio, name="Ångström / Lindqvist", guardians=[cast.birger])
    charge(row, 12050, date(2020, 9, 1))
    payment(row, 5000, date(2020, 10, 1))
    return row


def words(answer) -> str:
    with pdfplumber.open(BytesIO(answer.content)) as document:
        return "\n".join(page.extract_text() for page in document.pages)


def test_a_statement_is_a_pdf_of_the_span_that_was_asked_for(teacher, family):
    answer = teacher.get(f"/tuition/accounts/{family.pk}/statement.pdf?first=2020-09-01&last=2020-09-30")
    assert answer["Content-Type"] == "application/pdf"
    assert "Balance on Sep 30, 2020 €120.50" in words(answer)
    assert 'filename="angstrom-lindqvist-2020-09-01-2020-09-30.pdf"' in answer["Content-Disposition"]


def test_a_statement_without_days_is_this_years(teacher, family):
    answer = teacher.get(f"/tuition/accounts/{family.pk}/statement.pdf")
    assert "Balance before" in words(answer)
    assert "70.50" in words(answer)


@pytest.mark.parametrize(
    "span", ["?first=2020-09-30&last=2020-09-01", "?first=never&last=2020-09-01", "?first=2020-09-01"]
)
def test_a_span_that_is_none_is_told_and_makes_no_statement(teacher, family, span: str):
    answer = teacher.get(f"/tuition/accounts/{family.pk}/statement.pdf{span}", follow=True)
    assert answer.redirect_chain[-1][0] == f"/tuition/accounts/{family.pk}/"
    assert "No statement was made." in answer.content.decode()


def test_an_invoice_is_made_and_read_by_the_guardian(cast, teacher, family, logged_in):
    teacher.post(f"/tuition/accounts/{family.pk}/invoice/")
    row = Invoice.objects.get()
    answer = logged_in(cast.birger.user).get(f"/tuition/invoices/{row.pk}/invoice.pdf")
    assert answer.content == bytes(row.pdf)
    assert "private" in answer["Cache-Control"]
    assert logged_in(cast.sunita.user).get(f"/tuition/invoices/{row.pk}/invoice.pdf").status_code == 404


def test_an_invoice_of_nothing_is_refused_in_words(teacher, family):
    teacher.post(f"/tuition/accounts/{family.pk}/invoice/")
    answer = teacher.post(f"/tuition/accounts/{family.pk}/invoice/", follow=True)
    assert "stands on an invoice already" in answer.content.decode()
    assert Invoice.objects.count() == 1


def test_the_accountants_files_are_csv(teacher, family):
    answer = teacher.get("/tuition/years/2020/entries.csv")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Content-Disposition"].startswith("attachment")
    rows = list(csv.reader(StringIO(answer.content.decode("utf-8-sig"), newline="")))
    assert [row[6] for row in rows] == ["amount", "120.50", "-50.00"]
    rows = list(csv.reader(StringIO(teacher.get("/tuition/years/2020/summary.csv").content.decode("utf-8-sig"))))
    assert len(rows) == 14


def test_the_year_is_a_table(teacher, family):
    page = teacher.get("/tuition/years/2020/").content.decode()
    assert "120.50" in page
    assert "September 2020" in page


@pytest.mark.parametrize("year", [0, 1, 9999, 123456789012345678901234567890])
def test_a_year_that_no_calendar_has_is_not_found(teacher, year: int):
    assert teacher.get(f"/tuition/years/{year}/").status_code == 404
    assert teacher.get(f"/tuition/years/{year}/entries.csv").status_code == 404
