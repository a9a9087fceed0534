"""A handout's content made ready for a page: its pictures are the project's own and may stand in it as they are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import segno
from django.utils.safestring import SafeString, mark_safe

from lessons.handouts.content import Content, Work
from studio.sheets.paper import layout_for

SIZE = re.compile(r' (?:width|height)="[^"]*"')


@dataclass(frozen=True)
class ShownWork:
    work: Work
    systems: Sequence[SafeString]
    charts: Sequence[SafeString]


@dataclass(frozen=True)
class Sheet:
    content: Content
    works: Sequence[ShownWork]
    code: SafeString


def on_screen(content: Content) -> Sheet:
    column = layout_for(content.paper, content.large_print).width
    return Sheet(content, [shown(work, column) for work in content.works], code_of(content.url))


def shown(work: Work, column: float) -> ShownWork:
    growth = work.growth(column)
    return ShownWork(
        work,
        [sized(music.svg, music.width * growth, music.height * growth) for music in work.music],
        [sized(rhythm.chart, rhythm.width, rhythm.height) for rhythm in work.rhythms],
    )


def sized(svg: str, width: float, height: float) -> SafeString:
    """The drawing in the size that it has on paper."""
    head, mark, rest = svg.partition(">")
    head = SIZE.sub("", head)
    return mark_safe(f'{head} width="{width:.1f}pt" height="{height:.1f}pt"{mark}{rest}' if mark else svg)


def code_of(url: str) -> SafeString:
    """The QR code of an address as SVG, without styles or a size of its own."""
    if not url:
        return mark_safe("")
    code = segno.make(url, error="m", micro=False)
    return mark_safe(code.svg_inline(scale=3, border=4, omitsize=False, svgclass="code", lineclass=None, title=url))
