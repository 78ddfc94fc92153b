"""The page in real Chromium: forms, answers, faults, lists, lines to copy, and who can use it."""

from __future__ import annotations

import contextlib
import http.client
import io
import json
import re
import subprocess
import sys
from urllib.parse import urlsplit

import pytest
from browsing import DESKTOP, PHONE, Tab, axe_violations, shell, tab_in
from pypdf import PdfReader

from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.present.views import pictured_paths
from dosewright_sdk import InProcess

PATHS = tuple(calculations())
HEAVIEST = 300_000  # bytes


def shown_numbers(tab: Tab) -> dict[str, float]:
    """Return the numbers of the answer's first table, unrounded, by their names in words."""
    rows = tab.page.locator(".answer > section:has(> h2:text-is('Answer')) tr").all()
    found = {}
    for row in rows:
        value = row.locator(".value")
        if value.get_attribute("title") is not None:
            found[row.locator("th").evaluate("th => th.firstChild.data")] = float(value.get_attribute("title"))
    return found


def name_in_words(name: str, tab: Tab) -> str:
    return tab.page.evaluate(
        "async ([name, at]) => (await import(at)).words(name)", [name, f"{tab.base}/page/elements.js"]
    )


def tab_to(tab: Tab, label: str) -> None:
    """Press Tab until the control with this label has the focus."""
    for _ in range(150):
        tab.page.keyboard.press("Tab")
        if (
            tab.page.evaluate(
                "document.activeElement.getAttribute('aria-label')"
                " ?? document.activeElement.labels?.[0]?.firstChild.data ?? document.activeElement.textContent"
            )
            == label
        ):
            return
    pytest.fail(f"Tab never reaches {label!r}")


@pytest.mark.parametrize("path", PATHS)
def test_each_form_answers_its_example_as_in_process(tab: Tab, path: str):
    tab.open(f"#{path}")
    tab.settled()
    answer = run(path, calculations()[path].example)
    shown = shown_numbers(tab)
    expected = {
        name_in_words(name, tab): getattr(answer, name)
        for name in answer.__struct_fields__
        if type(getattr(answer, name)) is float
    }
    assert shown == pytest.approx(expected, rel=1e-15)
    assert tab.page.locator(".caution li").count() == len(answer.cautions)
    assert tab.page.locator(".warning li").count() == len(answer.warnings)
    assert tab.page.locator(".fault-list").count() == 0
    assert any(address.endswith("contract.json") for address in tab.sizes)
    assert sum(tab.sizes.values()) < HEAVIEST, tab.sizes
    pictures = tab.page.locator(".picture img")
    assert pictures.count() == (1 if path in pictured_paths() else 0)
    if path in pictured_paths():
        assert len(pictures.get_attribute("alt")) > 40
        assert pictures.evaluate("image => image.complete && image.naturalWidth") > 100


def test_warnings_and_cautions_stand_above_the_numbers(tab: Tab):
    tab.open("#uv/dose")
    tops = [
        tab.page.locator(place).bounding_box()["y"]
        for place in (".warning", ".caution", ".answer > section:has(> h2:text-is('Answer'))")
    ]
    assert tops == sorted(tops)
    assert tops[0] < DESKTOP[1] / 2


def test_a_form_is_filled_by_keyboard(tab: Tab):
    tab.open("#uv/dose")
    tab_to(tab, "UVT")
    tab.page.keyboard.press("Control+A")
    tab.page.keyboard.type("0.95")
    tab.page.keyboard.press("Tab")
    tab.page.keyboard.type("1")  # the unit: a share of one
    tab_to(tab, "Flow")
    tab.page.keyboard.press("Control+A")
    tab.page.keyboard.type("5")
    tab.page.keyboard.press("Tab")
    tab.page.keyboard.type("gal/min")
    tab.settled()
    asked = {**calculations()["uv/dose"].example, "uvt": "0.95 1", "flow": "5 gal/min"}
    answer = InProcess().uv.dose(**asked)
    assert shown_numbers(tab)["Mean dose"] == pytest.approx(answer.mean_dose, rel=1e-15)
    assert tab.page.locator(".announcement").text_content().startswith("Result updated")


def test_units_of_the_answer_are_chosen_for_all_and_for_one(tab: Tab):
    tab.open("#pipe/velocity")
    tab.page.get_by_label("Units of the answer").select_option("us")
    tab.settled()
    example = calculations()["pipe/velocity"].example
    assert shown_numbers(tab)["Velocity"] == pytest.approx(run("pipe/velocity", {**example, "units": "us"}).velocity)
    tab.page.get_by_label("Unit of Bore").last.focus()
    tab.page.get_by_label("Unit of Bore").last.select_option("mm")
    tab.settled()
    assert shown_numbers(tab)["Bore"] == pytest.approx(run("pipe/velocity", example).bore)
    assert tab.page.evaluate("document.activeElement.dataset.unitOf") == "bore"


def test_long_times_are_told_as_a_person_reads_them_too(tab: Tab):
    tab.open("#chlorine/shock")
    tab.settled()

    def row(name: str):
        heading = tab.page.locator("th", has_text=re.compile(f"^{name}"))
        return tab.page.locator(".numbers tr").filter(has=heading)

    assert row("Hold time").locator(".value").get_attribute("title") == "1440"
    assert row("Hold time").locator(".read").inner_text().strip() == "= 24 h"
    assert row("First sample after").locator(".read").inner_text().strip() == "= 7 d"
    assert row("Clear samples").locator(".read").count() == 0


@pytest.mark.parametrize("path", ["chlorine/shock", "uv/dose"])
def test_nothing_lies_under_the_foot_of_a_printed_page(tab: Tab, path: str):
    tab.open(f"#{path}")
    tab.settled()
    sheets = PdfReader(io.BytesIO(tab.page.pdf(format="A4"))).pages
    foot = "A calculation is not a permit"
    told = [sheet.extract_text() for sheet in sheets]
    (last,) = (number for number, text in enumerate(told) if foot in text)
    assert last == len(sheets) - 1
    places: list[tuple[float, str]] = []

    def visit(text: str, sheet: list[float], at: list[float], *_: object) -> None:
        if text.strip():
            places.append((at[5] * sheet[3] + sheet[5], text))

    sheets[last].extract_text(visitor_text=visit)
    start = next(number for number, (_, text) in enumerate(places) if text.startswith(foot))
    above = min((height for height, _ in places[:start]), default=float("inf"))  # the foot can be alone on its sheet
    assert places[start][0] < above - 10.0  # points: a line of its own below all the rest
    assert not re.search(r"(?m)^(Drilled casing|Add )", told[0])
    assert "Methods and sources" in "".join(told)


def test_a_fault_is_told_at_its_field_and_taken_back(tab: Tab):
    tab.open("#uv/dose")
    uvt = tab.page.get_by_role("textbox", name="UVT")
    uvt.fill("abc")
    tab.page.wait_for_selector(".fault-list")
    assert uvt.get_attribute("aria-invalid") == "true"
    described = uvt.get_attribute("aria-describedby").split()
    told = tab.page.locator(f"#{described[0]}")
    assert told.is_visible()
    assert "abc" in told.text_content()
    tab.page.locator(".fault-list a").click()
    assert uvt.evaluate("field => field === document.activeElement")
    uvt.fill("88")
    tab.page.wait_for_selector(".fault-list", state="detached")
    assert uvt.get_attribute("aria-invalid") is None
    assert not told.is_visible()
    # The answer of the refused question is the browser's own complaint.
    assert all("422" in complaint for complaint in tab.complaints)
    tab.complaints.clear()


def test_a_fault_in_a_list_and_under_a_fold_is_told_there(tab: Tab):
    tab.open("#pipe/pressure-drop")
    tab.page.get_by_role("textbox", name="Length").first.fill("")
    temperature = tab.page.get_by_role("textbox", name="Water temperature")
    temperature.fill("400")
    tab.page.wait_for_selector(".fault-list")
    assert tab.page.get_by_role("textbox", name="Length").first.get_attribute("aria-invalid") == "true"
    assert temperature.get_attribute("aria-invalid") == "true"
    assert tab.page.locator(".fault-list li").count() == 2
    tab.complaints.clear()


def test_items_are_added_moved_and_removed_by_keyboard(tab: Tab):
    tab.open("#pipe/pressure-drop")
    # Items can hold items of their own (rated points), so segments are counted by their legends.
    segments = tab.page.locator(".item:has(> legend:text-matches('^Segment'))")
    before = segments.count()
    tab_to(tab, "Kind of segment to add")
    tab.page.keyboard.type("Elevation")
    tab.page.keyboard.press("Tab")
    tab.page.keyboard.press("Enter")
    assert segments.count() == before + 1
    assert tab.page.evaluate("document.activeElement.labels[0].firstChild.data") == "Elevation change"
    tab.page.keyboard.press("Control+A")
    tab.page.keyboard.type("3")
    tab.page.keyboard.press("Tab")
    tab.page.keyboard.type("m")
    tab.settled()
    example = calculations()["pipe/pressure-drop"].example
    longer = {**example, "segments": [*example["segments"], {"kind": "elevation", "elevation_change": "3 m"}]}
    assert shown_numbers(tab)["Pressure drop"] == pytest.approx(run("pipe/pressure-drop", longer).pressure_drop)
    last = segments.last
    last.get_by_role("button", name="Up").focus()
    tab.page.keyboard.press("Enter")
    assert segments.nth(before - 1).locator("> legend").text_content() == f"Segment {before}: elevation"
    segments.nth(before - 1).get_by_role("button", name="Remove").focus()
    tab.page.keyboard.press("Enter")
    tab.settled()
    assert segments.count() == before
    assert tab.page.evaluate("document.activeElement.textContent") == "Remove"
    assert shown_numbers(tab)["Pressure drop"] == pytest.approx(run("pipe/pressure-drop", example).pressure_drop)


def fetched(address: str) -> bytes:
    parts = urlsplit(address)
    with contextlib.closing(http.client.HTTPConnection(parts.netloc, timeout=10)) as connection:
        connection.request("GET", f"{parts.path}?{parts.query}")
        reply = connection.getresponse()
        assert reply.status == 200
        return reply.read()


@pytest.mark.parametrize("path", ["uv/derated-flow", "chlorine/shock", "pipe/velocity"])
def test_lines_to_copy_give_the_same_answer(tab: Tab, path: str):
    tab.open(f"#{path}")
    lines = {line.get_attribute("data-line"): line.text_content() for line in tab.page.locator("[data-line]").all()}
    answer = run(path, calculations()[path].example)
    first = next(name for name in answer.__struct_fields__ if type(getattr(answer, name)) is float)
    value = getattr(answer, first)
    assert json.loads(fetched(lines["Address"]))[first] == value
    ran = subprocess.run([shell(), "-c", lines["Shell"]], capture_output=True, check=True, timeout=30)
    assert json.loads(ran.stdout)[first] == value
    program = f"{lines['Python']}\nprint(repr(answer.{first}))"
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    assert float(ran.stdout.splitlines()[-1]) == value
    texts = re.findall(r'"([^"]*)"', lines["Spreadsheet formula"])
    assert max(map(len, texts)) <= 255
    assert lines["Spreadsheet formula"].startswith("=NUMBERVALUE(WEBSERVICE(")
    assert float(fetched("".join(texts[:-1]))) == value
    tab.page.get_by_role("button", name="Copy: shell").click()
    assert tab.page.evaluate("navigator.clipboard.readText()") == lines["Shell"]


def test_an_address_leads_to_its_form_and_back(tab: Tab):
    tab.open("/")
    tab.page.get_by_role("link", name=calculations()["pipe/velocity"].summary).click()
    tab.page.wait_for_selector(".lines")
    assert tab.page.evaluate("document.activeElement.tagName") == "H1"
    assert calculations()["pipe/velocity"].summary in tab.page.title()
    assert tab.page.locator("[aria-current=page]").count() == 1
    tab.page.go_back()
    tab.page.wait_for_selector(".choices")


def test_a_late_answer_does_not_overtake_a_newer_one(tab: Tab):
    tab.open("#pipe/velocity")
    waiting = []
    tab.page.route("**/v1/pipe/velocity", lambda route: waiting.append(route))  # noqa: PLW0108 - wrapped by Playwright
    flow = tab.page.get_by_role("textbox", name="Flow")
    for text in ("5", "7"):
        flow.fill(text)
        tab.page.wait_for_timeout(400)
    for route in reversed(waiting):
        route.continue_()
        tab.page.wait_for_timeout(200)
    example = {**calculations()["pipe/velocity"].example, "flow": "7 gal/min"}
    assert shown_numbers(tab)["Velocity"] == pytest.approx(run("pipe/velocity", example).velocity)


@pytest.mark.parametrize(
    "target", ["/", *(f"#{path}" for path in PATHS), "/methods", *(f"/methods/{p}" for p in PATHS)]
)
def test_everybody_can_use_it_and_it_fits_a_phone(chromium, server, target: str):
    for size, scheme in ((DESKTOP, "light"), (PHONE, "dark")):
        with tab_in(chromium, server.base_url, size=size, scheme=scheme) as tab:
            tab.open(target)
            tab.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
            assert axe_violations(tab) == [], (size, scheme)
            assert tab.overflow() <= 0
            assert tab.blocked() == []
            assert tab.complaints == []


def test_axe_would_find_something(tab: Tab):
    tab.open("/")
    tab.page.evaluate("document.body.append(document.createElement('input'))")
    assert any(found.startswith("label") for found in axe_violations(tab))
