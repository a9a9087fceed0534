"""Fingerings set as lines of digits above or below a system, each digit on the middle of its note head.

A line has its label at the left and a hairline under it: solid for what the teacher wrote, dotted for what the program
suggests, dashed for what the edition prints. The chosen line has a filled marker, bold digits and a heavier rule.
Measures are in user units (180 to a staff space).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from lxml import etree

from scores.engraving.glyphs import text_width
from scores.engraving.plan import FingerLine
from scores.engraving.redrawing import Drawing, make, tidy
from scores.music.notation import Side

DIGIT = 370  # size of the digits
HEIGHT = 0.68 * DIGIT  # of a digit above its baseline
STACK = 0.86 * DIGIT  # from one digit of a chord to the next
LABEL_GAP = 190  # from the label to the first digit
DROP = 95  # from the baseline to the rule
BETWEEN = 130  # from a rule to the digits of the next line
AWAY = 190  # from the music to the nearest line
ON_NOTE = 330  # size of digits that stand on the notes themselves
CLOSE = 75  # from the music to those
HALF_HEAD = 113  # half the width of a note head
SMALL = 0.72  # of the digits, for a line that is only an option beside the chosen one
SMALLEST = 0.62  # how far a wide finger text may shrink to fit between its neighbours
DASHES = {"teacher": "", "program": "12 60", "printed": "110 60"}

Moments = dict[str, tuple]


@dataclass
class Column:
    """The digits of one moment: (note id, text) from low to high, around `x`."""

    x: float
    size: float
    digits: list[tuple[str, str]] = field(default_factory=list)

    @property
    def height(self) -> float:
        return HEIGHT * self.size + (len(self.digits) - 1) * STACK * self.size

    @property
    def width(self) -> float:
        return max(max((text_width(text, DIGIT) for _, text in self.digits), default=0), 0.5 * DIGIT) * self.size


@dataclass
class Row:
    """Lines that share a height because they stand beside one another."""

    lines: list[tuple[FingerLine, list[Column]]]

    @property
    def height(self) -> float:
        return max(column.height for _, columns in self.lines for column in columns)

    @property
    def left(self) -> float:
        return min(left_of(line, columns) for line, columns in self.lines)

    @property
    def right(self) -> float:
        return max(right_of(columns) for _, columns in self.lines)


def set_lines(drawing: Drawing, lines: Sequence[FingerLine], moments: Moments) -> etree._Element | None:
    """Sets the lines around a system; their ink counts as ink of the system. None if no line has a note here."""
    group = etree.Element(f"{{{drawing.ink.nsmap[None]}}}g", {"class": "finger-lines", "fill": "black"})
    for side in ("right", "left"):
        rows = rows_of([line for line in lines if line.side == side], drawing, moments)
        if rows:
            set_rows(group, rows, drawing, side)
    return group if len(group) else None


def rows_of(lines: Sequence[FingerLine], drawing: Drawing, moments: Moments) -> list[Row]:
    rows: list[Row] = []
    for line in lines:
        found = columns_of(line, drawing, moments)
        if not found:
            continue
        if rows and left_of(line, found) > rows[-1].right + DIGIT:
            rows[-1].lines.append((line, found))
        else:
            rows.append(Row([(line, found)]))
    return rows


def columns_of(line: FingerLine, drawing: Drawing, moments: Moments) -> list[Column]:
    """The line's notes of this system, moment by moment, from left to right."""
    found = columns(line.notes or tuple(line.fingers), line.fingers, drawing, moments)
    for column in found if line.small else ():
        column.size *= SMALL
    return found


def columns(notes: Sequence[str], fingers: Mapping[str, str], drawing: Drawing, moments: Moments) -> list[Column]:
    groups: dict[object, list[str]] = {}
    for note in notes:
        if note in drawing.heads:
            groups.setdefault(moments.get(note, note), []).append(note)
    found = []
    for group in groups.values():
        group.sort(key=lambda note: -drawing.heads[note].y)
        heads = [drawing.heads[note] for note in group if fingers.get(note)] or [drawing.heads[group[0]]]
        # In a chord with a second, one head stands aside: the digits keep to the column of most heads.
        places = [round(head.x) for head in heads]
        x = max(sorted(set(places)), key=places.count)
        size = 1.0 if heads[0].size > 0.9 else 0.76
        found.append(Column(x, size, [(note, fingers.get(note, "")) for note in group]))
    return sorted(found, key=lambda column: column.x)


def left_of(line: FingerLine, columns: list[Column]) -> float:
    marker = 0.75 * DIGIT if line.chosen else 0
    return columns[0].x - columns[0].width / 2 - LABEL_GAP - text_width(line.label, DIGIT) - marker


def right_of(columns: list[Column]) -> float:
    return columns[-1].x + max(columns[-1].width / 2, 0.4 * DIGIT)


def set_rows(group: etree._Element, rows: list[Row], drawing: Drawing, side: Side) -> None:
    left, right = min(row.left for row in rows), max(row.right for row in rows)
    if side == "right":
        baseline = drawing.sky.top(left, right) - AWAY - DROP
        for row in reversed(rows):
            set_row(group, row, baseline, drawing)
            baseline -= row.height + BETWEEN + DROP
    else:
        baseline = first_baseline_below(rows[0], drawing)
        for place, row in enumerate(rows):
            baseline += row.height if place else 0
            set_row(group, row, baseline, drawing)
            baseline += DROP + BETWEEN


def first_baseline_below(row: Row, drawing: Drawing) -> float:
    """Each stack of digits keeps off the music above it; the rule below them keeps off all of it."""
    lowest = drawing.sky.bottom(row.left, row.right)
    needs = [lowest + AWAY - DROP]
    for line, columns in row.lines:
        for column in columns:
            half = column.width / 2 + 20
            needs.append(drawing.sky.bottom(column.x - half, column.x + half) + AWAY + column.height)
        label = columns[0].x - columns[0].width / 2
        needs.append(drawing.sky.bottom(left_of(line, columns), label) + AWAY + HEIGHT)
    return max(needs)


def set_row(group: etree._Element, row: Row, baseline: float, drawing: Drawing) -> None:
    for line, columns in row.lines:
        set_line(group, line, columns, baseline, row.height, drawing)


def set_line(
    group: etree._Element, line: FingerLine, columns: list[Column], baseline: float, height: float, drawing: Drawing
) -> None:
    left, right = left_of(line, columns), right_of(columns)
    top, rule = baseline - height, baseline + DROP
    chosen = " chosen" if line.chosen else ""
    target = make(group, "g", class_=f"finger-line {line.mark}{chosen}", data_line=line.key, data_side=line.side)
    area = {"x": tidy(left), "y": tidy(top - BETWEEN / 2), "width": tidy(right - left)}
    make(target, "rect", class_="hit", **area, height=tidy(rule - top + BETWEEN), fill="none", pointer_events="all")
    make(
        target,
        "path",
        class_="rule",
        d=f"M{tidy(columns[0].x - columns[0].width / 2)} {tidy(rule)} L{tidy(right)} {tidy(rule)}",
        stroke="black",
        stroke_width=38 if line.chosen else 14,
        stroke_linecap="round" if line.mark == "program" else "",
        stroke_dasharray=DASHES[line.mark],
        fill="none",
    )
    set_label(target, line, columns[0].x - columns[0].width / 2 - LABEL_GAP, baseline)
    for column, fit in zip(columns, fits(columns), strict=True):
        set_column(target, line, column, fit, baseline)
    drawing.sky.add(left, top, right, rule + 20)


def set_label(target: etree._Element, line: FingerLine, right: float, baseline: float) -> None:
    italic = "italic" if line.label.isalpha() else ""
    weight = "bold" if line.chosen else ""
    if line.label:
        make(
            target,
            "text",
            line.label,
            class_="line-label",
            x=tidy(right),
            y=tidy(baseline),
            font_size=tidy(0.95 * DIGIT * (SMALL if line.small else 1)),
            text_anchor="end",
            font_style=italic,
            font_weight=weight,
        )
    if line.chosen:
        tip = right - text_width(line.label, DIGIT) - 0.16 * DIGIT
        middle, half = baseline - HEIGHT / 2, 0.25 * DIGIT
        points = f"{tidy(tip - 1.7 * half)},{tidy(middle - half)} {tidy(tip)},{tidy(middle)} "
        make(target, "polygon", class_="marker", points=points + f"{tidy(tip - 1.7 * half)},{tidy(middle + half)}")


def fits(columns: list[Column]) -> list[float]:
    """For each column the factor by which its digits shrink so that they keep off their neighbours."""
    factors = []
    for index, column in enumerate(columns):
        neighbours = [columns[near] for near in (index - 1, index + 1) if 0 <= near < len(columns)]
        room = min((abs(other.x - column.x) - 0.38 * DIGIT * other.size for other in neighbours), default=column.width)
        factors.append(min(1.0, max(SMALLEST, 2 * room / column.width if column.width else 1.0)))
    return factors


def set_column(target: etree._Element, line: FingerLine, column: Column, fit: float, baseline: float) -> None:
    for place, (note, text) in enumerate(column.digits):
        y = baseline - place * STACK * column.size
        half = column.width / 2
        make(
            target,
            "rect",
            class_="place",
            data_note=note,
            data_line=line.key,
            x=tidy(column.x - half),
            y=tidy(y - STACK * column.size),
            width=tidy(2 * half),
            height=tidy(STACK * column.size + DROP / 2),
            fill="none",
            pointer_events="all",
        )
        if text:
            make(
                target,
                "text",
                text,
                class_="digit",
                data_note=note,
                data_line=line.key,
                x=tidy(column.x),
                y=tidy(y),
                font_size=tidy(DIGIT * column.size * fit),
                text_anchor="middle",
                font_weight="bold" if line.chosen else "",
            )


def set_on_notes(drawing: Drawing, fingers: Mapping[str, str], sides: Mapping[str, Side], moments: Moments) -> None:
    """Sets fingers on the notes themselves: close above the right hand's, close below the left hand's."""
    group = make(drawing.ink, "g", class_="fingers", stroke="none")
    for side in ("right", "left"):
        marked = [note for note, text in fingers.items() if text and sides.get(note, "right") == side]
        for column in columns(marked, fingers, drawing, moments):
            set_on_note(group, column, drawing, side)


def set_on_note(group: etree._Element, column: Column, drawing: Drawing, side: Side) -> None:
    size = ON_NOTE * column.size
    half = max(text_width(text, size) for _, text in column.digits) / 2
    step = 0.86 * size
    # At least as wide as the head, so that a digit keeps off the stem and the end of the beam beside it.
    reach = max(half, HALF_HEAD * column.size) + 16
    left, right = column.x - reach, column.x + reach
    if side == "right":
        baseline = drawing.sky.top(left, right) - CLOSE
    else:
        baseline = drawing.sky.bottom(left, right) + CLOSE + 0.68 * size + (len(column.digits) - 1) * step
    for place, (note, text) in enumerate(column.digits):
        make(
            group,
            "text",
            text,
            class_="finger",
            data_note=note,
            x=tidy(column.x),
            y=tidy(baseline - place * step),
            font_size=tidy(size),
            text_anchor="middle",
            font_weight="bold",
        )
    top = baseline - (len(column.digits) - 1) * step - 0.68 * size
    drawing.sky.add(column.x - half, top, column.x + half, baseline + 10)
