"""Invoices and statements, their PDF read back with pdfplumber."""

from datetime import date
from io import BytesIO

import pdfplumber
import pytest

from studio.models import Billing, Invoice
from studio.tuition import entries
from studio.tuition.accounts import NotPossible, set_billing
from studio.tuition.invoicing import draw_statement, make_invoice
from studio.tuition.papers import draw, from_data
from tests.studio.tuition.make_tuition import SEPTEMBER, account, charge, payment

DAY = date(2020, 11, 25)


def pages(pdf: bytes) -> list[str]:
    with pdfplumber.open(BytesIO(pdf)) as document:
        return [(page.extract_text() or "").replace("\u00a0", " ") for page in document.pages]


def norwegian(cast) -> None:
    cast.studio.currency, cast.studio.locale = "NOK", "nb_NO"
    cast.studio.save(update_fields=["currency", "locale"])


def test_an_invoice_says_who_what_and_how_much(cast):
    norwegian(cast)
    Billing.objects.create(
        studio=cast.studio, address="Harbour Street 4", words="Account 1234 56 78903", due_days=10, tax_number="NO 1"
    )
    row = account(cast.studio, name="Lindqvist family", address="Hill Road 7\nTurku")
    charge(row, 148000, date(2020, 10, 1), student=cast.oda, text="Tuition, October")
    charge(row, 12345, date(2020, 10, 2))
    payment(row, 100000)
    made = make_invoice(account=row, day=DAY)
    [text] = pages(bytes(made.pdf))
    for words in (
        "Studio Harbour Street",
        "Harbour Street 4",
        "Lindqvist family",
        "Hill Road 7",
        "Turku",
        "Invoice 1",
        "Date: 25. nov. 2020",
        "Please pay by: 5. des. 2020",
        "Tax number: NO 1",
        "Account 1234 56 78903",
        "1. okt. 2020 Tuition, October Oda Lindqvist 1 480,00",
        "2. okt. 2020 Book of studies 123,45",
        "Total 1 603,45 kr",
        "The account stands at 603,45 kr",
        "1 of 1",
    ):
        assert words in text, words
    assert "local law" not in text


def test_a_tax_line_names_the_part_and_that_local_law_decides(cast):
    Billing.objects.create(studio=cast.studio, tax_name="VAT", tax_rate="25.50")
    row = account(cast.studio)
    charge(row, 12550)
    [text] = pages(bytes(make_invoice(account=row, day=DAY).pdf))
    assert "of which VAT, 25.5 % €25.50" in text
    assert "Total €125.50" in text
    assert "local law decides" in text


def test_yen_stand_without_decimals(cast):
    cast.studio.currency, cast.studio.locale = "JPY", "ja_JP"
    cast.studio.save(update_fields=["currency", "locale"])
    row = account(cast.studio, name="田中")
    charge(row, 12000)
    [text] = pages(bytes(make_invoice(account=row, day=DAY).pdf))
    assert "12,000" in text
    assert "12,000.00" not in text
    assert "田中" in text


def test_every_charge_stands_on_one_invoice(cast):
    row = account(cast.studio)
    first, second = charge(row), charge(row)
    made = make_invoice(account=row, day=DAY)
    assert {line.charge for line in made.lines.all()} == {first, second}
    with pytest.raises(NotPossible, match="already"):
        make_invoice(account=row, day=DAY)
    third = charge(row, 700)
    assert [line.charge for line in make_invoice(account=row, day=DAY).lines.all()] == [third]


def test_what_is_taken_back_after_the_invoice_makes_a_credit_note(cast):
    row = account(cast.studio)
    wrong = charge(row, 5000)
    make_invoice(account=row, day=DAY)
    entries.take_back_charge(charge=wrong, day=DAY)
    made = make_invoice(account=row, day=DAY)
    assert (made.number, made.minor) == (2, -5000)
    [text] = pages(bytes(made.pdf))
    assert "Credit note 2" in text
    assert "Please pay by" not in text


def test_numbers_follow_one_another_in_each_studio(cast):
    for name in ("One", "Two", "Three"):
        row = account(cast.studio, name=name)
        charge(row)
        make_invoice(account=row, day=DAY)
    elsewhere = account(cast.next_door)
    charge(elsewhere)
    assert make_invoice(account=elsewhere, day=DAY).number == 1
    assert sorted(Invoice.objects.filter(studio=cast.studio).values_list("number", flat=True)) == [1, 2, 3]


def test_what_stands_on_invoices_is_kept_without_touching_their_number(cast, monkeypatch):
    """The settings were opened before an invoice was made, and kept after it."""
    row = account(cast.studio)
    charge(row)
    update = Billing.objects.update_or_create

    def meanwhile(**given):
        make_invoice(account=row, day=DAY)
        return update(**given)

    monkeypatch.setattr(Billing.objects, "update_or_create", meanwhile)
    set_billing(studio=cast.studio, due_days=30)
    found = Billing.objects.get()
    assert (found.last_number, found.due_days) == (1, 30)


def test_an_invoice_that_fails_takes_no_number(cast, monkeypatch):
    row = account(cast.studio)
    charge(row)
    with monkeypatch.context() as broken:
        broken.setattr("studio.tuition.invoicing.draw", lambda paper: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            make_invoice(account=row, day=DAY)
    assert make_invoice(account=row, day=DAY).number == 1


def test_an_invoice_stays_as_it_was_made(cast):
    row = account(cast.studio, name="Lindqvist")
    charge(row)
    made = make_invoice(account=row, day=DAY)
    before = bytes(made.pdf)
    row.name = "Somebody else"
    row.save()
    charge(row)
    kept = Invoice.objects.get(pk=made.pk)
    assert bytes(kept.pdf) == before
    assert from_data(kept.content).receiver == ["Lindqvist"]
    assert pages(draw(from_data(kept.content))) == pages(before)


def test_a_statement_runs_from_balance_to_balance(cast):
    norwegian(cast)
    row = account(cast.studio)
    charge(row, 10000, date(2020, 8, 1))
    charge(row, 20000, SEPTEMBER, student=cast.oda)
    payment(row, 25000, date(2020, 9, 15), reference="no. 77")
    charge(row, 99900, date(2020, 10, 1))
    [text] = pages(draw_statement(row, cast.studio, first=SEPTEMBER, last=date(2020, 9, 30)))
    for words in (
        "Statement of account",
        "Balance before 100,00",
        "1. sep. 2020 Book of studies, Oda Lindqvist 200,00 300,00",
        "15. sep. 2020 Payment, transfer, no. 77 250,00 50,00",
        "Balance on 30. sep. 2020 50,00 kr",
        "50,00 kr is to be paid.",
    ):
        assert words in text, words
    assert "999,00" not in text


def test_a_long_statement_repeats_its_head_and_keeps_its_total_with_a_row(cast):
    row = account(cast.studio)
    for number in range(70):
        charge(row, 100, SEPTEMBER, text=f"Charge number {number}")
    found = pages(draw_statement(row, cast.studio, first=SEPTEMBER, last=SEPTEMBER))
    assert len(found) > 1
    assert all("Charged Paid" in text for text in found)
    joined = "\n".join(found)
    assert all(f"Charge number {number} 1.00" in joined for number in range(70))
    assert "€70.00" in found[-1]
    assert "Charge number 69" in found[-1]


def test_words_that_are_too_wide_are_broken_and_lose_nothing(cast):
    row = account(cast.studio)
    charge(row, 100, SEPTEMBER, text="x" * 160)
    [text] = pages(draw_statement(row, cast.studio, first=SEPTEMBER, last=SEPTEMBER))
    assert text.count("x") >= 160
