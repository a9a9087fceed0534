import pytest
from django.test import RequestFactory

from studio.addresses import client_address


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (0, None, "192.0.2.1"),
        (0, "203.0.113.9", "192.0.2.1"),  # nobody is there to write the header but the client
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "198.51.100.66, 203.0.113.9", "203.0.113.9"),  # the first is what the client claims
        (2, "198.51.100.66, 203.0.113.9, 10.0.0.2", "203.0.113.9"),
        (2, "203.0.113.9", "192.0.2.1"),  # came in past one of the proxies
        (1, None, "192.0.2.1"),
        (1, "2001:DB8::1", "2001:db8::1"),
        (1, "nonsense", None),
    ],
)
def test_the_address_in_front_of_our_own_proxies_counts(settings, proxies, forwarded, address):
    """RFC 7239 section 5.2 describes the list: each proxy adds at the end whom it heard from."""
    settings.PROXIES = proxies
    extra = {"HTTP_X_FORWARDED_FOR": forwarded} if forwarded else {}
    assert client_address(RequestFactory().get("/", REMOTE_ADDR="192.0.2.1", **extra)) == address


def test_a_claimed_address_gives_no_more_guesses(cast, settings, client):
    settings.PROXIES, settings.AXES_FAILURE_LIMIT = 1, 3
    answers = [
        client.post(
            "/log-in/",
            {"email": "ines@example.org", "password": "guess"},
            HTTP_X_FORWARDED_FOR=f"198.51.100.{number}, 203.0.113.9",
        ).status_code
        for number in range(4)
    ]
    assert answers[-1] == 429
