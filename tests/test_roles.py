"""Every URL, every role: the answers stand in the rooms' role tables, and a URL without a row fails."""

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.lessons.family_table import TABLE as FAMILIES
from tests.lessons.role_table import TABLE as LESSONS
from tests.people import Cast
from tests.roles import WHO, Row
from tests.scores.role_table import TABLE as SCORES
from tests.studio.role_table import TABLE as STUDIO

TABLE: dict[str, Row] = STUDIO | SCORES | LESSONS | FAMILIES


def names(patterns: list[URLPattern | URLResolver]) -> list[str]:
    found = []
    for pattern in patterns:
        found += names(pattern.url_patterns) if isinstance(pattern, URLResolver) else [pattern.name]
    return found


ALL_NAMES = names(get_resolver().url_patterns)


def person(cast: Cast, who: str):
    return {
        "teacher": cast.teacher,
        "student": cast.oda.user,
        "guardian": cast.birger.user,
        "other_student": cast.ravi.user,
        "other_guardian": cast.sunita.user,
        "other_teacher": cast.other_teacher,
        "stranger": None,
    }[who]


def test_every_url_has_a_row_and_every_row_a_url():
    assert None not in ALL_NAMES
    assert sorted(ALL_NAMES) == sorted(TABLE)


@pytest.mark.parametrize("who", WHO)
@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("name", sorted(TABLE))
def test_the_answer_is_that_of_the_table(cast: Cast, name: str, method: str, who: str):
    row = TABLE[name]
    answers = row.get if method == "get" else row.post
    if answers is None:
        pytest.skip("this method is not offered here")
    client = Client()
    url = reverse(name, kwargs=dict(row.target(cast)))
    data = dict(row.data(cast)) if method == "post" else {}
    user = person(cast, who)
    if user:
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    assert getattr(client, method)(url, data).status_code == answers[WHO.index(who)]
