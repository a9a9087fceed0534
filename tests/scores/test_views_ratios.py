"""The page of any two numbers against each other."""

import json
import re

import pytest
from django.urls import reverse

from tests.people import Cast

URL = "cross-rhythm"


@pytest.fixture
def page(cast: Cast, logged_in):
    client = logged_in(cast.oda.user)

    def get(**asked):
        return client.get(reverse(URL), asked)

    return get


def asked(right: object, left: object, now: object = 60, goal: object = 88) -> dict:
    return {"right": right, "left": left, "tempo_now": now, "tempo_goal": goal}


def text(response) -> str:
    return response.content.decode()


def test_it_begins_with_three_against_two(page):
    shown = text(page())
    assert "Order of the strokes: both, right, left, right." in shown
    assert "nice cup of tea" in shown


def test_eight_against_three_is_shown_whole(page):
    shown = text(page(**asked(8, 3)))
    # By arithmetic: 24 parts; three quarters at 60 are 3000 ms, a part 125 ms. Told apart from 20 ms (from memory).
    assert "They lie 1 of 24 parts apart: 125 ms at ♩ = 60. That is heard as two strokes." in shown
    assert "Simpler inside: 2 against 3" in shown
    assert 'class="strip"' in shown
    data = json.loads(re.search(r'id="ratio-player-data"[^>]*>(.*?)</script>', shown, re.DOTALL)[1])
    assert (data["parts"], data["quarters"]) == (24, 3.0)
    assert [stroke[0] for stroke in data["left"]] == [0, 8, 16]
    assert data["skeleton"] == {"right": [0, 12], "left": [0, 8, 16]}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (asked(200, 199), "A grid takes up to 64 strokes in each hand; 200 are too many to count."),
        (asked(0, 2), "Each hand needs at least one stroke; 0 is none."),
        (asked(3, 0), "Each hand needs at least one stroke; 0 is none."),
        (asked(3, -1), "Each hand needs at least one stroke; -1 is none."),
        (asked(3, 2, now=0), "A tempo lies between 20 and 300 beats a minute; 0 does not."),
        (asked(3, 2, goal=5000), "A tempo lies between 20 and 300 beats a minute; 5000 does not."),
        (asked("three", 2), "Enter a whole number."),
        (asked("", 2), "This field is required."),
    ],
)
def test_what_cannot_be_is_said_in_words_and_what_was_typed_stays(page, given: dict, said: str):
    response = page(**given)
    assert response.status_code == 422
    assert said in text(response)
    assert f'value="{given["right"]}"' in text(response) or given["right"] == ""
    assert "crossrhythm" not in text(response)


@pytest.mark.parametrize(("right", "left"), [(1, 1), (4, 2), (6, 6)])
def test_hands_that_fit_plainly_are_shown_and_said(page, right: int, left: int):
    response = page(**asked(right, left))
    assert response.status_code == 200
    assert "The hands fit plainly here" in text(response)
    assert "crossrhythm" in text(response)
    assert "data-play-stage" not in text(response)


def test_the_largest_grid_is_drawn(page):
    assert page(**asked(64, 63)).status_code == 200


def test_near_strokes_that_melt_together_are_said_to(page):
    # Sixteen against fifteen quarters at 300: 15 * 200 ms / 240 = 12.5 ms a part, by arithmetic.
    shown = text(page(**asked(16, 15, now=300, goal=300)))
    assert "hardly told apart" in shown or "12 ms" in shown


def test_one_against_one_fits_plainly_and_is_said_so(page):
    shown = text(page(**asked(1, 1)))
    assert "Grid of 1 part. Right hand on 1. Left hand on 1." in shown
    assert "The hands fit plainly here: there is no cross-rhythm to drill." in shown


def test_a_chart_is_drawn_as_wide_as_its_column(cast: Cast, logged_in):
    client = logged_in(cast.oda.user)

    def lines(**given) -> int:
        answer = client.get(reverse("ratio-chart"), {"right": 16, "left": 15, **given})
        assert answer["Content-Type"] == "image/svg+xml"
        return text(answer).count('class="chart-line"')

    assert 1 < lines() < lines(width=300)
    assert lines(width=10**6) == lines()
    assert text(page_of(client)).count('class="chart-line"') == lines()


def page_of(client):
    return client.get(reverse(URL), asked(16, 15))


@pytest.mark.parametrize(
    "given",
    [
        {"right": 3, "left": ""},
        {"right": 0, "left": 2},
        {"right": 200, "left": 199},
        {"right": 3, "left": 2, "width": "x"},
    ],
)
def test_no_chart_is_there_for_what_cannot_be(cast: Cast, logged_in, given: dict):
    assert logged_in(cast.oda.user).get(reverse("ratio-chart"), given).status_code == 404
