"""Fingers put into the empty places of an engraved line.

The engraving leaves a place for every note that a line may finger. Filling the places is quick and needs no engraver,
so a changed finger never engraves the music anew. `static/scores/desk.js` fills them by the same rule as one types.
"""

from collections.abc import Mapping

from lxml import etree

SVG = "http://www.w3.org/2000/svg"
PARSER = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)

# Of the engraving's finger lines, in its user units: a place is one digit's step high and half the rule's drop more.
DIGIT, STEP, BELOW = 370, 0.86, 47.5
WIDE_TEXT = 0.8  # "4-5" is set a little smaller than "4".


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
    x, y, width, height = (float(place.get(name, "0")) for name in ("x", "y", "width", "height"))
    size = (height - BELOW) / STEP
    element = etree.Element(
        f"{{{SVG}}}text",
        {
            "class": "digit",
            "data-note": place.get("data-note", ""),
            "data-line": place.get("data-line", ""),
            "x": f"{x + width / 2:.1f}",
            "y": f"{y + height - BELOW:.1f}",
            "font-size": f"{size * (WIDE_TEXT if len(text) > 1 else 1):.1f}",
            "text-anchor": "middle",
        },
    )
    element.text = text
    return element
