import pytest
from django.template.loader import render_to_string
from django.test import Client

from tests.html import assert_clean


@pytest.mark.django_db
def test_what_is_not_there_is_said_in_the_look_of_the_house():
    answer = Client().get("/nowhere/")
    assert answer.status_code == 404
    assert "Nothing stands here" in answer.content.decode()
    assert_clean(answer.content.decode())


def test_a_form_without_its_token_is_refused_in_words(cast):
    client = Client(enforce_csrf_checks=True)
    answer = client.post("/log-in/", {"email": "ines@example.org", "password": "x"})
    assert answer.status_code == 403
    assert "This form was not accepted" in answer.content.decode()
    assert_clean(answer.content.decode())


@pytest.mark.parametrize("template", ["400.html", "403.html", "404.html", "500.html"])
def test_an_error_page_needs_nothing_but_itself(template):
    """Django draws 400 and 500 without a request; no page may need one."""
    html = render_to_string(template)
    assert "<h1>" in html
    assert_clean(html)
