"""What the tests of lessons share."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext


@pytest.fixture
def count_queries() -> Callable[[Client, str], int]:
    """How many queries a page needs."""

    def count(client: Client, url: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(url).status_code == 200
        return len(queries)

    return count
