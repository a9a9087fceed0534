"""The accountant's files, read back with the csv module."""

import csv
from datetime import date
from decimal import Decimal
from io import StringIO

import pytest

from studio.tuition import entries
from studio.tuition.books import entries_csv, harmless, year_csv, year_summary, years
from studio.tuition.invoicing import make_invoice
from tests.studio.tuition.make_tuition import SEPTEMBER, account, charge, payment


def read(text: str) -> list[dict[str, str]]:
    assert text.startswith("\ufeff")
    return list(csv.DictReader(StringIO(text.removeprefix("\ufeff"), newline="")))


def test_every_entry_of_the_year_is_a_row_and_the_rows_sum_to_the_balance(cast):
    row = account(cast.studio)
    charge(row, 5000, SEPTEMBER, student=cast.oda)
    payment(row, 3050, date(2020, 9, 2), reference="no. 7")
    entries.refund(account=row, minor=50, method="cash", day=date(2020, 9, 3), once="back")
    charge(row, 100, date(2021, 1, 1))
    make_invoice(account=row, day=date(2020, 12, 31))
    rows = read(entries_csv(cast.studio, 2020))
    assert [one["amount"] for one in rows] == ["50.00", "-30.50", "0.50"]
    assert sum(Decimal(one["amount"]) for one in rows) == Decimal("20.00")
    assert [one["entry"] for one in rows] == ["charge", "payment", "refund"]
    assert (rows[0]["student"], rows[0]["invoice"], rows[1]["reference"]) == ("Oda Lindqvist", "1", "no. 7")


def test_a_correction_names_what_it_takes_back(cast):
    row = account(cast.studio)
    wrong = charge(row, 5000)
    entries.take_back_charge(charge=wrong, day=SEPTEMBER)
    first, second = read(entries_csv(cast.studio, 2020))
    assert second["takes back"] == first["number"]
    assert (second["amount"], second["kind"]) == ("-50.00", "adjustment")


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_cell_of_words_begins_like_a_formula(cast, text: str):
    """What spreadsheets take for a formula: common practice."""
    assert harmless(text) == f"'{text}"
    row = account(cast.studio, name=text)
    charge(row, 5000, text=text, student=None)
    payment(row, 1, reference=text)
    for one in read(entries_csv(cast.studio, 2020)):
        for name in ("account", "for", "reference"):
            assert not one[name].startswith(tuple("=+-@\t\r"))


def test_commas_quotes_and_line_feeds_come_back_as_they_were(cast):
    row = account(cast.studio, name='Lindqvist, "Oda"')
    charge(row, 5000, text="a\nb; c")
    [one] = read(entries_csv(cast.studio, 2020))
    assert (one["account"], one["for"]) == ('Lindqvist, "Oda"', "a\nb; c")


def test_the_year_is_summed_by_month_kind_and_method(cast):
    row = account(cast.studio)
    charge(row, 5000, date(2020, 1, 31))
    charge(row, 2000, date(2020, 1, 1), kind="recital")
    charge(row, -500, date(2020, 2, 1), kind="adjustment")
    payment(row, 3000, date(2020, 2, 29), method="cash")
    entries.refund(account=row, minor=1000, method="cash", day=date(2020, 2, 29), once="back")
    found = year_summary(cast.studio, 2020)
    assert found.months[0].charged == [0, 5000, 2000, 0]
    assert found.months[1].charged == [0, 0, 0, -500]
    assert found.months[1].received == [0, 2000, 0, 0]
    assert (found.total.charged_in_all, found.total.received_in_all) == (6500, 2000)


def test_the_years_file_says_the_same_as_the_page(cast):
    row = account(cast.studio)
    charge(row, 5000, date(2020, 1, 31))
    payment(row, 3000, date(2020, 2, 29))
    rows = read(year_csv(cast.studio, 2020))
    assert [one["month"] for one in rows] == [*(f"2020-{month:02}" for month in range(1, 13)), "2020"]
    assert (rows[0]["materials"], rows[0]["charged in all"], rows[1]["received in all"]) == ("50.00", "50.00", "30.00")
    assert (rows[-1]["charged in all"], rows[-1]["received in all"], rows[-1]["currency"]) == ("50.00", "30.00", "EUR")


def test_next_doors_entries_are_not_in_the_books(cast):
    charge(account(cast.next_door))
    assert read(entries_csv(cast.studio, 2020)) == []


def test_the_years_reach_back_to_the_first_entry(cast):
    assert years(cast.studio, date(2026, 1, 1)) == [2026]
    payment(account(cast.studio), day=date(2024, 5, 1))
    assert years(cast.studio, date(2026, 1, 1)) == [2026, 2025, 2024]
