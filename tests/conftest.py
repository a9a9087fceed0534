"""Fixtures that every room's tests share."""

import contextlib
import socket
from collections.abc import Callable, Iterator
from email.message import EmailMessage as Received
from email.parser import BytesParser
from email.policy import default

import pytest
from aiosmtpd.controller import Controller
from django.core.cache import cache
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


class Letterbox:
    """Takes every mail that comes in and keeps it, read as a message."""

    def __init__(self) -> None:
        self.mails: list[Received] = []

    async def handle_DATA(self, server, session, envelope) -> str:  # the name is aiosmtpd's
        self.mails.append(BytesParser(policy=default).parsebytes(envelope.content))
        return "250 kept"


def free_port() -> int:
    with contextlib.closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture
def letterbox(settings) -> Iterator[Letterbox]:
    """A real SMTP server on a free port, and the site sends its mail there."""
    cache.clear()  # no test waits for the pause between two mails of another
    handler = Letterbox()
    server = Controller(handler, hostname="127.0.0.1", port=free_port())
    server.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", server.port
    yield handler
    server.stop()
