"""Real Chromium on the page: started without a profile, watched for what it asks, blocks and complains about."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import matplotlib as mpl
from playwright.sync_api import Error, sync_playwright

from debian import program

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from playwright.sync_api import Browser, Page, Request

__all__ = ["DESKTOP", "NARROW", "PHONE", "WIDE", "Tab", "axe_violations", "browser", "hosts_asked", "tab_in"]

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DESKTOP, PHONE = (1280, 900), (390, 844)
AXE = "axe-core@4.14.1"
WAIT = 15_000  # milliseconds
WIDE = {"serif": "DejaVu Serif", "sans-serif": "DejaVu Sans", "monospace": "DejaVu Sans Mono"}
NARROW = {"serif": "STIXGeneral", "sans-serif": "STIXGeneral", "monospace": "DejaVu Sans Mono"}

_WATCH = """
window.blocked = [];
addEventListener("securitypolicyviolation", (event) => {
  window.blocked.push(`${event.violatedDirective} ${event.blockedURI}`);
});
"""


def _font_settings(folder: str, families: Mapping[str, str]) -> str:
    """Write the settings under which Chromium finds the fonts that matplotlib ships, and no others."""
    fonts = Path(mpl.get_data_path()) / "fonts" / "ttf"
    preferred = "".join(
        f'<match target="pattern"><test name="family"><string>{asked}</string></test>'
        f'<edit name="family" mode="assign" binding="strong"><string>{given}</string></edit></match>'
        for asked, given in {**families, "system-ui": families["sans-serif"]}.items()
    )
    settings = Path(folder) / "fonts.conf"
    settings.write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">'
        f"<fontconfig><dir>{fonts}</dir><cachedir>{folder}/cache</cachedir>{preferred}</fontconfig>",
        encoding="utf-8",
    )
    return str(settings)


@contextlib.contextmanager
def browser(*more: str, families: Mapping[str, str] = WIDE) -> Iterator[Browser]:
    """Run a headless Chromium with a fresh profile, which sees the same fonts on every machine."""
    path = program("chromium", "chromium", "libatomic1")  # the library is what Playwright's driver needs
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder, sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=path,
            headless=True,
            args=[*FLAGS, *more],
            env={**os.environ, "FONTCONFIG_FILE": _font_settings(folder, families)},
        )
        try:
            yield started
        finally:
            started.close()


@dataclass(slots=True)
class Tab:
    """A page in a window of its own, with what it complained about and how much it fetched."""

    page: Page
    base: str
    complaints: list[str] = field(default_factory=list)
    sizes: dict[str, int] = field(default_factory=dict)

    def open(self, target: str) -> None:
        """Go to an address of the service; a calculation's is waited for until it answers."""
        self.page.goto("about:blank")
        self.page.goto(f"{self.base}/{target.lstrip('/')}")
        if target.startswith("#"):
            self.page.wait_for_selector(".lines", timeout=WAIT)

    def weigh(self, request: Request) -> None:
        """Note how large an answer is, unpacked."""
        with contextlib.suppress(Error):  # the body of a page that is left is gone
            self.sizes[request.url] = len(request.response().body())

    def settled(self) -> None:
        """Wait until the last question is answered: the form's pause is over and nothing is on its way."""
        self.page.wait_for_timeout(400)
        self.page.wait_for_load_state("networkidle")

    def blocked(self) -> list[str]:
        """Return what the page's content security policy stopped."""
        return self.page.evaluate("window.blocked")

    def overflow(self) -> int:
        """Return how many pixels the page is wider than its window."""
        return self.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


@contextlib.contextmanager
def tab_in(started: Browser, base: str, *, size: tuple[int, int] = DESKTOP, scheme: Any = "light") -> Iterator[Tab]:
    """Open a window."""
    width, height = size
    context = started.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    context.grant_permissions(["clipboard-read", "clipboard-write"], origin=base)
    context.add_init_script(_WATCH)
    page = context.new_page()
    page.set_default_timeout(WAIT)
    tab = Tab(page, base)
    page.on("console", lambda said: tab.complaints.append(said.text) if said.type in {"error", "warning"} else None)
    page.on("pageerror", lambda error: tab.complaints.append(str(error)))
    page.on("requestfinished", lambda request: tab.weigh(request))  # noqa: PLW0108 - Playwright marks what it is given
    try:
        yield tab
    finally:
        context.close()


@cache
def _axe() -> str:
    with tempfile.TemporaryDirectory() as folder:
        npm = program("npm", "nodejs", "npm")
        subprocess.run([npm, "install", "--silent", "--prefix", folder, AXE], check=True, timeout=300)
        return (Path(folder) / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")


def axe_violations(tab: Tab) -> list[str]:
    """Return what axe finds against the rules of accessibility."""
    tab.page.evaluate(_axe())
    found = tab.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{one['id']}: {node['html'][:160]} {node.get('failureSummary', '')[:200]}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


def hosts_asked(log: Path, base: str) -> set[str]:
    """Return every host that a page of ours asked, by a net log; what the browser asks for itself is left out."""
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    asked = [event.get("params", {}) for event in events]
    urls = [str(one["url"]) for one in asked if "url" in one and str(one.get("initiator", "")).startswith(base)]
    return {str(urlsplit(url).hostname) for url in urls}


def shell() -> str:
    """Return the shell that curl lines are run by."""
    return shutil.which("bash") or "/bin/sh"
