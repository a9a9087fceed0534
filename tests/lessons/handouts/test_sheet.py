"""The printed sheet, read back by other programs: pdfplumber, pypdf and poppler's pdftotext."""

import subprocess
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from io import BytesIO

import pdfplumber
import pytest
from pypdf import PdfReader

from lessons.handouts.content import Content, Option
from lessons.handouts.sheet import draw_sheet
from tests.lessons.handouts.sheets import content, read, rhythm, system, with_title, work

TITLES = {
    "Latin": "Ländler à l'ancienne, Łódź",
    "Greek": "Σονάτα του φεγγαριού",
    "Cyrillic": "Вечерние колокола",
    "Vietnamese": "Điệu valse mùa thu",
    "Thai": "เพลงกล่อมเด็ก",
    "Devanagari": "चाँदनी रात की धुन",
    "Japanese": "月の光のソナタ",
    "Chinese": "月光奏鸣曲",
    "Korean": "월광 소나타",
    "Hebrew": "שיר ערש",
    "Arabic": "سوناتا",
}
AS_WRITTEN = ("Latin", "Greek", "Cyrillic", "Vietnamese", "Thai", "Japanese", "Chinese", "Korean")


def reader(one: Content) -> PdfReader:
    return PdfReader(BytesIO(draw_sheet(one)))


def poppler_text(one: Content) -> str:
    found = subprocess.run(["pdftotext", "-", "-"], input=draw_sheet(one), capture_output=True, check=True)
    return found.stdout.decode()


def squeezed(text: str) -> str:
    return "".join(text.split())


def fonts_of(document: PdfReader) -> dict[str, dict]:
    return {
        font["/BaseFont"]: font.get("/FontDescriptor", {})
        for page in document.pages
        for font in (reference.get_object() for reference in page["/Resources"]["/Font"].values())
    }


@pytest.mark.parametrize("script", AS_WRITTEN)
def test_names_and_titles_are_text_in_their_script(script: str):
    assert squeezed(TITLES[script]) in squeezed(read(with_title(TITLES[script]))[0])


@pytest.mark.parametrize("script", sorted(TITLES))
def test_poppler_reads_every_script_in_the_order_of_writing(script: str):
    # Joined letters carry the characters they stand for, and a reader turns what runs from right to left itself.
    marks = dict.fromkeys(map(ord, "\u202a\u202b\u202c\u200e\u200f"))
    assert squeezed(TITLES[script]) in squeezed(poppler_text(with_title(TITLES[script])).translate(marks))


def test_every_font_is_embedded():
    fonts = fonts_of(reader(content(*(work(number, title=title) for number, title in enumerate(TITLES.values(), 1)))))
    assert len(fonts) > 10
    assert [name for name, descriptor in fonts.items() if "/FontFile2" not in descriptor.get_object()] == []


def test_the_fingers_are_text():
    page = read(content(work(music=(system(digits="12312345"),))))[0]
    assert "12312345" in squeezed(page)


def test_the_music_is_lines_and_outlines_without_any_picture():
    document = reader(content(work(rhythms=(rhythm(),))))
    assert [image.name for page in document.pages for image in page.images] == []
    with pdfplumber.open(BytesIO(draw_sheet(content()))) as plumbed:
        page = plumbed.pages[0]
        long_lines = [line for line in page.lines if line["width"] > 400]
        assert len(long_lines) >= 5, "the lines of the staff"
        assert page.curves, "a note head"


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("Letter", (215.9, 279.4))])
def test_the_paper_has_its_size_in_millimetres(paper: str, size: tuple[float, float]):
    # ISO 216 and ANSI/ASME Y14.1.
    box = reader(content(paper=paper)).pages[0].mediabox
    assert (float(box.width) * 25.4 / 72, float(box.height) * 25.4 / 72) == pytest.approx(size, abs=0.2)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("large_print", [False, True])
def test_nothing_stands_outside_the_margins(paper: str, large_print: bool):
    works = [work(number, rhythms=(rhythm(),)) for number in range(1, 4)]
    one = content(*works, paper=paper, large_print=large_print)
    with pdfplumber.open(BytesIO(draw_sheet(one))) as document:
        for page in document.pages:
            for mark in (*page.chars, *page.lines, *page.curves, *page.rects):
                assert mark["x0"] >= 36
                assert mark["x1"] <= page.width - 36
                assert mark["top"] >= 30
                assert mark["bottom"] <= page.height - 18


def test_large_print_is_larger():
    def size_of(one: Content) -> float:
        with pdfplumber.open(BytesIO(draw_sheet(one))) as document:
            return next(char["size"] for char in document.pages[0].chars if char["text"] == "S")

    assert size_of(content(large_print=True)) >= 16 > size_of(content()) >= 11


def test_ten_passages_stay_whole_and_numbered():
    works = [work(number, title=f"Piece number {number}", music=(system(), system())) for number in range(1, 11)]
    pages = read(content(*works))
    assert len(pages) > 3
    for number in range(1, 11):
        title = f"{number} Piece number {number}\n"
        assert [title in page.partition("Practice\n")[0] for page in pages].count(True) == 1
    assert not any("continued" in page for page in pages)
    for place, page in enumerate(pages, 1):
        assert f"{place} of {len(pages)}" in page
        assert "Oda Lindqvist" in page


def test_a_passage_is_on_the_page_of_its_title():
    """The digits of each passage name it, so a torn one would show."""
    works = [
        work(number, title=f"Piece {number}", music=tuple(system(digits=f"{number}999") for _ in range(3)))
        for number in range(1, 7)
    ]
    for page in (whole.partition("Practice\n")[0] for whole in read(content(*works))):
        lines = [line for line in page.splitlines() if "999" in squeezed(line)]
        for number in range(1, 7):
            mine = [line for line in lines if squeezed(line).startswith(f"{number}999")]
            assert len(mine) in (0, 3)
            assert bool(mine) == (f"\n{number} Piece {number}\n" in f"\n{page}")


def test_a_passage_longer_than_a_page_breaks_between_systems_and_says_so():
    music = tuple(system(digits="12345") for _ in range(15))
    pages = read(content(work(title="Endless study", music=music)))
    counts = [sum(squeezed(line) == "12345" for line in page.splitlines()) for page in pages]
    assert sum(counts) == 15
    assert sum(count > 0 for count in counts) > 1
    continued = [page for page in pages if "Endless study (continued)" in page]
    assert len(continued) == sum(count > 0 for count in counts) - 1


def test_a_system_taller_than_a_page_is_made_smaller():
    pages = read(content(work(music=(system(height=1200),))))
    assert sum("12345" in squeezed(page) for page in pages) == 1


def test_a_long_title_is_set_in_several_lines():
    title = "Variations on a theme that the composer heard from a window in the harbour street one evening, " * 2
    page = read(content(work(title=title), student=title))[0]
    assert squeezed(page).count(squeezed(title)) >= 2


def test_a_word_wider_than_the_column_is_parted():
    title = "Donaudampfschifffahrtsgesellschaftskapitänsmützenabzeichen" * 3
    assert squeezed(title) in squeezed(read(content(work(title=title)))[0])


def test_long_notes_run_over_pages():
    notes = "\n\n".join(f"Paragraph {number}: " + "sing the melody before you play it. " * 12 for number in range(30))
    pages = read(content(notes=notes))
    assert len(pages) > 2
    text = "\n".join(pages)
    assert all(f"Paragraph {number}:" in text for number in range(30))


def test_an_empty_handout_still_is_one():
    pages = read(content(works=(), notes=""))
    assert len(pages) == 1
    assert "Oda Lindqvist" in pages[0]
    assert "Minutes" in pages[0]


def test_a_character_that_no_face_has_is_a_box_and_no_crash():
    page = read(with_title("Eye 𓂀 of the storm"))[0]
    assert "of the storm" in page


def test_control_characters_and_broken_pairs_do_no_harm():
    assert "Night song" in read(with_title("Night\x00 song\ud800\u202e"))[0]


def test_the_days_lead_to_the_one_before_the_next_lesson():
    page = "\n".join(read(content()))
    assert "Mon 23" in page
    assert "Sun 29" in page
    assert "Mon 30" not in page


def test_more_days_than_a_week_have_more_rows():
    page = "\n".join(read(content(until=date(2020, 12, 7))))
    assert "Mon 23" in page
    assert "Sun 6" in page


def test_the_sheet_says_what_it_is():
    document = reader(content())
    assert document.metadata.title == "Oda Lindqvist, lesson of 23 November 2020"
    assert document.metadata.author == "Studio Harbour Street"
    catalogue = document.trailer["/Root"]
    assert catalogue["/Lang"] == "en"
    assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"]


def test_the_sheet_is_tagged_for_reading_aloud():
    catalogue = reader(content(work(rhythms=(rhythm(),)))).trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    roles, words = [], []

    def walk(element) -> None:
        roles.append(element["/S"])
        words.append(element.get("/Alt", ""))
        for kid in element["/K"]:
            if not isinstance(kid, int):
                walk(kid.get_object())

    walk(catalogue["/StructTreeRoot"]["/K"][0].get_object())
    assert {"/Document", "/H1", "/H2", "/P", "/Figure", "/Table", "/TH"} <= set(roles)
    assert "Measures 1 to 4." in words


def test_every_mark_leads_back_to_its_tag():
    document = reader(content(*(work(number) for number in range(1, 6))))
    numbers = document.trailer["/Root"]["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    for page, parents in zip(document.pages, numbers[1::2], strict=True):
        marks = page.get_contents().get_data().count(b"/MCID ")
        assert marks == len(parents.get_object())
        assert marks > 0


def test_nothing_depends_on_colour():
    document = reader(content(work(rhythms=(rhythm(),))))
    for page in document.pages:
        words = page.get_contents().get_data().split()
        for place, word in enumerate(words):
            if word in (b"rg", b"RG"):
                assert len(set(words[place - 3 : place])) == 1, "a grey"
            assert word not in (b"k", b"K")


def test_the_qr_code_leads_to_the_students_page():
    document = reader(content())
    links = [
        note.get_object()["/A"]["/URI"]
        for page in document.pages
        for note in page.get("/Annots", [])
        if "/A" in note.get_object()
    ]
    assert "https://studio.example.org/this-week/" in links


def test_every_passage_stands_in_the_outline():
    outline = reader(content(work(1, title="First"), work(2, title="Second"))).outline
    assert [entry.title for entry in outline] == ["1 First, measures 1–4", "2 Second, measures 1–4"]


def test_sheets_drawn_at_the_same_time_do_not_mix():
    """As in a web process with threads: the faces are shared between them."""
    titles = list(TITLES.values()) * 2
    with ThreadPoolExecutor(4) as pool:
        texts = list(pool.map(lambda title: poppler_text(with_title(title)), titles))
    assert texts == [poppler_text(with_title(title)) for title in titles]


def test_options_of_both_hands_say_which_hand_they_are_for():
    right = Option("I", "right hand", "", "1 2 3", False, "Closer to the keys.")
    left = Option("I", "left hand", "", "5 4 3", False, "For the leap.")
    both, one = work(options=(right, left)), work(options=(right,))
    assert [place for _, place in both.open_options] == ["right hand", "left hand"]
    assert [place for _, place in one.open_options] == [""]
    text = "".join(read(content(both)))
    assert "right hand · Closer to the keys." in text
    assert "left hand · For the leap." in text
