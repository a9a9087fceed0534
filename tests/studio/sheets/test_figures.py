from io import BytesIO

import pdfplumber
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate
from reportlab.platypus.flowables import Flowable

from studio.sheets.faces import book_font
from studio.sheets.figures import Column, Figures
from studio.sheets.tagging import TaggedCanvas

COLUMNS = [Column("Day", 0.3), Column("For", 1), Column("EUR")]


def drawn(stones: list[Flowable], height: float = 400) -> pdfplumber.PDF:
    file = BytesIO()
    document = BaseDocTemplate(file, pagesize=(400, height), initialFontName=book_font())
    document.addPageTemplates(PageTemplate("page", [Frame(20, 20, 360, height - 40, 0, 0, 0, 0)]))
    document.build(stones, canvasmaker=TaggedCanvas)
    return pdfplumber.open(BytesIO(file.getvalue()))


def test_figures_end_on_one_line_and_words_begin_on_one():
    rows = [["1 May", "Short", "5.00"], ["22 May", "Something longer", "12 345.00"]]
    words = drawn([Figures(COLUMNS, rows, size=11)]).pages[0].extract_words()
    ends = {round(word["x1"], 1) for word in words if word["text"] in ("5.00", "345.00", "EUR")}
    assert max(ends) - min(ends) < 1
    assert len({round(word["x0"]) for word in words if word["text"] in ("Short", "Something", "For")}) == 1


def test_a_table_that_is_too_long_goes_on_under_its_head():
    rows = [[str(number), f"row {number}", "1.00"] for number in range(60)] + [["", "Total", "60.00"]]
    pages = drawn([Figures(COLUMNS, rows, size=11, strong=frozenset([60]))]).pages
    texts = [page.extract_text() for page in pages]
    assert len(texts) > 1
    assert all(text.startswith("Day For EUR") for text in texts)
    assert [f"row {number} " in "\n".join(texts) for number in range(60)] == [True] * 60
    assert "row 59" in texts[-1]
    assert "Total 60.00" in texts[-1]


def test_a_cell_that_is_too_wide_takes_more_lines_and_the_figure_stands_by_the_first():
    text = "words " * 40
    page = drawn([Figures(COLUMNS, [["1 May", text, "5.00"]], size=11)]).pages[0]
    found = page.extract_words()
    assert sum(word["text"] == "words" for word in found) == 40
    figure = next(word for word in found if word["text"] == "5.00")
    assert abs(figure["top"] - min(word["top"] for word in found if word["text"] == "words")) < 1
