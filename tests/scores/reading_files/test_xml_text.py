"""XML from outside: encodings in any script, and what is refused."""

import pytest
from lxml import etree

from scores.reading_files import CannotRead, Limits
from scores.reading_files.reading import read
from scores.reading_files.xml_text import parse_xml
from tests.scores.reading_files.samples import PLAIN_MEASURE, piano

TITLES = ("Étude in é", "Прелюдия", "月光の曲", "قطعة للبيانو", "𝄞 Praeludium", "פרלוד", "ประลูด")


def titled(title: str) -> str:
    return piano(PLAIN_MEASURE, head=f"<movement-title>{title}</movement-title>").decode()


@pytest.mark.parametrize("title", TITLES)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_titles_in_any_script_come_in(title: str, encoding: str):
    text = titled(title)
    if encoding.startswith("utf-16"):
        text = text.replace('encoding="UTF-8"', 'encoding="UTF-16"')
    edition = read("title.xml", text.encode(encoding))
    assert edition.score.title == title
    assert title in edition.music.decode("utf-8")


@pytest.mark.parametrize(
    ("encoding", "title"),
    [("ISO-8859-1", "Für Käthe"), ("windows-1251", "Вальс"), ("Shift_JIS", "月光"), ("GB18030", "月光")],
)
def test_declared_encodings_are_followed(encoding: str, title: str):
    text = titled(title).replace("UTF-8", encoding)
    assert read("title.xml", text.encode(encoding)).score.title == title


def test_an_encoding_that_is_not_kept_is_named():
    with pytest.raises(CannotRead, match="encoded as “utf-8”"):
        read("title.xml", titled("Für Käthe").replace(' encoding="UTF-8"', "").encode("latin-1"))


@pytest.mark.parametrize("encoding", ["x-unknown", "punycode", "zlib", "utf-7", "unicode_escape"])
def test_an_unknown_encoding_is_named(encoding: str):
    with pytest.raises(CannotRead, match="not known here"):
        read("title.xml", titled("a").replace("UTF-8", encoding).encode())


BOMB = (
    '<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "lol">'
    + "".join(f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in zip("abcdefgh", "bcdefghi", strict=True))
    + "]><score-partwise><movement-title>&i;</movement-title></score-partwise>"
)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_an_entity_bomb_is_refused(encoding: str):
    with pytest.raises(CannotRead, match="entities"):
        read("bomb.xml", BOMB.encode(encoding))


def test_an_entity_that_names_a_file_is_refused():
    text = '<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]>' + titled("&x;").split("?>", 1)[1]
    with pytest.raises(CannotRead, match="entities"):
        read("file.xml", text.encode())


def test_a_document_type_is_not_looked_up():
    doctype = (
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "file:///nowhere/partwise.dtd">'
    )
    text = titled("a").replace("?>", "?>" + doctype, 1)
    edition = read("doctype.xml", text.encode())
    assert b"DOCTYPE" not in edition.music


def test_an_undeclared_entity_is_refused():
    with pytest.raises(CannotRead, match="not well-formed"):
        read("amp.xml", titled("A &nbsp; B").encode())


def test_broken_xml_is_refused_with_its_line():
    with pytest.raises(CannotRead, match=r"not well-formed XML: .*\(line 1\)"):
        read("cut.xml", titled("a").encode()[:-30])


def test_deep_nesting_is_refused():
    with pytest.raises(CannotRead, match="nests its elements too deeply"):
        read("deep.xml", b"<score-partwise>" + b"<a>" * 100_000)


def test_a_file_of_too_many_tags_is_refused_before_its_tree_is_built():
    with pytest.raises(CannotRead, match="more than 100 XML tags"):
        read("tags.xml", titled("a").encode(), Limits(tags=100))


def test_comments_and_processing_instructions_are_dropped():
    text = titled("a").replace("<part-list>", '<!-- note --><?xml-stylesheet href="evil.xsl"?><part-list>')
    music = read("pi.xml", text.encode()).music
    assert b"evil" not in music
    assert b"<!--" not in music


def test_the_tree_keeps_text_as_it_is():
    root = parse_xml("<a>x<![CDATA[<b>]]>y</a>".encode("utf-16"), Limits())
    assert etree.tostring(root) == b"<a>x&lt;b&gt;y</a>"
