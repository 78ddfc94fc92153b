"""Nothing that a caller wrote becomes markup, in any page."""

from __future__ import annotations

from html.parser import HTMLParser

import jinja2
import pytest

from asgi import send
from dosewright.engine.run import run
from dosewright.present import blocks
from dosewright.present.answer_tables import AnswerView, Remarks
from dosewright.present.html import as_html, as_notebook, as_spreadsheet_table, environment

HOSTILE = "</td></p><script>alert(1)</script><img src=x onerror='a()' title=\"b\">{{ 7 * 7 }}{% raw %}&amp;"


class Seen(HTMLParser):
    """Tags, attributes and the text of a page, whole and in its attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str | None]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.text += data

    def times(self) -> int:
        return self.text.count(HOSTILE) + sum((value or "").count(HOSTILE) for _, value in self.attributes)

    def is_harmless(self) -> bool:
        names = {name for name, _ in self.attributes}
        sources = [value for name, value in self.attributes if name == "src"]
        return "script" not in self.tags and "onerror" not in names and "x" not in sources


BLOCKS = {
    blocks.Heading(HOSTILE): 1,
    blocks.Text(HOSTILE): 1,
    blocks.Notice(HOSTILE, (HOSTILE,)): 2,
    blocks.Listing((HOSTILE,)): 1,
    blocks.Table(HOSTILE, (HOSTILE, HOSTILE), ((HOSTILE, HOSTILE),)): 5,
    blocks.Figure(HOSTILE, HOSTILE, HOSTILE): 3,  # its picture is packed: the words count twice
    blocks.Checklist((blocks.Check(HOSTILE, (HOSTILE,)),)): 2,
    blocks.Lines((HOSTILE,)): 1,
}


def test_every_kind_of_block_is_tried() -> None:
    assert {type(block) for block in BLOCKS} == set(blocks.Block.__args__)


@pytest.mark.parametrize(("block", "times"), BLOCKS.items(), ids=lambda value: type(value).__name__)
def test_a_block_shows_what_was_written_and_is_not_markup(block: blocks.Block, times: int) -> None:
    page = Seen(as_html(blocks.Page(HOSTILE, (block,))).decode())
    assert page.is_harmless()
    assert page.times() == times + 2  # the title stands in the head and on the page


def test_a_notebook_shows_what_was_written() -> None:
    table = blocks.Table(HOSTILE, (HOSTILE,), ((HOSTILE,),))
    remarks = Remarks([HOSTILE], [HOSTILE], [HOSTILE], [HOSTILE])
    page = Seen(as_notebook(AnswerView(HOSTILE, remarks, [table])))
    assert page.is_harmless()
    assert page.times() == 8


def test_a_table_for_spreadsheets_shows_what_was_written() -> None:
    answer = run("pipe/velocity", {"flow": "9 gal/min", "bore": "20 mm"})
    answer.question = HOSTILE
    page = Seen(as_spreadsheet_table(answer, decimal_comma=False).decode())
    assert page.is_harmless()
    assert page.times() == 1


@pytest.mark.parametrize(
    "target", ["/", "/methods", "/methods/uv/dose", "/docs", "/guides", "/guides/excel", "/workbooks"]
)
def test_a_path_in_front_is_no_markup(target: str) -> None:
    before = '/a"><script>alert(1)</script><b title="'
    reply = send("GET", target, root_path=before)
    page = Seen(reply.body.decode())
    assert reply.status == 200
    assert "b" not in page.tags
    assert "<script>alert" not in reply.body.decode()
    assert any((value or "").startswith(before) for name, value in page.attributes if name in {"href", "src"})


def test_a_name_that_a_template_does_not_know_is_an_error() -> None:
    made = environment("dosewright.http")
    assert made.autoescape is True
    with pytest.raises(jinja2.UndefinedError):
        made.from_string("{{ missing }}").render()
