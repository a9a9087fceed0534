"""The measures of a sheet, in points: paper, margins, sizes of type and staff."""

from __future__ import annotations

from dataclasses import dataclass

SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}


@dataclass(frozen=True)
class Layout:
    """`text`, `small` and `title` are sizes of type, `staff` the height of a staff, `size` the paper's."""

    size: tuple[float, float]
    text: float
    small: float
    title: float
    staff: float
    side: float = 48.0
    head: float = 46.0
    foot: float = 52.0

    @property
    def width(self) -> float:
        """Of the column."""
        return self.size[0] - 2 * self.side

    @property
    def height(self) -> float:
        """Of the column."""
        return self.size[1] - self.head - self.foot

    @property
    def leading(self) -> float:
        return 1.32


def layout_for(paper: str, large_print: bool) -> Layout:
    """A staff is about 8 mm high, which reads at arm's length; in large print 11 mm. Raises `KeyError`."""
    if large_print:
        return Layout(SIZES[paper], text=16, small=14, title=20, staff=31, side=42)
    return Layout(SIZES[paper], text=11, small=9.5, title=14, staff=22.5)
