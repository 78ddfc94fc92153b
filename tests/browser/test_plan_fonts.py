"""The page of a plan on a phone, in narrow and in wide letters: the keyboard reaches every table that scrolls."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from browsing import NARROW, PHONE, WIDE, Tab, axe_violations, browser, tab_in

from dosewright.engine.run import run
from sites import SITES, site

if TYPE_CHECKING:
    from collections.abc import Mapping

    from serverproc import ServerProcess

SCROLLING = "[...document.querySelectorAll('.wide')].filter((one) => one.scrollWidth > one.clientWidth)"


def width_of_letters(tab: Tab) -> float:
    """Return the width of one sentence in the letters of the page."""
    return tab.page.evaluate(
        "(() => { const pen = document.createElement('canvas').getContext('2d');"
        " pen.font = getComputedStyle(document.body).font;"
        " return pen.measureText('Every drop of water is disinfected').width; })()"
    )


def reached_by_tab(tab: Tab) -> int:
    """Press Tab through the page; return how many scrolling tables had the focus."""
    tab.page.evaluate(f"window.scrolling = {SCROLLING}")
    reached: set[int] = set()
    for _ in range(tab.page.evaluate("document.querySelectorAll('a, input, [tabindex]').length") + 1):
        tab.page.keyboard.press("Tab")
        reached.add(tab.page.evaluate("window.scrolling.indexOf(document.activeElement)"))
    return len(reached - {-1})


def test_the_fonts_are_the_ones_named(server: ServerProcess) -> None:
    widths: list[float] = []
    for families in (NARROW, WIDE):
        with browser(families=families) as started, tab_in(started, server.base_url, size=PHONE) as tab:
            tab.open(f"{run('site/plan', site('cottage')).question}&format=html")
            widths.append(width_of_letters(tab))
    assert widths[1] > 1.1 * widths[0]


@pytest.mark.parametrize("families", [NARROW, WIDE], ids=["narrow", "wide"])
@pytest.mark.parametrize("spacing", ["normal", "0.3em"])
def test_the_keyboard_reaches_each_scrolling_table(
    server: ServerProcess, families: Mapping[str, str], spacing: str
) -> None:
    with browser(families=families) as started:
        for name in SITES:
            with tab_in(started, server.base_url, size=PHONE) as tab:
                tab.open(f"{run('site/plan', site(name)).question}&format=html")
                tab.page.evaluate("spacing => { document.body.style.letterSpacing = spacing; }", spacing)
                scrolling = tab.page.evaluate(f"{SCROLLING}.length")
                if spacing != "normal":
                    assert scrolling > 0, name
                assert reached_by_tab(tab) == scrolling, name
                assert axe_violations(tab) == [], name
                assert tab.overflow() <= 0
                assert tab.complaints == []
