"""Pages of the chlorine topic: every caution, amounts first, and a valid PDF."""

import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from asgi import get, post
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.present.html import as_html
from dosewright.present.rounding import amount, number
from dosewright.present.views import page_pdf
from dosewright.topics.chlorine.page import chlorine_page

PATHS = [path for path in calculations() if path.startswith("chlorine/")]
MOST_PAGES = {"chlorine/shock": 6}  # the published rules side by side take most of one


def example(path):
    return dict(calculations()[path].example)


def words(text):
    """Return a text without spaces and breaks, since a line of a page may end at a slash."""
    return re.sub(r"\s+", "", text)


def as_text(pdf):
    reader = PdfReader(io.BytesIO(pdf))
    return len(reader.pages), words(" ".join(page.extract_text() for page in reader.pages))


@pytest.mark.parametrize("path", PATHS)
def test_every_danger_source_and_number_of_an_answer_is_on_its_page(path):
    answer = run(path, example(path))
    pages, told = as_text(page_pdf(answer))
    assert pages <= MOST_PAGES.get(path, 2)
    for caution in answer.cautions:
        assert words(caution.message) in told, caution.code
    for warning in answer.warnings:
        assert words(warning.message) in told, warning.code
    for basis in answer.basis:
        # The start, since the foot of a page may stand within a long one.
        assert words(basis.source)[:40] in told, basis.source


def test_the_procedure_has_amounts_steps_and_lines_to_write_on():
    answer = run("chlorine/shock", example("chlorine/shock"))
    html = as_html(chlorine_page(answer)).decode()
    for stage in answer.stages:
        assert f"{stage.metric}, or {stage.customary}" in html
    assert html.count('type="checkbox"') == len(answer.steps)
    for place in answer.no_discharge_places:
        assert place.reason in html
    assert "Second sample" in html
    assert f"Vinegar: {answer.vinegar_volume * 1000:.3g} mL." in html
    assert f"Product: {answer.stages[0].metric}, or {answer.stages[0].customary}. Water: 37.9 L." in html
    assert "Time: 24 h." in html
    assert "Time: 7 d." in html
    assert "1440" not in html
    assert "10080" not in html
    dangers, amounts = html.index("Dangers in this work"), html.index("Amounts to measure out")
    assert dangers < amounts < html.index("Steps</h2>") < html.index("Sources</h2>")


@pytest.mark.parametrize("path", PATHS)
def test_the_address_on_a_page_can_be_copied_from_it(path):
    answer = run(path, example(path))
    assert answer.question in as_text(page_pdf(answer))[1]


def test_amounts_are_in_readable_units():
    for value, unit, told in (
        (1440.0, "min", "24 h"),
        (10080.0, "min", "7 d"),
        (60.0, "min", "60 min"),
        (119.0, "s", "119 s"),
        (120.0, "s", "2 min"),
        (48.0, "h", "2 d"),
        (0.151, "gal", "19.3 fl oz"),
        (363.0, "fl_oz", "2.84 gal"),
        (1392.0, "mL", "1.39 L"),
        (0.00128, "m3", "1.28 L"),
        (53.0, "oz", "3.31 lb"),
        (1503.0, "g", "1.5 kg"),
        (0.0056, "gal/min", "8.06 gal/d"),
        (0.0212, "L/min", "21.2 mL/min"),
        (300.0, "gal/d", "300 gal/d"),
        (0.0, "L", "0 L"),
        (100.0, "mg/L", "100 mg/L"),
    ):
        assert amount(value, unit) == told


@given(st.floats(1e-6, 1e7), st.sampled_from(["up", "down"]))
def test_rounding_to_a_side_never_passes_to_the_other(value, side):
    shown = float(number(value, side).replace(",", ""))
    off = shown / value - 1.0
    if side == "down":
        off = -off
    assert -1e-8 <= off < 0.0101


def test_rounding_never_hides_a_shortfall():
    ask = example("chlorine/contact-time")
    solved = run("chlorine/contact-time", {**ask, "flow": None})
    html = as_html(chlorine_page(solved)).decode()
    flow = float(re.search(r"Flow</th><td>([0-9.]+) L/min", html)[1])
    assert flow <= solved.flow
    assert run("chlorine/contact-time", {**ask, "flow": f"{flow} L/min"}).sufficient
    short = run("chlorine/contact-time", {**ask, "flow": f"{solved.flow * 1.0001} L/min"})
    assert not short.sufficient
    assert re.search(r"Inactivation ratio</th><td>([0-9.]+)<", as_html(chlorine_page(short)).decode())[1] == "0.999"


def test_places_on_a_page_are_counted_from_one():
    answer = run("chlorine/contact-time", example("chlorine/contact-time"))
    html = as_html(chlorine_page(answer)).decode()
    assert "segments.1.baffling_factor" in answer.defaults
    assert "Segment 2, baffling factor" in html
    assert ">Segment 1<" in html


def test_the_inputs_are_on_the_page_as_written():
    told = as_text(page_pdf(run("chlorine/contact-time", example("chlorine/contact-time"))))[1]
    assert words("9 degC") in told
    assert words("0.8 mg/L") in told
    assert words("tank; volume 300 gal; baffling poor") in told


@pytest.mark.parametrize("path", PATHS)
def test_a_page_is_served_on_either_paper(path):
    sizes = []
    for paper in ("a4", "letter"):
        reply = post(f"/v1/{path}?format=pdf&paper={paper}", example(path))
        assert reply.status == 200
        assert reply.headers["content-type"] == "application/pdf"
        page = PdfReader(io.BytesIO(reply.body)).pages[0].mediabox
        sizes.append((round(float(page.width)), round(float(page.height))))
    assert sizes == [(595, 842), (612, 792)]


def test_the_document_names_the_page_where_there_is_one():
    document = get("/openapi.json").json()
    for path, entry in calculations().items():
        response = document["paths"][f"/v1/{path}"]["post"]["responses"]["200"]["$ref"].rpartition("/")[2]
        content = document["components"]["responses"][response]["content"]
        assert ("application/pdf" in content) == (entry.views.page is not None), path
