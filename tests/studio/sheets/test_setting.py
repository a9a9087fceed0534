"""Words set in lines."""

from hypothesis import given, settings
from hypothesis import strategies as st

from studio.sheets.faces import tidy
from studio.sheets.setting import Span, set_words

WIDTH = 200.0


def text_of(setting) -> list[str]:
    return [
        "".join((" " if word.blank else "") + "".join(glyph.text for glyph in word.glyphs) for word in line.words)
        for line in setting.lines
    ]


def test_lines_end_between_words():
    setting = set_words([Span("Let the grace note fall on the way down; the hand opens after it.", 11)], WIDTH)
    assert len(setting.lines) > 1
    assert " ".join(text_of(setting)) == "Let the grace note fall on the way down; the hand opens after it."


def test_a_line_feed_ends_a_line():
    assert text_of(set_words([Span("one\n\ntwo", 11)], WIDTH)) == ["one", "", "two"]


def test_spans_that_touch_are_not_parted():
    narrow = set_words([Span("measure 17", 11, "bold"), Span(".", 11)], 60)
    assert all(not line.startswith(".") for line in text_of(narrow))


def test_japanese_parts_anywhere_but_before_a_closing_sign():
    lines = text_of(set_words([Span("「月の光」のソナタ、変ロ長調。" * 3, 11)], 90))
    assert len(lines) > 2
    assert all(line[0] not in "、。」" for line in lines)


def test_a_title_in_hebrew_hangs_on_the_right():
    assert set_words([Span("שיר ערש op. 12", 11)], WIDTH).leftward
    assert not set_words([Span("op. 12 שיר ערש", 11)], WIDTH).leftward


@settings(max_examples=60, deadline=None)
@given(st.text(min_size=0, max_size=120))
def test_no_text_breaks_out_of_its_column_or_is_lost(text: str):
    setting = set_words([Span(text, 11)], WIDTH)
    assert all(line.width <= WIDTH + 0.1 for line in setting.lines)
    assert "".join("".join(text_of(setting)).split()) == "".join(tidy(text).split())
