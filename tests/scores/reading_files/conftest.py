"""The W3C's own schema of MusicXML 4.0, to hold what is read against."""

from importlib.util import find_spec
from pathlib import Path

import pytest
from lxml import etree

HEAD = '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{name}">{body}</xs:schema>'
SIMPLE = '<xs:attribute name="{name}" type="xs:string"/>'
# The schema's two imports, reduced to the names that it uses.
IMPORTS = {
    "xml": ("http://www.w3.org/XML/1998/namespace", ("lang", "space")),
    "xlink": ("http://www.w3.org/1999/xlink", ("href", "type", "role", "title", "show", "actuate")),
}


@pytest.fixture(scope="session")
def schema(tmp_path_factory: pytest.TempPathFactory) -> etree.XMLSchema:
    """musicxml.xsd 4.0, as the package `musicxml` carries it."""
    home = tmp_path_factory.mktemp("schema")
    source = next(Path(find_spec("musicxml").origin).parent.rglob("musicxml_4_0.xsd")).read_text()
    for file, (namespace, names) in IMPORTS.items():
        source = source.replace(f"http://www.musicxml.org/xsd/{file}.xsd", f"{file}.xsd")
        body = "".join(SIMPLE.format(name=name) for name in names)
        (home / f"{file}.xsd").write_text(HEAD.format(name=namespace, body=body))
    (home / "musicxml.xsd").write_text(source)
    return etree.XMLSchema(etree.parse(home / "musicxml.xsd"))
