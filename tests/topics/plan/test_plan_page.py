"""The page of a plan: contents, accessibility and PDF."""

from __future__ import annotations

import io
import itertools
import re
from html.parser import HTMLParser

import msgspec
import pytest
from pypdf import PdfReader

from asgi import get, post
from dosewright.engine.run import run
from dosewright.present.views import page_html, page_pdf
from sites import SITES, site


class Reader(HTMLParser):
    """Text, elements, and what a screen reader needs."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.text: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)

    @property
    def said(self) -> str:
        return squeezed(" ".join(self.text))


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b]+", "", text)


@pytest.mark.parametrize("name", SITES)
def test_the_page_shows_the_verdict_and_every_caution(name: str) -> None:
    answer = run("site/plan", site(name))
    reader = Reader(page_html(answer).decode())
    pdf = PdfReader(io.BytesIO(page_pdf(answer)))
    printed = squeezed(" ".join(page.extract_text() for page in pdf.pages))
    wanted = [caution.message for caution in answer.cautions] + [reason.message[1:] for reason in answer.reasons]
    wanted += [gap.not_assessed for gap in answer.missing]
    if answer.commissioning:
        wanted += [step.title for step in answer.commissioning.steps]
    if answer.upkeep:
        wanted += [event.day for event in answer.upkeep.events]
    for text in wanted:
        assert squeezed(text) in reader.said, text
        assert squeezed(text) in printed, text
    assert squeezed(answer.question) in reader.said
    assert reader.said.index("Verdict:") < reader.said.index("Dangersinthiswork") < reader.said.index("Reasons")


def test_the_page_is_accessible_and_runs_no_script() -> None:
    page = page_html(run("site/plan", site("cottage"))).decode()
    tags = Reader(page).tags
    names = [tag for tag, _ in tags]
    assert "script" not in names
    assert not [attrs for _, attrs in tags if "style" in attrs or any(name.startswith("on") for name in attrs)]
    levels = [int(tag[1]) for tag in names if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    images = [attrs for tag, attrs in tags if tag == "img"]
    assert len(images) == 3
    assert all(len(attrs["alt"] or "") > 40 for attrs in images)
    assert names.count("caption") == names.count("table")
    assert all(attrs.get("scope") in {"col", "row"} for tag, attrs in tags if tag == "th")
    boxes = {attrs["id"] for tag, attrs in tags if tag == "input"}
    assert len(boxes) >= 10
    assert {attrs["for"] for tag, attrs in tags if tag == "label"} == boxes


def test_the_pdf_is_tagged_on_the_chosen_paper_and_reproducible() -> None:
    address = f"{run('site/plan', site('cottage')).question}&format=pdf"
    for query, size in (("", (595, 842)), ("&paper=letter", (612, 792))):
        reply = get(address + query)
        assert reply.headers["content-type"] == "application/pdf"
        pdf = PdfReader(io.BytesIO(reply.body))
        assert (round(pdf.pages[0].mediabox.width), round(pdf.pages[0].mediabox.height)) == size
        assert pdf.trailer["/Root"]["/MarkInfo"]["/Marked"]
        assert pdf.trailer["/Root"]["/Lang"] == "en"
        assert get(address + query).body == reply.body
    assert get(f"{address}&paper=a3").status == 422


def test_the_page_comes_with_a_strict_policy() -> None:
    reply = get(f"{run('site/plan', site('lake_cottage')).question}&format=html")
    policy = reply.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "script-src" not in policy


def test_text_from_the_request_is_escaped_on_the_page() -> None:
    answer = run("site/plan", site("cottage"))
    hostile = '#panic("x") $ <script>alert(1)</script> *_@'
    answer.reasons = [msgspec.structs.replace(run("site/plan", site("iron_well")).reasons[0], message=hostile)]
    assert b"<script" not in page_html(answer)
    printed = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(page_pdf(answer))).pages)
    assert squeezed(hostile) in squeezed(printed)


def test_the_train_is_drawn_to_scale_as_svg() -> None:
    request = site("cottage")["clearance"]
    reply = post("/v1/site/clearance?format=svg", request)
    assert reply.headers["content-type"] == "image/svg+xml"
    assert reply.body.decode() == run("site/clearance", {**request, "include_drawing": True}).drawing
    assert post("/v1/site/clearance?format=png", request).status == 406


def test_amounts_of_chlorine_are_rounded_to_the_safe_side_in_readable_units() -> None:
    answer = run("site/plan", site("cottage"))
    page = page_html(answer).decode()
    shown, unit = re.search(r"Flush volume</th><td>([0-9.,]+) ([^<]+)</td>", page).groups()
    assert unit == answer.chlorination.units["flush_volume"]
    assert answer.chlorination.flush_volume <= float(shown.replace(",", "")) < 1.01 * answer.chlorination.flush_volume
    assert "What is to be reached is rounded up" in page
    bare = {name: part for name, part in site("cottage").items() if name not in {"chlorination", "commissioning"}}
    assert "What is to be reached is rounded up" not in page_html(run("site/plan", bare)).decode()
