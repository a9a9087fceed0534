"""A tree from outside, brought into the one form: namespaces, links, percussion."""

from lxml import etree

from scores.reading_files.reading import read
from scores.reading_files.tidying import drop_links, strip_namespaces
from tests.scores.reading_files.samples import PLAIN


def test_a_score_in_a_namespace_reads_as_one_without():
    named = PLAIN.replace(b"<score-partwise ", b'<score-partwise xmlns="http://example.org/ns" ')
    assert read("named.xml", named).music == read("plain.xml", PLAIN).music


def test_foreign_elements_and_attributes_go_and_text_behind_them_stays():
    root = etree.fromstring('<a xmlns:x="urn:x"><b x:y="1" z="2"/>one<x:c>gone</x:c>two</a>')
    strip_namespaces(root)
    assert etree.tostring(root) == b'<a><b z="2"/>onetwo</a>'


def test_groups_that_a_link_leaves_empty_go_with_it():
    root = etree.fromstring(
        "<r><credit><link/></credit><credit><credit-words>a</credit-words><bookmark/></credit>"
        "<direction><direction-type><image/></direction-type></direction></r>"
    )
    drop_links(root)
    assert etree.tostring(root) == b"<r><credit><credit-words>a</credit-words></credit></r>"


def test_a_chord_of_percussion_leaves_one_rest():
    head = PLAIN.index(b"<note>")
    drum = b"<note>%b<unpitched/><duration>12</duration><voice>1</voice></note>"
    edition = read("drum.xml", PLAIN[:head] + drum % b"" + drum % b"<chord/>" + PLAIN[head:])
    tree = etree.fromstring(edition.music)
    assert len(tree.findall("part/measure/note/rest")) == 1
    assert [note.onset for note in edition.score.notes if note.side == "right"] == [1, 2, 3]
