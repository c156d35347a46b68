from __future__ import annotations

import pytest
from django.test import Client as Browser

from tests.bookings.cast import browser_of, manager


@pytest.fixture
def desk(db: None) -> Browser:
    """The manager's browser."""
    return browser_of(manager())
