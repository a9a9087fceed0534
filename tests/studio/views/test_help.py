import re

import pytest
from django.conf import settings
from django.test import Client

from studio.views.help import TOPICS
from tests.html import assert_clean

pytestmark = pytest.mark.django_db


def test_the_contents_name_every_topic():
    html = Client().get("/help/").content.decode()
    for topic in TOPICS:
        assert f'href="/help/{topic}/"' in html
    assert_clean(html)


@pytest.mark.parametrize("topic", TOPICS)
def test_every_topic_is_written(topic):
    answer = Client().get(f"/help/{topic}/")
    html = answer.content.decode()
    assert answer.status_code == 200
    assert len(re.sub(r"<[^>]+>", " ", html).split()) > 120
    assert_clean(html)


def test_no_page_of_help_is_lost():
    files = {path.stem for path in (settings.HOME / "templates" / "help").glob("[!_]*.html")} - {"index", "page"}
    assert files == {topic.replace("-", "_") for topic in TOPICS}


def test_an_unknown_topic_finds_nothing():
    assert Client().get("/help/elsewhere/").status_code == 404


@pytest.mark.parametrize("topic", ["students-and-hands", "practice", "care", "fingerings"])
def test_where_stretches_and_long_practice_are_spoken_of_the_caution_stands(topic):
    html = Client().get(f"/help/{topic}/").content.decode()
    assert 'class="caution"' in html
    assert "clinician" in html


def keys_in(template: str) -> set[str]:
    """What stands in the dt of each key of a template, tags taken out."""
    found = re.findall(r"<dt>(.*?)</dt>", template)
    found = [re.sub(r"\{% translate ['\"](.*?)['\"] %\}", r"\1", dt) for dt in found]
    return {re.sub(r"<[^>]+>", "", dt).replace("Escape", "Esc").lower() for dt in found}


def with_parts(template: str) -> str:
    """The template with the parts that it includes."""
    parts = re.findall(r'include "([^"]+)"', template)
    return template + "".join(with_parts((settings.HOME / "templates" / part).read_text()) for part in parts)


def test_the_page_of_keys_has_the_keys_of_every_page():
    templates = settings.HOME / "templates"
    pages = [path.read_text() for room in ("scores", "lessons") for path in (templates / room).glob("*.html")]
    blocks = [block for page in pages for block in re.findall(r"\{% block keys %\}(.*?)\{% endblock", page, re.DOTALL)]
    assert blocks
    written = keys_in(with_parts((templates / "help" / "keys.html").read_text()))
    assert set().union(*(keys_in(with_parts(block)) for block in blocks)) <= written
