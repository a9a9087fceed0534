"""XML from outside to a tree: no entities, no document type fetched, no network, no surprise in the encoding."""

from __future__ import annotations

import codecs
import re

from lxml import etree

from scores.reading_files.terms import CannotRead, Limits
from scores.reading_files.terms import marked as _

BROKEN = _("The file is not well-formed XML: %(detail)s (line %(line)s). It may have been cut off; export it again.")
ENTITIES = _("The file declares XML entities, which a score does not need and which can do harm. It was refused.")
ENCODING = _("The file says that its letters are encoded as “%(encoding)s”, but they are not.")
UNKNOWN_ENCODING = _("The file says that its letters are encoded as “%(encoding)s”, which is not known here.")
TOO_MANY_TAGS = _("The file is too large: it has more than %(limit)s XML tags.")
TOO_DEEP = _("The file nests its elements too deeply to be a score.")

MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
DECLARATION = re.compile(r"""\A\s*<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]{1,40})["'][^>]*\?>""")
PROLOG = re.compile(r"\A\s*<\?xml[^>]*\?>")
DOCTYPE = re.compile(r"<!DOCTYPE[^\[>]*(\[.*?\]\s*)?>", re.DOTALL)
# Python knows more names than these; some of them are no encodings of text, some are slow.
KNOWN = re.compile(
    r"(utf-?(8|16|32)(-?[lb]e)?|us-ascii|ascii|iso-?8859-?\d{1,2}|latin-?1|windows-125\d|cp\d{3,4}|koi8-[ru]|mac-?roman|"
    r"macintosh|shift[-_]jis|sjis|euc-(jp|kr)|gb18030|gbk|gb2312|big5(-hkscs)?)\Z",
    re.IGNORECASE,
)


def parse_xml(data: bytes, limits: Limits) -> etree._Element:
    """The root of an XML document without its comments and processing instructions. Raises `CannotRead`."""
    text = text_of(data)
    if "<!ENTITY" in text:
        raise CannotRead(ENTITIES)
    if text.count("<") > limits.tags:
        raise CannotRead(TOO_MANY_TAGS, {"limit": limits.tags})
    # The document type has said all that it may say; without it nothing is looked up.
    text = without_doctype(PROLOG.sub("", text, count=1)).strip("\ufeff \t\r\n\x00")
    parser = etree.XMLParser(
        encoding="utf-8",
        resolve_entities=False,
        load_dtd=False,
        no_network=True,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
        strip_cdata=True,
    )
    try:
        return etree.fromstring(text.encode("utf-8"), parser)
    except etree.XMLSyntaxError as error:
        if "depth" in (error.msg or ""):
            raise CannotRead(TOO_DEEP) from error
        detail = re.sub(r", line \d+, column \d+.*", "", error.msg or "")[:120] or "?"
        raise CannotRead(BROKEN, {"detail": detail, "line": error.lineno or 1}) from error
    except (ValueError, UnicodeEncodeError) as error:
        raise CannotRead(BROKEN, {"detail": "unreadable signs", "line": 1}) from error


def without_doctype(text: str) -> str:
    found = DOCTYPE.match(text, max(0, text.find("<!DOCTYPE")))
    return text[: found.start()] + text[found.end() :] if found else text


def text_of(data: bytes) -> str:
    """The letters of an XML document, by its byte order mark, its declaration, or as UTF-8 (XML 1.0, appendix F)."""
    for mark, encoding in MARKS:
        if data.startswith(mark):
            return _decode(data[len(mark) :], encoding)
    if data[:4] in (b"<\x00?\x00", b"<\x00s\x00", b"<\x00m\x00"):
        return _decode(data, "utf-16-le")
    if data[:4] in (b"\x00<\x00?", b"\x00<\x00s", b"\x00<\x00m"):
        return _decode(data, "utf-16-be")
    declared = DECLARATION.match(data[:400].decode("ascii", "replace"))
    encoding = declared.group(1) if declared else "utf-8"
    if not KNOWN.match(encoding):
        raise CannotRead(UNKNOWN_ENCODING, {"encoding": encoding})
    # Without a mark and readable byte by byte, a document that calls itself UTF-16 has been converted since.
    return _decode(data, "utf-8" if encoding.lower().startswith(("utf-16", "utf16", "utf-32", "utf32")) else encoding)


def _decode(data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except LookupError as error:
        raise CannotRead(UNKNOWN_ENCODING, {"encoding": encoding}) from error
    except UnicodeDecodeError as error:
        raise CannotRead(ENCODING, {"encoding": encoding}) from error
