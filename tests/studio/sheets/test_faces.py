"""A face for every character."""

import pytest
from django.conf import settings
from fontTools.ttLib import TTFont
from reportlab.pdfbase import pdfmetrics

from studio.sheets import faces


@pytest.mark.parametrize(
    ("text", "family"),
    [
        ("Ländler", "source-serif-4-latin-"),
        ("Łódź", "source-serif-4-latin-ext-"),
        ("Соната", "source-serif-4-cyrillic-"),
        ("Ελλάδα", "source-serif-4-greek-"),
        ("ờ", "source-serif-4-vietnamese-"),
        ("שיר", "noto-sans-hebrew-"),
        ("قمر", "noto-sans-arabic-"),
        ("रात", "noto-sans-devanagari-"),
        ("เพลง", "noto-sans-thai-"),
        ("ソナタ", "noto-sans-jp-"),
        ("소나타", "noto-sans-kr-"),
        ("奏鸣曲", "noto-sans-sc-"),
    ],
)
def test_each_script_has_its_face(text: str, family: str):
    assert faces.runs(text)[0].font.startswith(family)


def test_han_characters_follow_the_language_of_the_text():
    assert faces.runs("月の光")[0].font.startswith("noto-sans-jp")
    assert faces.runs("月光")[0].font.startswith("noto-sans-sc")


def test_styles_of_the_book_face_differ_and_others_fall_back():
    assert faces.runs("a", "bold")[0].font.endswith("600-normal")
    assert faces.runs("a", "italic")[0].font.endswith("400-italic")
    assert faces.runs("月", "italic")[0].font.endswith("400-normal")


def test_a_decomposed_letter_is_the_composed_one():
    assert faces.tidy("La\u0308ndler") == "Ländler"


def test_what_no_face_has_is_named():
    assert faces.missing(["Ländler 月", "eye 𓂀, eye 𓂀 and 🎹"]) == ("𓂀", "🎹")
    assert faces.runs("𓂀") == [faces.Run("𓂀", "")]


def test_the_index_says_what_the_files_say():
    """Checked against fontTools' own reading of a few files."""
    for family, part in (("source-serif-4", "greek"), ("noto-sans-jp", "119"), ("noto-sans-arabic", "arabic")):
        with TTFont(settings.FACES / family / "files" / f"{family}-{part}-400-normal.woff2") as font:
            codes = set(font.getBestCmap())
        indexed = {code for code, owners in faces.parts_by_character().items() if owners.get(family) == part}
        assert indexed <= codes
        assert len(indexed) > len(codes) / 2


def test_every_file_has_a_name_of_its_own():
    fonts = [faces.registered("source-serif-4", part, "regular") for part in ("latin", "latin-ext", "greek")]
    names = {bytes(pdfmetrics.getFont(font).face.name) for font in fonts}
    assert len(names) == 3


def test_the_files_are_there_whole_or_not_at_all(tmp_path, settings):
    settings.VAR = tmp_path
    assert faces.index()["families"]["noto-sans-thai"]
    left = [path.name for path in (tmp_path / "faces").iterdir()]
    assert left == ["index.json"]


def test_a_broken_index_is_made_anew(tmp_path, settings):
    settings.VAR = tmp_path
    (tmp_path / "faces").mkdir()
    (tmp_path / "faces" / "index.json").write_text('{"edition": "half')
    assert faces.index()["families"]


def test_without_the_packages_it_says_what_to_do(tmp_path, settings):
    settings.FACES = tmp_path
    with pytest.raises(faces.FaceNotInstalled, match="install the packages"):
        faces.registered("source-serif-4", "never there", "bold")
