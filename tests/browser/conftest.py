"""One browser and one service for the tests of a file.

Not for the whole run: while Playwright runs, no other event loop can run in this thread.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from browsing import Tab, browser, tab_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

    from serverproc import ServerProcess


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """A running browser."""
    with browser() as started:
        yield started


@pytest.fixture
def tab(chromium: Browser, server: ServerProcess) -> Iterator[Tab]:
    """A fresh window, in which nothing may be blocked or complained about."""
    with tab_in(chromium, server.base_url) as opened:
        yield opened
        assert opened.blocked() == []
        assert opened.complaints == []
