"""Every page of every room, whoever reads it: its policy stands, and nothing in the page breaks the policy."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.html import assert_clean
from tests.people import Cast
from tests.roles import WHO
from tests.test_roles import TABLE, person

READERS = ("teacher", "student", "guardian", "stranger")
PAGES = [(name, who) for name, row in sorted(TABLE.items()) for who in READERS if row.get[WHO.index(who)] in (200, 404)]


@pytest.mark.parametrize(("name", "who"), PAGES)
def test_a_page_is_clean_and_has_its_policy(cast: Cast, name: str, who: str):
    client, user = Client(), person(cast, who)
    if user:
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.get(reverse(name, kwargs=dict(TABLE[name].target(cast))))
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    if answer["Content-Type"].startswith("text/html"):
        assert_clean(b"".join(answer).decode())
