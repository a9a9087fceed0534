"""The log names the page that went wrong, and no secret of its address."""

import pytest

from lessons.feeds import link_to, make_feed
from studio.logs import without_secrets
from tests.studio.test_safety import manage

ASK = "from django.test import Client; print(Client().get({path!r}, headers={{'host': 'localhost'}}).status_code)"


def test_a_calendar_link_that_leads_nowhere_is_not_in_the_log(cast, tmp_path):
    path = "/" + link_to(make_feed(cast.oda.user)).split("/", 3)[3]
    answer = manage("shell", "-v0", "-c", ASK.format(path=path), var=tmp_path, PASSAGEWORK_LOCAL="1")
    assert answer.stdout.strip() == "404", answer.stderr
    assert "Not Found: /feeds/…" in answer.stderr
    assert path.split("/")[-1].split(":")[0] not in answer.stderr


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("/mails/stop/eyJ1c2VyIjo3fQ:1xWBgX:cHTmf1DqGliaqP0MIEGHlc7uiji-_44Wk_Bzzu-kF2I/", "/mails/stop/…/"),
        ("/invitation/q7bFzKc0pVYxkM1sT9uWnA3eHdLgR5iJ2oQ8yXvBtCs/", "/invitation/…/"),
        ("/password/new/Mg/c8d9f1-0123456789abcdef0123456789abcdef/", "/password/new/Mg/…/"),
        ("/passages/12/ornaments/", "/passages/12/ornaments/"),
        ("/static/scores/a_name_that_is_long_all_the_same.4f0c2b.js", None),
    ],
)
def test_what_can_be_a_secret_is_cut_and_nothing_else(path: str, told: str | None):
    assert without_secrets(path) == (told or path)
