"""Compressed MusicXML, and zips that mean harm."""

import io
import struct
import zipfile

import pytest

from scores.reading_files import CannotRead, Limits
from scores.reading_files.reading import read
from tests.scores.reading_files.samples import CONTAINER, PLAIN, zipped


def test_an_mxl_file_reads_as_its_score_does():
    edition = read("plain.mxl", zipped({"score.musicxml": PLAIN}))
    assert edition.format == "Compressed MusicXML"
    assert edition.music == read("plain.musicxml", PLAIN).music


def test_the_container_says_which_file_is_the_score():
    data = zipped({"a.xml": "<not-a-score/>", "music/b.xml": PLAIN}, container="music/b.xml")
    assert read("plain.mxl", data).score.measures


def test_without_a_container_the_score_is_found_by_its_name():
    data = zipped({"__MACOSX/.score.xml": "x", "score.xml": PLAIN}, container=None)
    assert read("plain.mxl", data).score.measures


@pytest.mark.parametrize(
    "name", ["../score.xml", "/etc/score.xml", "a/../../score.xml", "C:/score.xml", "a\\b.xml", "a\nb"]
)
def test_path_names_that_lead_out_are_refused(name: str):
    data = zipped({"score.xml": PLAIN, name: PLAIN}, container="score.xml")
    with pytest.raises(CannotRead, match="unsafe name"):
        read("evil.mxl", data)


def test_a_symbolic_link_is_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        link = zipfile.ZipInfo("score.xml")
        link.external_attr = 0o120777 << 16
        archive.writestr(link, "/etc/passwd")
    with pytest.raises(CannotRead, match="unsafe name"):
        read("link.mxl", out.getvalue())


def test_a_zip_bomb_is_refused_by_what_it_declares():
    data = zipped({"score.xml": b" " * 3_000_000}, container="score.xml")
    assert len(data) < 20_000
    with pytest.raises(CannotRead, match="more than 2 MB"):
        read("bomb.mxl", data, Limits(unpacked=2 * 1024**2))


def test_a_zip_bomb_that_lies_about_its_size_is_stopped_while_it_unpacks():
    data = zipped({"score.xml": b"<a>" + b" " * 3_000_000}, container="score.xml")
    true_size = struct.pack("<I", 3_000_003)
    assert data.count(true_size) == 2
    lying = data.replace(true_size, struct.pack("<I", 1000))
    with pytest.raises(CannotRead):
        read("bomb.mxl", lying, Limits(unpacked=2 * 1024**2))


def test_a_zip_of_too_many_files_is_refused():
    data = zipped({f"{place}.xml": "" for place in range(300)})
    with pytest.raises(CannotRead, match="holds 301 files; at most 200"):
        read("many.mxl", data)


def test_a_zip_with_a_swollen_directory_is_refused_before_it_is_read():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        entry = zipfile.ZipInfo("score.xml")
        entry.comment = b"x" * 60_000
        archive.writestr(entry, PLAIN)
    with pytest.raises(CannotRead, match="damaged"):
        read("fat.mxl", out.getvalue(), Limits(zip_entries=20))


def test_a_zip_within_a_zip_is_refused():
    inner = zipped({"score.xml": PLAIN}, container="score.xml")
    with pytest.raises(CannotRead, match="another compressed file"):
        read("nested.mxl", zipped({"inner.mxl": inner}, container="inner.mxl"))


def test_a_password_is_named_as_the_cause():
    data = bytearray(zipped({"score.xml": PLAIN}, container="score.xml"))
    for signature, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = data.find(signature)
        while at >= 0:
            data[at + offset] |= 1
            at = data.find(signature, at + 1)
    with pytest.raises(CannotRead, match="password"):
        read("locked.mxl", bytes(data))


def test_a_damaged_zip_is_refused():
    data = bytearray(zipped({"score.xml": PLAIN}, container="score.xml"))
    at = data.find(b"score.xml") + 30
    data[at : at + 20] = bytes(20)
    with pytest.raises(CannotRead, match="damaged"):
        read("broken.mxl", bytes(data))
    with pytest.raises(CannotRead, match="damaged"):
        read("cut.mxl", bytes(data[:100]))


def test_a_zip_without_a_score_is_refused():
    with pytest.raises(CannotRead, match="no score in it"):
        read("none.mxl", zipped({"readme.txt": "hello"}, container=None))
    with pytest.raises(CannotRead, match="no score in it"):
        read("none.mxl", zipped({"readme.txt": "hello"}, container="gone.xml"))


def test_an_office_document_is_named_as_such():
    with pytest.raises(CannotRead, match="office document"):
        read("letter.docx", zipped({"[Content_Types].xml": "<x/>"}, container=None))


def test_an_entity_bomb_in_the_container_is_refused():
    bomb = '<!DOCTYPE c [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>' + CONTAINER.format(name="score.xml")
    data = zipped({"META-INF/container.xml": bomb, "score.xml": PLAIN}, container=None)
    with pytest.raises(CannotRead, match="entities"):
        read("bomb.mxl", data)
