"""Fixtures that every room's tests share."""

from collections.abc import Callable

import pytest
from django.test import Client

from studio.models import User
from tests.people import Cast, gather


@pytest.fixture
def cast(db: None) -> Cast:
    return gather()


@pytest.fixture
def logged_in() -> Callable[[User], Client]:
    """A client as this user sees the site."""

    def enter(user: User) -> Client:
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return enter
