"""A canvas that tags what is drawn on it, so that a sheet can be read aloud: headings, paragraphs, figures with their
words, tables. Drawings of the margin are marked as such and passed over by a reader.

Pages are held back until the last is drawn, since each says how many there are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFObjectReference, PDFString
from reportlab.pdfgen.canvas import Canvas


@dataclass
class Element:
    """A structure element: a role of PDF's standard set, and either elements or (page, mark) pairs inside."""

    role: str
    words: str = ""
    kids: list[Element | tuple[int, int]] = field(default_factory=list)


class TaggedCanvas(Canvas):
    """`margin`, called at the end with the canvas, the page (from 1) and their number, draws each page's margin."""

    def __init__(self, *args: Any, language: str = "en", margin: Callable[..., None] | None = None, **options: Any):
        super().__init__(*args, **options)
        self.language = language
        self.margin = margin
        self.held: list[dict[str, Any]] = []
        self.marks: list[Element] = []
        self.document = Element("Document")
        self.open_elements = [self.document]

    @contextmanager
    def element(self, role: str, words: str = "") -> Iterator[None]:
        """What is drawn inside belongs to one structure element."""
        element = Element(role, words)
        self.open_elements[-1].kids.append(element)
        self.open_elements.append(element)
        yield
        self.open_elements.pop()

    @contextmanager
    def tagged(self, role: str, words: str = "") -> Iterator[None]:
        """A structure element with content: what is drawn inside."""
        element = Element(role, words, [(len(self.held), len(self.marks))])
        self.open_elements[-1].kids.append(element)
        self.addLiteral(f"/{role} <</MCID {len(self.marks)}>> BDC")
        self.marks.append(element)
        yield
        self.addLiteral("EMC")

    @contextmanager
    def artifact(self) -> Iterator[None]:
        """Something for the eye alone."""
        self.addLiteral("/Artifact BMC")
        yield
        self.addLiteral("EMC")

    def showPage(self) -> None:
        self.held.append(dict(self.__dict__))
        self.marks = []
        self._startPage()

    def save(self) -> None:
        held, document = self.held, self.document
        for number, state in enumerate(held, start=1):
            self.__dict__.update(state)
            if self.margin:
                with self.artifact():
                    self.margin(self, number, len(held))
            super().showPage()
        self.write_structure(document, [state["marks"] for state in held])
        super().save()

    def write_structure(self, document: Element, marks: list[list[Element]]) -> None:
        """The tree of tags, and for each page the way from a mark to its element (ISO 32000-1, 14.7)."""
        doc = self._doc
        pages = doc.Pages.pages
        references: dict[int, PDFObjectReference] = {}
        root = PDFDictionary({"Type": PDFName("StructTreeRoot")})
        root_reference = doc.Reference(root, "structure-root")
        top = self.write_element(document, root_reference, references)
        numbers: list[Any] = []
        for index, (page, elements) in enumerate(zip(pages, marks, strict=True)):
            page.__NoDefault__ = [*page.__NoDefault__, "StructParents"]
            page.StructParents = index
            numbers += [index, PDFArray([references[id(element)] for element in elements])]
        parents = doc.Reference(PDFDictionary({"Nums": PDFArray(numbers)}), "structure-parents")
        root.dict |= {"K": PDFArray([top]), "ParentTree": parents, "ParentTreeNextKey": len(pages)}
        doc.Catalog.StructTreeRoot = root
        doc.Catalog.MarkInfo = PDFDictionary({"Marked": "true"})
        doc.Catalog.Lang = PDFString(self.language)
        doc.Catalog.ViewerPreferences = PDFDictionary({"DisplayDocTitle": "true"})

    def write_element(
        self, element: Element, parent: PDFObjectReference, references: dict[int, PDFObjectReference]
    ) -> PDFObjectReference:
        doc = self._doc
        entry = PDFDictionary({"Type": PDFName("StructElem"), "S": PDFName(element.role), "P": parent})
        reference = references[id(element)] = doc.Reference(entry, f"structure-{len(references)}")
        kids: list[Any] = []
        for kid in element.kids:
            if isinstance(kid, Element):
                kids.append(self.write_element(kid, reference, references))
            else:
                page, mark = kid
                entry.dict["Pg"] = doc.Reference(doc.Pages.pages[page])
                kids.append(mark)
        entry.dict["K"] = PDFArray(kids)
        if element.words:
            entry.dict["Alt"] = PDFString(element.words)
        return reference
