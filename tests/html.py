"""What every rendered page must keep to."""

from html.parser import HTMLParser

# An input of these types needs no label.
UNLABELLED = {"hidden", "submit", "button"}
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
# These end a paragraph that is open: a browser would take them out of it.
BLOCKS = {"div", "dl", "fieldset", "form", "h1", "h2", "h3", "h4", "hr", "ol", "p", "pre", "section", "table", "ul"}


class Page(HTMLParser):
    """Collects what breaks the content security policy, or what a reader could not use."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self.ids: list[str] = []
        self.labelled: set[str] = set()
        self.fields: list[tuple[str | None, str]] = []
        self.headings: list[str] = []
        self.open: list[str] = []
        self.in_script = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        here = self.get_starttag_text() or tag
        for name, value in given.items():
            if name == "style" or name.startswith(("on", "hx-on")) or "javascript:" in value.lower():
                self.faults.append(f"inline style or script: {here[:120]}")
        if tag == "style":
            self.faults.append("a style element")
        # Data for a script is no script: the policy lets it be, and nothing runs it.
        if tag == "script" and given.get("type") != "application/json":
            self.in_script = True
            if "src" not in given:
                self.faults.append(f"inline script: {here[:120]}")
        # A link may lead anywhere; what the page itself loads, or sends to, is ours.
        for name in ("src", "action", "poster") + (("href",) if tag == "link" else ()):
            if given.get(name, "").startswith(("http://", "https://", "//")):
                self.faults.append(f"from elsewhere: {here[:120]}")
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "label" and "for" in given:
            self.labelled.add(given["for"])
        if tag in {"input", "select", "textarea"} and given.get("type") not in UNLABELLED:
            wrapped = "label" in self.open or "aria-label" in given or "aria-labelledby" in given
            self.fields.append((None if wrapped else given.get("id", ""), here[:120]))
        if tag in BLOCKS and "p" in self.open:
            self.faults.append(f"a block inside a paragraph: {here[:120]}")
        if tag == "img" and "alt" not in given:
            self.faults.append(f"a picture without words: {here[:120]}")
        if tag == "h1":
            self.headings.append(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        self.in_script = False
        if tag in self.open:
            while self.open.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if self.in_script and data.strip():
            self.faults.append(f"inline script: {data.strip()[:120]}")


def assert_clean(html: str) -> None:
    """No inline style or script, nothing from elsewhere, no id twice, each field labelled, no block in a
    paragraph, one h1.

    Takes a whole page or a part of one (then the h1 may be absent).
    """
    page = Page()
    page.feed(html)
    page.close()
    faults = list(page.faults)
    # Each engraved system brings the drawings of its own signs; one sign's drawing is the same in all of them.
    ids = [name for name in page.ids if not name.startswith("glyph-")]
    faults += [f"id twice: {name}" for name in set(ids) if ids.count(name) > 1]
    faults += [f"no label: {here}" for name, here in page.fields if name is not None and name not in page.labelled]
    if "<html" in html and len(page.headings) != 1:
        faults.append(f"{len(page.headings)} h1 headings")
    assert not faults, "\n".join(faults)
