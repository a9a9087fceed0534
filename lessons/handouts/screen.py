"""A handout's content made ready for a page: its pictures are the project's own and may stand in it as they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import segno
from django.utils.safestring import SafeString, mark_safe

from lessons.handouts.content import Content, Work


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
    return Sheet(content, [shown(work) for work in content.works], code_of(content.url))


def shown(work: Work) -> ShownWork:
    return ShownWork(
        work,
        [mark_safe(music.svg) for music in work.music],
        [mark_safe(rhythm.chart) for rhythm in work.rhythms],
    )


def code_of(url: str) -> SafeString:
    """The QR code of an address as SVG, without styles or a size of its own."""
    if not url:
        return mark_safe("")
    code = segno.make(url, error="m", micro=False)
    return mark_safe(code.svg_inline(scale=3, border=4, omitsize=False, svgclass="code", lineclass=None, title=url))
