"""The checker of pages must itself find what it is there for."""

import pytest

from tests.html import assert_clean


@pytest.mark.parametrize(
    "fault",
    [
        '<p style="color: red">x</p>',
        "<style>p {}</style>",
        "<script>go()</script>",
        '<script src="/a.js">go()</script>',
        '<button onclick="go()">x</button>',
        '<button hx-on:click="go()">x</button>',
        '<a href="javascript:go()">x</a>',
        '<link rel="stylesheet" href="//elsewhere.example/a.css">',
        '<script src="https://elsewhere.example/a.js"></script>',
        '<p id="a"></p><p id="a"></p>',
        '<p>Kept. <form method="post"></form></p>',
        '<input id="a" name="a">',
        '<img src="/a.png">',
        "<!doctype html><html><body><p>no heading</p></body></html>",
    ],
)
def test_a_fault_is_found(fault: str):
    with pytest.raises(AssertionError):
        assert_clean(fault)


def test_a_clean_page_passes():
    assert_clean(
        '<!doctype html><html><head><script src="/a.js" type="module"></script></head><body><h1>A</h1><a href="https://elsewhere.example/">B</a>'
        '<label for="a">A</label><input id="a"><label>B <input name="b"></label><input type="hidden" name="c">'
        '<img src="/a.png" alt=""><script type="application/json" id="data">{"a": 1}</script></body></html>'
    )
