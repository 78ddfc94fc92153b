"""The page of a plan in a real browser: everybody can use it, it fits a phone, and it runs and fetches nothing."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

import pytest
from browsing import DESKTOP, PHONE, axe_violations, tab_in

from dosewright.engine.run import run
from sites import SITES, site

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from serverproc import ServerProcess


def heading_levels(page: Any) -> list[int]:
    return page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map((one) => Number(one.tagName[1]))")


@pytest.mark.parametrize("name", SITES)
def test_everybody_can_use_it_and_it_fits_a_phone(chromium: Browser, server: ServerProcess, name: str) -> None:
    question = run("site/plan", site(name)).question
    for size in (DESKTOP, PHONE):
        with tab_in(chromium, server.base_url, size=size) as tab:
            tab.open(f"{question}&format=html")
            assert tab.page.title()
            assert axe_violations(tab) == [], size
            assert tab.overflow() <= 0
            assert tab.blocked() == []
            assert tab.complaints == []
            assert list(tab.sizes) == [f"{server.base_url}{question}&format=html"]
            assert tab.page.evaluate("document.scripts.length") == 0
            shown = tab.page.evaluate("[...document.images].map((one) => one.complete && one.naturalWidth > 0)")
            assert shown
            assert all(shown)
            levels = heading_levels(tab.page)
            assert levels[:3] == [1, 2, 2]  # the title, the verdict, the dangers
            assert all(later - earlier <= 1 for earlier, later in itertools.pairwise(levels))


def test_what_is_ticked_off_by_keyboard_is_ticked(chromium: Browser, server: ServerProcess) -> None:
    with tab_in(chromium, server.base_url) as tab:
        tab.open(f"{run('site/plan', site('cottage')).question}&format=html")
        tab.page.keyboard.press("Tab")
        while tab.page.evaluate("document.activeElement.type") != "checkbox":
            tab.page.keyboard.press("Tab")
        tab.page.keyboard.press("Space")
        assert tab.page.evaluate("document.querySelectorAll('input:checked').length") == 1
