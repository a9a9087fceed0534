"""The printed sheet: content -> PDF. Vector music, embedded faces, black on white."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from io import BytesIO

import segno
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate
from reportlab.platypus.flowables import Flowable

from lessons.handouts.content import Content, Rhythm, Work
from lessons.handouts.tables import Ladder, PracticeTable
from studio.sheets.faces import Style, book_font, tidy
from studio.sheets.flowables import Block, Columns, Picture, Words
from studio.sheets.paper import Layout, layout_for
from studio.sheets.setting import Span, draw_line, set_words
from studio.sheets.tagging import TaggedCanvas

QR_MODULE = 1.55  # points; 25 to 33 modules make 14 to 18 mm, which a phone reads at arm's length
QUIET = 4  # modules of white around a QR code, as its standard asks


def draw_sheet(content: Content) -> bytes:
    """The PDF of a handout."""
    layout = layout_for(content.paper, content.large_print)
    file = BytesIO()
    title = _("%(student)s, lesson of %(day)s") % {"student": content.student, "day": long_day(content.day)}
    document = BaseDocTemplate(
        file,
        pagesize=layout.size,
        title=tidy(title),
        author=tidy(content.studio),
        subject=", ".join(dict.fromkeys(tidy(work.title) for work in content.works)),
        creator="Passagework",
        initialFontName=book_font(),
    )
    frame = Frame(layout.side, layout.foot, layout.width, layout.height, 0, 0, 0, 0, id="column")
    document.addPageTemplates(PageTemplate("sheet", [frame]))
    margin = partial(draw_margin, content=content, layout=layout)
    document.build(
        list(Composer(content, layout).stones()),
        canvasmaker=partial(TaggedCanvas, language=content.language, margin=margin),
    )
    return file.getvalue()


def long_day(day: object) -> str:
    return date_format(day, "j F Y")


def draw_margin(canvas: TaggedCanvas, page: int, pages: int, *, content: Content, layout: Layout) -> None:
    """The foot of every page: whose sheet it is, and which page of how many."""
    y = layout.foot - 26
    canvas.setLineWidth(0.4)
    canvas.line(layout.side, y + 12, layout.side + layout.width, y + 12)
    count = _("%(page)d of %(pages)d") % {"page": page, "pages": pages}
    last = set_words([Span(count, layout.small)], layout.width).lines[0]
    draw_line(canvas, last, layout.side + layout.width - last.width, y)
    words = f"{content.student} · {long_day(content.day)} · {content.studio}"
    lines = set_words([Span(words, layout.small)], layout.width - last.width - 20).lines
    if lines:
        draw_line(canvas, lines[0], layout.side, y)


class Header(Flowable):
    """The head of the first page: name and dates over a rule."""

    def __init__(self, name: Words, dates: Sequence[Span]) -> None:
        super().__init__()
        self.name, self.dates = name, dates

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width = width
        self.beside = set_words(self.dates, width).lines[0]
        name = set_words(self.name.spans, width)
        # A long name has its own lines, with the dates under it.
        self.room = width - self.beside.width - 20
        self.is_wide = len(name.lines) > 1 or name.lines[0].width > self.room
        self.name_height = self.name.wrap(width if self.is_wide else self.room, height)[1]
        self.height = self.name_height + (1.5 * self.dates[0].size if self.is_wide else 0) + 12
        return width, self.height

    def draw(self) -> None:
        self.name.drawOn(self.canv, 0, self.height - self.name_height)
        with self.canv.tagged("P"):
            x = 0 if self.is_wide else self.width - self.beside.width
            draw_line(self.canv, self.beside, x, 16.5 if not self.is_wide else 14)
        with self.canv.artifact():
            self.canv.setLineWidth(1.2)
            self.canv.line(0, 5, self.width, 5)


class Code(Flowable):
    """A QR code, as squares, with the words beside it."""

    def __init__(self, url: str, words: Words, *, above: float) -> None:
        super().__init__()
        self.rows = [list(row) for row in segno.make(url, error="m", micro=False).matrix]
        self.url, self.words, self.above = url, words, above
        self.side = (len(self.rows) + 2 * QUIET) * QR_MODULE

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.words_width = width - self.side - 8
        self.words_height = self.words.wrap(self.words_width, height)[1]
        return width, self.above + max(self.side, self.words_height)

    def draw(self) -> None:
        tall = max(self.side, self.words_height)
        with self.canv.tagged("Figure", _("QR code: %(url)s") % {"url": self.url}):
            for down, row in enumerate(self.rows):
                top = tall - (QUIET + down + 1) * QR_MODULE
                for left, width in runs_of(row):
                    self.canv.rect((QUIET + left) * QR_MODULE, top, width * QR_MODULE, QR_MODULE, stroke=0, fill=1)
        self.canv.linkURL(self.url, (0, tall - self.side, self.side, tall), relative=1)
        self.words.drawOn(self.canv, self.side + 8, tall / 2 - self.words_height / 2)


def runs_of(row: Sequence[int]) -> Iterator[tuple[int, int]]:
    """(start, length) of the dark stretches of a row."""
    start = None
    for place, dark in enumerate([*row, 0]):
        if dark and start is None:
            start = place
        elif not dark and start is not None:
            yield start, place - start
            start = None


class Composer:
    """Puts the stones of one sheet in order."""

    def __init__(self, content: Content, layout: Layout) -> None:
        self.content, self.layout = content, layout
        self.margin = layout.text * 3.4

    def span(self, text: str, style: Style = "regular", size: float | None = None) -> Span:
        return Span(text, size or self.layout.text, style)

    def words(self, text: str, style: Style = "regular", *, above: float = 0, size: float | None = None) -> Words:
        return Words([self.span(text, style, size)], above=above)

    def stones(self) -> Iterator[Flowable]:
        content, layout = self.content, self.layout
        yield self.header()
        if content.notes:
            yield self.words(content.notes, above=layout.text * 0.5)
        for task in content.tasks:
            yield from self.task(task.title, task.composer, task.remark)
        for work in content.works:
            yield Block(
                self.heading(work),
                list(self.stones_of(work)),
                page_height=layout.height,
                name=f"{work.number} {tidy(work.title)}, {tidy(work.where)}",
            )
            for rhythm in work.rhythms:
                yield Block(self.drill_heading(work, rhythm), list(self.drill(rhythm)), page_height=layout.height)
        yield self.practice()

    def header(self) -> Header:
        content, layout = self.content, self.layout
        name = Words([self.span(content.student, "bold", layout.title * 1.15)], role="H1")
        dates = _("Lesson of %(day)s · until %(until)s") % {
            "day": long_day(content.day),
            "until": date_format(content.until, "j F"),
        }
        return Header(name, [self.span(dates, size=layout.text * 1.1)])

    def task(self, title: str, composer: str, remark: str) -> Iterator[Flowable]:
        spans = [self.span(title, "bold")]
        if composer:
            spans.append(self.span(f"  {composer}", size=self.layout.small))
        yield Words(spans, above=self.layout.text, role="H2")
        if remark:
            yield self.words(remark)

    # One passage

    def heading(self, work: Work) -> Callable[[bool], Sequence[Flowable]]:
        def stones(continued: bool) -> Sequence[Flowable]:
            layout = self.layout
            number = self.span(str(work.number), "bold", layout.title)
            title = [self.span(work.title, "bold", layout.title)]
            if continued:
                title.append(self.span(f" ({_('continued')})", size=layout.text))
            indent = layout.title * 1.5
            words = Words(title, above=layout.text * 1.6, indent=indent, hanging=number, role="H2")
            if continued:
                return [words]
            parts = [work.where, work.hands, work.composer, work.edition]
            where = " · ".join(part for part in parts if part)
            return [words, Words([self.span(where, size=layout.small)], indent=indent)]

        return stones

    def stones_of(self, work: Work) -> Iterator[Flowable]:
        layout = self.layout
        if work.task:
            yield self.words(work.task, above=layout.text * 0.4)
        # A system has a page's height less the heading's.
        most = layout.height - layout.title * 6
        larger = work.growth(layout.width)
        for system in work.music:
            size = (system.width * larger, system.height * larger)
            yield Picture(system.svg, *size, system.words, above=layout.text * 0.7, most=most)
        if work.trouble:
            yield self.words(work.trouble, "italic", above=layout.text)
        yield from self.beside(work)
        yield from self.ladder(work)

    def beside(self, work: Work) -> Iterator[Flowable]:
        """The words that go with the music."""
        layout = self.layout
        above = layout.text * 0.5
        for remark in work.remarks:
            number = self.span(_("m. %(number)s") % {"number": remark.measure}, "bold", layout.small)
            yield Words([self.span(remark.text)], above=above, indent=self.margin, hanging=number)
        for ornament in work.ornaments:
            number = self.span(_("m. %(number)s") % {"number": ornament.measure}, "bold", layout.small)
            spans = [
                self.span(f"{capfirst(ornament.what)}: "),
                self.span(ornament.placement, "bold"),
                self.span(f". {ornament.remark}" if ornament.remark else "."),
            ]
            if work.trouble and ornament.written:  # Without the music, words have to do.
                spans.append(self.span(f" {'; '.join(ornament.written)}.", size=layout.small))
            yield Words(spans, above=above, indent=self.margin, hanging=number)
        if work.has_open_options:
            yield from self.options(work)

    def options(self, work: Work) -> Iterator[Flowable]:
        if work.nothing_is_chosen:
            words = _("Fingering: try each line, and mark the one that lies well.")
        else:
            words = _("Other fingerings stand small above the music.")
        yield self.words(words, above=self.layout.text * 0.5)
        for option, place in work.open_options:
            if option.remark or option.where:
                words = " · ".join(part for part in (place, option.remark) if part)
                number = self.span(option.numeral, "italic")
                yield Words([self.span(words)], indent=self.margin, hanging=number)

    # How two hands fit

    def drill_heading(self, work: Work, rhythm: Rhythm) -> Callable[[bool], Sequence[Flowable]]:
        def stones(continued: bool) -> Sequence[Flowable]:
            words = _("The hands together, %(where)s") % {"where": rhythm.where}
            spans = [self.span(f"{words} ({_('continued')})" if continued else words, "bold", self.layout.text * 1.1)]
            number = self.span(str(work.number), "bold", self.layout.text * 1.1)
            above = self.layout.text * 1.4
            return [Words(spans, above=above, indent=self.layout.title * 1.5, hanging=number, role="H3")]

        return stones

    def drill(self, rhythm: Rhythm) -> Iterator[Flowable]:
        """The chart with the order of strokes beside or under it, and the stages."""
        layout = self.layout
        words = [self.words(rhythm.remark, above=layout.text * 0.4)] if rhythm.remark else []
        order = _("Count the numbers aloud. Order: %(order)s.") % {"order": rhythm.order}
        words.append(self.words(order, above=layout.text * 0.4))
        if rhythm.chart:
            chart = Picture(
                rhythm.chart, rhythm.width, rhythm.height, rhythm.words, above=layout.text * 0.4, most=layout.height
            )
            room = layout.width - rhythm.width - 18
            if room > layout.width * 0.3:
                yield Columns([chart], words, gap=18, right_width=room)
            else:
                yield chart
                yield from words
        for number, stage in enumerate(rhythm.stages, start=1):
            spans = [
                self.span(f"{stage.title}. ", "bold", layout.small),
                self.span(stage.instruction, size=layout.small),
            ]
            hanging = self.span(f"{number}", size=layout.small)
            above = layout.text * (0.4 if number == 1 else 0.15)
            yield Words(spans, above=above, indent=layout.title * 1.5, hanging=hanging)

    def ladder(self, work: Work) -> Iterator[Flowable]:
        layout = self.layout
        above = layout.text * 0.8
        if len(work.ladder) > 1:
            marks = ", ".join(map(str, work.ladder))
            yield Ladder(work.ladder, size=layout.text, above=above, words=_("Tempos: %(marks)s") % {"marks": marks})
            words = _("Quarters a minute. Begin at %(now)s; after three clean runs in a row, one step on.")
            yield self.words(words % {"now": work.ladder[0]}, size=layout.small, above=layout.text * 0.25)
        elif work.tempo_goal or work.tempo_now:
            words = _("Tempo: %(tempo)s quarters a minute.") % {"tempo": work.tempo_goal or work.tempo_now}
            yield self.words(words, above=above)

    # The end

    def practice(self) -> Block:
        content, layout = self.content, self.layout
        rows = [(_("Minutes"), "")]
        rows += [(str(work.number), f"{work.title}\n{work.where}") for work in content.works]
        stones: list[Flowable] = []
        for days in content.rows_of_days:
            names = [date_format(day, "D" if content.large_print else "D j") for day in days]
            stones.append(
                PracticeTable(names, rows, size=layout.small, above=layout.text * 0.6, spoken=_("Practice table"))
            )
        if content.works:
            legend = _("For each passage: tempo / clean runs.")
            stones.append(self.words(legend, size=layout.small, above=2))
        caution = self.words(content.caution, "italic", above=layout.text * 0.6)
        if content.url:
            address = content.url.split("://")[-1].rstrip("/")
            words = Words([self.span(_("Your page, with all of this:") + "\n" + address, size=layout.small)])
            code = Code(content.url, words, above=layout.text * 0.6)
            stones.append(Columns([caution], [code], gap=18, right_width=layout.width * 0.46))
        else:
            stones.append(caution)
        return Block(self.practice_heading, stones, page_height=layout.height)

    def practice_heading(self, continued: bool) -> Sequence[Flowable]:
        words = _("Practice (continued)") if continued else _("Practice")
        return [Words([self.span(words, "bold", self.layout.title)], above=self.layout.text * 1.8, role="H2")]
