"""Reports on terms: written, given, taken back; and the sheet, read back from its PDF."""

from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pdfplumber
import pypdf
import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from lessons import reporting
from lessons.models import TermReport
from lessons.report_sheet import draw_report, paragraphs
from studio.models import Paper, Term
from tests import make
from tests.people import Cast

FIRST, LAST = date(2020, 9, 1), date(2020, 12, 18)
FIELDS = {"name": "Autumn 2020", "first_day": FIRST, "last_day": LAST, "paper": "A4"}
WORDS = "You listen to the bass now.\n\nNext term: play for others."
AT = datetime(2020, 12, 18, 12, tzinfo=UTC)


@pytest.fixture
def report(cast: Cast) -> TermReport:
    """With a passage that was practised."""
    row = make.assigned(lesson=cast.lesson, passage=cast.passage)
    for days in range(6):
        fields = {"minutes": 10 + days, "tempo": 60 + days, "clean_runs": 2, "tries": 4}
        make.entry(student=cast.oda, assigned=row, day=date(2020, 11, 24 + days), **fields)
    return reporting.write_report(student=cast.oda, fields={**FIELDS, "words": WORDS})


def sent(**given) -> dict[str, object]:
    return {**FIELDS, "first_day": "2020-09-01", "last_day": "2020-12-18", "words": WORDS, **given}


def sheet_of(report: TermReport, cast: Cast) -> bytes:
    return draw_report(reporting.content_of(report, cast.teacher, AT))


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages).split())


# The sheet


def test_the_sheet_has_the_words_first_and_then_pictures_with_their_sentences(cast: Cast, report: TermReport):
    words = words_of(sheet_of(report, cast))
    parts = [
        "Oda Lindqvist", "Autumn 2020, 1 September 2020 to 18 December 2020", "You listen to the bass now.",
        "Next term: play for others.", "Passages and weeks", "Minutes by day", "6 days, 75 minutes in all",
        "12 of 24 tries were clean, which is 50 %.", "To reach: 88 quarters a minute.", "promises nothing",
        "pain that lasts belongs to a clinician",
    ]  # fmt: skip
    places = [words.find(part) for part in parts]
    assert -1 not in places, parts[places.index(-1)]
    assert places == sorted(places)


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_both_papers_have_their_size_and_nothing_leaves_them(cast: Cast, report: TermReport, paper: str, size):
    """A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in; 72 points are an inch."""
    report.paper = paper
    with pdfplumber.open(BytesIO(sheet_of(report, cast))) as pdf:
        for page in pdf.pages:
            assert (round(page.width), round(page.height)) == size
            for thing in (*page.chars, *page.lines, *page.rects, *page.curves):
                assert 0 <= thing["x0"] <= thing["x1"] <= page.width
                assert 0 <= thing["top"] <= thing["bottom"] <= page.height


def test_the_sheet_is_black_on_white_with_embedded_faces(cast: Cast, report: TermReport):
    pdf = sheet_of(report, cast)
    with pdfplumber.open(BytesIO(pdf)) as book:
        inks = {str(char["non_stroking_color"]) for page in book.pages for char in page.chars}
    assert len(inks) == 1
    for page in pypdf.PdfReader(BytesIO(pdf)).pages:
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object().get("/DescendantFonts", [font])[0].get_object()["/FontDescriptor"]
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(described.get_object())


def test_every_picture_is_tagged_with_words(cast: Cast, report: TermReport):
    reader = pypdf.PdfReader(BytesIO(sheet_of(report, cast)))
    found: list[str] = []

    def walk(element) -> None:
        element = element.get_object()
        if isinstance(element, pypdf.generic.ArrayObject):
            for kid in element:
                walk(kid)
        elif isinstance(element, pypdf.generic.DictionaryObject):
            if element.get("/S") == "/Figure":
                found.append(element["/Alt"])
            walk(element.get("/K", pypdf.generic.ArrayObject()))

    walk(reader.trailer["/Root"]["/StructTreeRoot"])
    assert len(found) == 5
    assert all(found)


def test_a_term_without_practice_has_a_sheet_of_words(cast: Cast):
    report = reporting.write_report(student=cast.oda, fields={**FIELDS, "words": "Welcome."})
    pdf = sheet_of(report, cast)
    assert "Welcome." in words_of(pdf)
    assert len(pypdf.PdfReader(BytesIO(pdf)).pages) == 1


def test_very_long_words_go_on_over_pages(cast: Cast, report: TermReport):
    report.words = "\n".join(f"Sentence {number} of a long letter about music." for number in range(120))
    pdf = sheet_of(report, cast)
    assert "Sentence 119" in words_of(pdf)
    assert len(pypdf.PdfReader(BytesIO(pdf)).pages) > 3


def test_days_to_come_are_not_drawn(cast: Cast, report: TermReport):
    row = cast.oda.practice.first().assigned
    make.entry(student=cast.oda, assigned=row, day=date(2020, 12, 10), minutes=500)
    content = reporting.content_of(report, cast.teacher, datetime(2020, 12, 1, tzinfo=UTC))
    sentences = " ".join(shown.sentence for _, shown in content.pictures)
    assert "75 minutes in all" in sentences


# Giving


def test_a_given_sheet_stays_as_it_was_when_the_log_changes(cast: Cast, report: TermReport, logged_in):
    reporting.give_report(report=report, by=cast.teacher, at=AT)
    address = reverse("report-pdf", args=[report.pk])
    before = logged_in(cast.birger.user).get(address).content
    cast.oda.practice.all().delete()
    reporting.give_report(report=TermReport.objects.get(pk=report.pk), by=cast.teacher, at=AT + timedelta(days=1))
    assert logged_in(cast.birger.user).get(address).content == before
    assert TermReport.objects.get(pk=report.pk).given_at == AT


def test_the_family_sees_a_report_when_it_is_given_and_not_after_it_is_taken_back(
    cast: Cast, report: TermReport, logged_in
):
    teacher, addresses = logged_in(cast.teacher), (reverse("students-reports", args=[cast.oda.pk]),)
    sheet = reverse("report-pdf", args=[report.pk])

    def seen() -> list[tuple[bool, int]]:
        clients = [logged_in(user) for user in (cast.oda.user, cast.birger.user)]
        return [(b"Autumn 2020" in one.get(addresses[0]).content, one.get(sheet).status_code) for one in clients]

    assert seen() == [(False, 404)] * 2
    teacher.post(reverse("give-report", args=[report.pk]))
    assert seen() == [(True, 200)] * 2
    teacher.post(reverse("take-report-back", args=[report.pk]))
    assert seen() == [(False, 404)] * 2
    teacher.post(reverse("give-report", args=[report.pk]))
    teacher.post(reverse("remove-report", args=[report.pk]))
    assert seen() == [(False, 404)] * 2
    teacher.post(reverse("restore-report", args=[report.pk]))
    assert seen() == [(True, 200)] * 2


def test_a_given_report_is_not_changed(cast: Cast, report: TermReport, logged_in):
    reporting.give_report(report=report, by=cast.teacher, at=AT)
    with pytest.raises(ValueError, match="does not change"):
        reporting.write_report(student=cast.oda, fields={"words": "Other."}, report=report)
    answer = logged_in(cast.teacher).post(reverse("change-report", args=[report.pk]), sent(words="Other."))
    assert answer.status_code == 302
    assert TermReport.objects.get(pk=report.pk).words == WORDS


def test_the_database_keeps_sheet_and_day_together(cast: Cast, report: TermReport):
    for change in ({"given_at": AT}, {"pdf": b"x"}, {"last_day": FIRST - timedelta(days=1)}):
        with pytest.raises(IntegrityError), transaction.atomic():
            TermReport.objects.filter(pk=report.pk).update(**change)


# Writing


def test_a_new_report_begins_with_the_term_that_is_on(cast: Cast, logged_in):
    today = timezone.localdate()
    for name, days in (("old", 200), ("on", 20), ("coming", -20)):
        first = today - timedelta(days=days)
        Term.objects.create(studio=cast.studio, name=name, first_day=first, last_day=first + timedelta(days=90))
    form = logged_in(cast.teacher).get(reverse("new-report", args=[cast.oda.pk])).context["form"]
    assert (form["name"].value(), form["first_day"].value()) == ("on", today - timedelta(days=20))


def test_without_terms_it_begins_with_twelve_weeks(cast: Cast):
    days = reporting.usual_days(cast.oda, date(2020, 11, 25))
    assert days == {"first_day": date(2020, 9, 7), "last_day": date(2020, 11, 25)}


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"first_day": "2999-01-01", "last_day": "2999-02-01"}, "first_day"),
        ({"last_day": "2020-08-31"}, "last_day"),
        ({"first_day": "2010-01-01"}, "last_day"),
        ({"first_day": "yesterday"}, "first_day"),
        ({"words": "x" * 6001}, "words"),
        ({"name": ""}, "name"),
        ({"paper": "A9"}, "paper"),
    ],
)
def test_what_does_not_hold_is_said_beside_its_field_and_nothing_is_lost(cast: Cast, logged_in, given, field: str):
    answer = logged_in(cast.teacher).post(reverse("new-report", args=[cast.oda.pk]), sent(**given))
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert answer.context["form"]["words"].value() == given.get("words", WORDS)
    assert not TermReport.objects.exists()


def test_papers_are_those_of_the_studio():
    with pytest.raises(ValidationError):
        TermReport(name="x", first_day=FIRST, last_day=LAST, paper="A9").clean_fields(exclude=["student", "studio"])
    assert {choice for choice, _ in TermReport._meta.get_field("paper").choices} == set(Paper.values)


def test_ten_more_reports_and_entries_add_no_query(cast: Cast, report: TermReport, logged_in, count_queries):
    client = logged_in(cast.teacher)
    addresses = [reverse("students-reports", args=[cast.oda.pk]), reverse("report", args=[report.pk])]
    before = [count_queries(client, address) for address in addresses]
    row = cast.oda.practice.first().assigned
    for number in range(10):
        reporting.write_report(student=cast.oda, fields=FIELDS)
        make.entry(student=cast.oda, assigned=row, day=date(2020, 10, 1 + number))
    assert [count_queries(client, address) for address in addresses] == before
    assert max(before) <= 12


def test_an_empty_line_begins_a_new_paragraph_and_a_line_end_stays():
    assert paragraphs("Dear all,\r\nas promised:\r\n\r\n  \r\nPlay.\n") == ["Dear all,\nas promised:", "Play."]
