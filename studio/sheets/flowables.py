"""The building stones of a sheet: words, pictures, columns, and blocks that stay on one page.

Every stone has its space above in its own height. All draw on a `TaggedCanvas`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reportlab.platypus.flowables import Flowable

from studio.sheets.drawing import draw_svg
from studio.sheets.setting import Setting, Span, draw_line, set_words

LEADING = 1.32
FEWEST_LINES = 2  # of a paragraph that stand together at a page's end or beginning


class Words(Flowable):
    """A paragraph. `above`: space over it; `hanging`: words in the margin at its left, `indent` points wide."""

    def __init__(
        self,
        spans: Sequence[Span],
        *,
        above: float = 0,
        indent: float = 0,
        hanging: Span | None = None,
        role: str = "P",
        setting: Setting | None = None,
    ) -> None:
        super().__init__()
        self.spans, self.above, self.indent, self.hanging, self.role = spans, above, indent, hanging, role
        self.setting = setting
        self.width = 0.0

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        if self.setting is None or width != self.width:
            self.setting = set_words(self.spans, width - self.indent)
        self.width = width
        return width, self.above + sum(self.heights())

    def heights(self) -> list[float]:
        """Of the lines; an empty one is as high as the words around it."""
        usual = self.spans[0].size if self.spans else 10
        return [LEADING * (line.size or usual) for line in self.setting.lines]

    def split(self, width: float, height: float) -> list[Flowable]:
        self.wrap(width, height)
        room, count = height - self.above, 0
        for tall in self.heights():
            room -= tall
            if room < 0:
                break
            count += 1
        lines = self.setting.lines
        count = min(count, len(lines) - FEWEST_LINES)
        if count < FEWEST_LINES:
            return []
        parts = (Setting(lines[:count], self.setting.leftward), Setting(lines[count:], self.setting.leftward))
        first = Words(self.spans, above=self.above, indent=self.indent, hanging=self.hanging, role=self.role)
        second = Words(self.spans, indent=self.indent, role=self.role)
        for words, setting in zip((first, second), parts, strict=True):
            words.setting, words.width = setting, width
        return [first, second]

    def draw(self) -> None:
        y = sum(self.heights())
        with self.canv.tagged(self.role):
            for number, (line, tall) in enumerate(zip(self.setting.lines, self.heights(), strict=True)):
                y -= tall
                baseline = y + tall * 0.26
                if number == 0 and self.hanging:
                    draw_line(self.canv, set_words([self.hanging], self.width).lines[0], 0, baseline)
                # A heading stays beside its number, whichever way it runs.
                hangs_right = self.setting.leftward and not self.hanging
                x = self.width - line.width if hangs_right else self.indent
                draw_line(self.canv, line, x, baseline)


class Picture(Flowable):
    """An SVG of the project's own. Taller than `most`, it is made smaller. `words` are read in its place."""

    def __init__(self, svg: str, width: float, height: float, words: str, *, above: float = 0, most: float) -> None:
        super().__init__()
        factor = min(1.0, (most - above) / height)
        self.svg, self.words, self.above = svg, words, above
        self.drawn = (width * factor, height * factor)

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        self.width, self.height = self.drawn[0], self.drawn[1] + self.above
        return self.width, self.height

    def draw(self) -> None:
        with self.canv.tagged("Figure", self.words):
            draw_svg(self.canv, self.svg, 0, self.drawn[1], self.drawn[0])


class Columns(Flowable):
    """Two stacks of stones side by side; never parted."""

    def __init__(self, left: Sequence[Flowable], right: Sequence[Flowable], *, gap: float, right_width: float) -> None:
        super().__init__()
        self.stacks = (left, right)
        self.gap, self.right_width = gap, right_width

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.widths = (width - self.gap - self.right_width, self.right_width)
        heights = [stack_height(stack, one, height) for stack, one in zip(self.stacks, self.widths, strict=True)]
        self.height = max(heights)
        return width, self.height

    def draw(self) -> None:
        x = 0.0
        for stack, width in zip(self.stacks, self.widths, strict=True):
            draw_stack(self.canv, stack, x, self.height, width)
            x += width + self.gap


def stack_height(stones: Sequence[Flowable], width: float, height: float) -> float:
    return sum(stone.wrap(width, height)[1] for stone in stones)


def draw_stack(canvas: object, stones: Sequence[Flowable], x: float, top: float, width: float) -> None:
    for stone in stones:
        top -= stone.wrap(width, top)[1]
        stone.drawOn(canvas, x, top)


class Block(Flowable):
    """Stones that belong together under a heading. They stay on one page if they fit on one; a block that is taller is
    parted between its stones, and the heading is repeated. `heading` is called with True where it is continued."""

    def __init__(
        self,
        heading: Callable[[bool], Sequence[Flowable]],
        stones: Sequence[Flowable],
        *,
        page_height: float,
        name: str = "",
        continued: bool = False,
    ) -> None:
        super().__init__()
        self.heading, self.stones, self.page_height = heading, list(stones), page_height
        self.name, self.continued = name, continued
        self.head = list(heading(continued))

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width = width
        self.height = stack_height([*self.head, *self.stones], width, height)
        return width, self.height

    def split(self, width: float, height: float) -> list[Flowable]:
        """Nothing, that is all on the next page, where it fits there; else what fits here and the rest."""
        at_top = height >= self.page_height - 1
        if self.wrap(width, height)[1] <= self.page_height and not at_top:
            return []
        room = height - stack_height(self.head, width, height)
        for count, stone in enumerate(self.stones):
            tall = stone.wrap(width, room)[1]
            if tall > room:
                return self.parted_at(count, stone.split(width, room), at_top=at_top)
            room -= tall
        return [self]

    def parted_at(self, count: int, pieces: list[Flowable], *, at_top: bool) -> list[Flowable]:
        before, after = self.stones[:count], self.stones[count:]
        if len(pieces) > 1:
            before, after = [*before, pieces[0]], [*pieces[1:], *after[1:]]
        if not before or (not at_top and not any(isinstance(stone, Picture) for stone in before)):
            return []
        shared = {"page_height": self.page_height}
        return [
            Block(self.heading, before, name=self.name, continued=self.continued, **shared),
            Block(self.heading, after, continued=True, **shared),
        ]

    def draw(self) -> None:
        if self.name and not self.continued:
            key = f"block-{id(self)}"
            self.canv.bookmarkPage(key)
            self.canv.addOutlineEntry(self.name, key, 0)
        with self.canv.element("Sect"):
            draw_stack(self.canv, [*self.head, *self.stones], 0, self.height, self.width)
