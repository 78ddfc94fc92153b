"""What the page asks of the network, by the browser's own log of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from browsing import browser, hosts_asked, tab_in

if TYPE_CHECKING:
    from pathlib import Path


def test_nothing_outside_is_asked(server, tmp_path: Path):
    log = tmp_path / "net.json"
    with browser(f"--log-net-log={log}") as started, tab_in(started, server.base_url) as tab:
        for target in ("/", "#uv/derated-flow", "#chlorine/shock", "/methods/uv/dose"):
            tab.open(target)
        tab.settled()
    assert hosts_asked(log, server.base_url) == {"127.0.0.1"}


def test_the_log_would_show_what_is_outside(server, tmp_path: Path):
    log = tmp_path / "net.json"
    with browser(f"--log-net-log={log}") as started, tab_in(started, server.base_url) as tab:
        tab.open("/problems/not-found")  # no policy of the page's stands here
        tab.page.evaluate("fetch('http://outside.invalid/').catch(() => null)")
    assert "outside.invalid" in hosts_asked(log, server.base_url)
