"""Pages of the chlorine topic: every danger on them, the amounts first, and a PDF that opens."""

import io
import re

import pytest
from pypdf import PdfReader

from asgi import get, post
from dosewright.calculations.registry import calculations
from dosewright.calculations.running import run
from dosewright.pages import answer_pdf, has_page
from dosewright.pages.chlorine import chlorine_page
from dosewright.pages.html import as_html

PATHS = [path for path in calculations() if path.startswith("chlorine/")]
MOST_PAGES = {"chlorine/batch": 6}


def example(path):
    return dict(calculations()[path].example)


def words(text):
    """Return a text without spaces and breaks, since a line of a page may end at a slash."""
    return re.sub(r"\s+|\u200b", "", text)


def as_text(pdf):
    reader = PdfReader(io.BytesIO(pdf))
    return len(reader.pages), words(" ".join(page.extract_text() for page in reader.pages))


@pytest.mark.parametrize("path", PATHS)
def test_every_danger_source_and_number_of_an_answer_is_on_its_page(path):
    answer = run(path, example(path))
    pages, told = as_text(answer_pdf(answer))
    assert pages <= MOST_PAGES.get(path, 2)
    for caution in answer.cautions:
        assert words(caution.message) in told, caution.code
    for warning in answer.warnings:
        assert words(warning.message) in told, warning.code
    for basis in answer.basis:
        # The start, since the foot of a page may stand within a long one.
        assert words(basis.source)[:40] in told, basis.source


def test_the_procedure_has_its_amounts_steps_and_room_to_write():
    answer = run("chlorine/batch", example("chlorine/batch"))
    html = as_html(chlorine_page(answer)).decode()
    for stage in answer.stages:
        assert f"{stage.metric}, or {stage.customary}" in html
    assert html.count('type="checkbox"') == len(answer.steps)
    for place in answer.keep_out:
        assert place.why in html
    assert "Second sample" in html
    assert f"Vinegar: {answer.vinegar_volume:.3g} L." in html
    dangers, amounts = html.index("Dangers in this work"), html.index("What to measure out")
    assert dangers < amounts < html.index("Steps</h2>") < html.index("Sources</h2>")


def test_what_was_asked_is_on_the_page_as_it_was_written():
    told = as_text(answer_pdf(run("chlorine/contact-time", example("chlorine/contact-time"))))[1]
    assert words("9 degC") in told
    assert words("0.8 mg/L") in told
    assert words("tank; volume 300 gal; baffling poor") in told


@pytest.mark.parametrize("path", PATHS)
def test_a_page_comes_over_http_on_either_paper(path):
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
        content = document["paths"][f"/v1/{path}"]["post"]["responses"]["200"]["content"]
        assert ("application/pdf" in content) == has_page(entry.answer), path
