"""Fingers put into the empty places of an engraved line.

The engraving leaves a place for every note that a line may finger. Filling the places is quick and needs no engraver,
so a changed finger never engraves the music anew. `static/scores/desk.js` fills them by the same rule as one types.
"""

from collections.abc import Mapping

from lxml import etree

SVG = "http://www.w3.org/2000/svg"
PARSER = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)

# Of the engraving's finger lines, in its user units: a place is one digit's step high and half the rule's drop more. A
# figure is half its size wide, a dash a third; texts shrink, but not below the least, to keep off their neighbours.
STEP, BELOW = 0.86, 47.5
FIGURE, DASH = 0.5, 0.33
GAP, LEAST = 0.52, 0.6


def with_fingers(svg: str, fingers: Mapping[str, Mapping[str, str]]) -> str:
    """The drawing with the fingers of each line, by line key and note id, in their places."""
    if not any(fingers.values()):
        return svg
    root = etree.fromstring(svg.encode(), PARSER)
    for place in root.iterfind(f".//{{{SVG}}}rect[@class='place']"):
        text = fingers.get(place.get("data-line", ""), {}).get(place.get("data-note", ""), "")
        if text:
            place.addnext(digit(place, text))
    return etree.tostring(root, encoding="unicode")


def digit(place: etree._Element, text: str) -> etree._Element:
    x, y, width, height = box(place)
    size = (height - BELOW) / STEP
    element = etree.Element(
        f"{{{SVG}}}text",
        {
            "class": "digit",
            "data-note": place.get("data-note", ""),
            "data-line": place.get("data-line", ""),
            "x": f"{x + width / 2:.1f}",
            "y": f"{y + height - BELOW:.1f}",
            "font-size": f"{size * fit(place, text, size):.1f}",
            "text-anchor": "middle",
        },
    )
    element.text = text
    return element


def box(place: etree._Element) -> tuple[float, float, float, float]:
    x, y, width, height = (float(place.get(name, "0")) for name in ("x", "y", "width", "height"))
    return x, y, width, height


def fit(place: etree._Element, text: str, size: float) -> float:
    """The factor by which "4-5" shrinks between its neighbours; single figures stay as they are."""
    if len(text) < 2:
        return 1.0
    middle = box(place)[0] + box(place)[2] / 2
    others = [
        x + width / 2 for x, _, width, _ in map(box, place.getparent().iterfind(f"{{{SVG}}}rect[@class='place']"))
    ]
    apart = [abs(other - middle) for other in others if abs(other - middle) > 1]
    if not apart:
        return 1.0
    dashes = text.count("-")
    width = size * (FIGURE * (len(text) - dashes) + DASH * dashes)
    return min(1.0, max(LEAST, 2 * (min(apart) - GAP * size) / width))
