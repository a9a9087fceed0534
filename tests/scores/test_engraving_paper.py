"""Systems on paper: vector music, digits as text, and an SVG that a general reader takes too."""

import io
from pathlib import Path

import pdfplumber
import pypdf
import pytest
import reportlab
from reportlab.graphics import renderPDF
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from svglib.svglib import svg2rlg

from scores.engraving.paper import Faces, drawing
from scores.engraving.plan import Engraving, FingerLine
from scores.engraving.plates import engrave
from tests.scores.corpus_music import PIECES, corpus_music, laendler, pitched, some_fingers

PAGE = (595, 842)


@pytest.fixture(scope="session")
def faces() -> Faces:
    """Faces that reportlab carries."""
    home = Path(reportlab.__file__).parent / "fonts"
    for name in ("Vera", "VeraBd", "VeraIt"):
        pdfmetrics.registerFont(TTFont(name, home / f"{name}.ttf"))
    return Faces("Vera", "VeraBd", "VeraIt")


def pdf_of(engraving: Engraving, faces: Faces) -> bytes:
    sheet = io.BytesIO()
    canvas = Canvas(sheet, pagesize=PAGE)
    y = PAGE[1] - 40
    for system in engraving.systems:
        drawn = drawing(system.svg, faces)
        y -= drawn.height + 10
        renderPDF.draw(drawn, canvas, 40, y)
    canvas.save()
    return sheet.getvalue()


@pytest.mark.parametrize("name", PIECES[:4])
def test_the_digits_are_text_and_the_music_is_vector(name: str, faces: Faces):
    music = corpus_music(name)
    fingers = some_fingers(pitched(music, 4, 7))
    engraving = engrave(music, first=4, last=7, width=500, staff=22, on_notes=fingers)
    with pdfplumber.open(io.BytesIO(pdf_of(engraving, faces))) as pdf:
        page = pdf.pages[0]
        bold = [char["text"] for char in page.chars if char["fontname"].endswith("Bold")]
        assert sorted(bold) == sorted("".join(fingers.values()) + "".join(tempo_words(engraving)))
        assert not page.images
        heads = sum(len(system.notes) for system in engraving.systems)
        assert len(page.curves) > heads


def tempo_words(engraving: Engraving) -> list[str]:
    """Other words set bold."""
    return [
        text
        for system in engraving.systems
        for piece in system.svg.split("<text ")[1:]
        if 'font-weight="bold"' in piece.split(">")[0] and 'class="finger"' not in piece.split(">")[0]
        for text in [piece.split(">")[1].split("<")[0].replace(" ", "")]
    ]


def test_a_digit_is_on_paper_where_the_engraving_has_it(faces: Faces):
    music = laendler()
    note = pitched(music, 1, 1, "1")[0]
    engraving = engrave(
        music, width=500, staff=22, lines=[FingerLine("", {note: "4"}, chosen=True, key="1")], show_printed=False
    )
    (system,) = engraving.systems
    left, top = (float(number) for number in system.svg.split('viewBox="')[1].split()[:2])
    with pdfplumber.open(io.BytesIO(pdf_of(engraving, faces))) as pdf:
        (char,) = [char for char in pdf.pages[0].chars if char["fontname"].endswith("Bold")]
    x, y = system.notes[note]
    assert (char["x0"] + char["x1"]) / 2 == pytest.approx(40 + (x - left) * system.scale, abs=0.5)
    assert char["bottom"] < 50 + (y - top) * system.scale


def test_the_faces_are_embedded(faces: Faces):
    music = laendler()
    fingers = some_fingers(pitched(music, 1, 2, "1"))
    sheet = pdf_of(
        engrave(music, width=500, lines=[FingerLine("I", fingers), FingerLine("II", fingers, chosen=True)]), faces
    )
    fonts = pypdf.PdfReader(io.BytesIO(sheet)).pages[0]["/Resources"]["/Font"].values()
    names = {font.get_object()["/BaseFont"]: font.get_object() for font in fonts}
    used = {name: font for name, font in names.items() if "Vera" in name}
    assert len(used) == 3
    assert all("/FontFile2" in font["/FontDescriptor"].get_object() for font in used.values())


def test_the_size_is_the_systems_own_or_as_wide_as_asked(faces: Faces):
    (system,) = engrave(laendler(), width=500, staff=20).systems
    own, wide = drawing(system.svg, faces), drawing(system.svg, faces, width=300)
    assert (own.width, own.height) == pytest.approx((system.width, system.height), abs=0.2)
    assert (wide.width, wide.height / wide.width) == pytest.approx((300, own.height / own.width))


@pytest.mark.parametrize("name", PIECES[:4])
def test_a_general_reader_of_svg_takes_every_system(name: str):
    music = corpus_music(name)
    fingers = some_fingers(pitched(music))
    for system in engrave(music, width=700, lines=[FingerLine("I", fingers)]).systems:
        drawn = svg2rlg(io.BytesIO(system.svg.encode()))
        # svglib counts a CSS pixel as three quarters of a point.
        assert (drawn.width, drawn.height) == pytest.approx((0.75 * system.width, 0.75 * system.height), rel=0.01)
