"""The method sheets and what the page is made from, without a browser."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from xml.dom import minidom

import pytest

from asgi import get, send
from dosewright.engine.check_values import verdicts
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculations
from dosewright.http.page.mathml import equation
from dosewright.http.page.methods import method
from dosewright.http.page.routes import _FILES, _STATIC

PATHS = tuple(calculations())
INPUTS = {"measure", "series", "choice", "flag", "day", "section", "items"}


class _Tables(HTMLParser):
    """The rows of each table, under the heading before it."""

    def __init__(self) -> None:
        super().__init__()
        self.heading, self.tables, self._in = "", {}, ""

    def handle_starttag(self, tag, attrs):
        self._in = tag
        if tag == "tr":
            self.tables.setdefault(self.heading, []).append([])
        if tag in {"td", "th"}:
            self.tables[self.heading][-1].append("")
        if tag == "h2":
            self.heading = ""

    def handle_data(self, data):
        if self._in == "h2":
            self.heading += data
        elif self._in in {"td", "th"} and self.tables.get(self.heading):
            self.tables[self.heading][-1][-1] += data

    def handle_endtag(self, tag):
        self._in = ""


def sheet(path: str) -> str:
    reply = get(f"/methods/{path}")
    assert reply.status == 200
    return reply.body.decode()


@pytest.mark.parametrize("path", PATHS)
def test_each_calculation_has_equations_with_every_symbol_explained(path: str):
    told = method(path)
    assert told.equations
    text = sheet(path)
    assert text.count('<math display="block">') == len(told.equations)
    for mathml, meaning in told.symbols:
        assert mathml in text
        assert len(meaning) > 2
    for found in re.findall(r"<math.*?</math>", text):
        minidom.parseString(found)  # noqa: S318 - of our own making


@pytest.mark.parametrize("path", PATHS)
def test_each_sheet_shows_every_check_value_with_its_deviation(path: str):
    parser = _Tables()
    parser.feed(sheet(path))
    expected = list(verdicts(target=path))
    rows = parser.tables.get("Check values", [[]])[1:]
    assert len(rows) == len(expected)
    for row, verdict in zip(rows, expected, strict=True):
        assert row[0] == verdict.check["field"]
        assert row[1].startswith(verdict.check["published"])
        published = float(verdict.check["published"])
        assert float(row[2]) - published == pytest.approx(float(row[3]), rel=0.1, abs=1e-11 * abs(published) + 1e-15)
        assert row[5] == "met"
        assert verdict.check["source"] in row[6]
    inputs = parser.tables["Inputs"][1:]
    assert [row[0] for row in inputs] == [field.name for field in reader_for(calculations()[path].request).fields]
    assert all(len(row) == 3 and all(row) for row in parser.tables["Sources and validity"])


def test_the_list_leads_to_every_sheet():
    text = get("/methods").body.decode()
    assert [path for path in PATHS if f'href="/methods/{path}"' not in text] == []
    missing = get("/methods/uv/dos")
    assert missing.status == 404
    assert "uv/dose" in missing.json()["detail"]


def test_the_page_knows_every_calculation():
    contract = get("/page/contract.json").json()
    assert tuple(one["path"] for one in contract["calculations"]) == PATHS
    assert {one["topic"] for one in contract["calculations"]} == {topic["name"] for topic in contract["topics"]}
    assert get("/page/contract/uv/dos").status == 404


@pytest.mark.parametrize("path", PATHS)
def test_what_a_form_is_made_from_holds_every_field(path: str):
    entry, told = calculations()[path], get(f"/page/contract/{path}").json()
    kinds = get("/page/contract.json").json()["kinds"]
    own = told["calculations"][path]
    assert [one["name"] for one in own["fields"]] == [field.name for field in reader_for(entry.request).fields]
    assert {one["type"] for one in own["fields"]} <= INPUTS
    assert own["example"] == json.loads(json.dumps(dict(entry.example)))
    for one in _every(told):
        if one.get("type") == "section":
            assert one["calculation"] in told["calculations"]
        elif one.get("type") == "items":
            assert set(one["kinds"].values()) <= set(told["structs"])
        elif "doc" in one and "kind" in one:
            assert one["kind"] in kinds


def _every(value):
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from _every(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _every(inner)


@pytest.mark.parametrize(
    "target", ["/", "/methods", "/methods/uv/dose", "/page/page.js", "/page/page.css", "/page/icon.svg"]
)
def test_every_part_of_the_page_carries_the_strict_policy(target: str):
    reply = get(target)
    policy = reply.headers["content-security-policy"]
    assert policy.startswith(
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'"
    )
    assert "unsafe" not in policy
    text = reply.body.decode()
    assert not re.search(r"<script(?![^>]*\bsrc=)|\sstyle=|\son[a-z]+=[\"']", text)
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text)


def test_each_file_of_the_page_is_served():
    shipped = {file.name for file in _STATIC.iterdir()}
    assert shipped == set(_FILES)
    assert all(get(f"/page/{name}").status == 200 for name in shipped)
    assert get("/page/index.html").status == 404


def test_behind_a_proxy_every_link_keeps_its_prefix():
    for target in ("/", "/methods", "/methods/uv/dose"):
        text = send("GET", target, root_path="/wells").body.decode()
        links = re.findall(r'(?:href|src|data-root)="(/[^"]*)"', text)
        assert links
        assert [link for link in links if not link.startswith("/wells")] == []


@pytest.mark.parametrize(
    ("form", "mathml"),
    [
        ("D = E V / Q", "<mfrac><mrow><mi>E</mi><mo>&#x2062;</mo><mi>V</mi></mrow><mrow><mi>Q</mi></mrow></mfrac>"),
        ("a · b / c", "<mi>a</mi><mo>·</mo><mfrac><mrow><mi>b</mi></mrow><mrow><mi>c</mi></mrow></mfrac>"),
        ("x_1^2", "<msup><mrow><msub><mi>x</mi><mn>1</mn></msub></mrow><mrow><mn>2</mn></mrow></msup>"),
        ("-x", "<mo>−</mo><mi>x</mi>"),
        ("sqrt(a + b)", "<msqrt><mi>a</mi><mo>+</mo><mi>b</mi></msqrt>"),
        ("ln(x)", "<mi>ln</mi><mo>&#x2061;</mo><mrow><mo>(</mo><mi>x</mi><mo>)</mo></mrow>"),
        ("a < b", "<mo>&lt;</mo>"),
    ],
)
def test_notation_becomes_mathml(form: str, mathml: str):
    assert mathml in equation(form).mathml


@pytest.mark.parametrize("form", ["", "a +", "(a", "a)", "a / ", "{a", "a = = b", "<script>"])
def test_broken_notation_is_refused(form: str):
    with pytest.raises(ValueError, match=r"'"):
        equation(form)


def test_names_are_those_of_symbols_not_functions():
    assert equation('D = {n / k} ln(1 + k D_mean / n) "only"').names == {"D", "n", "k", "D_mean"}


@pytest.mark.parametrize("path", ["chlorine/batch", "chlorine/neutralise", "chlorine/contact-time"])
def test_sheets_tell_where_sources_disagree_and_what_is_taken(path: str):
    parser = _Tables()
    parser.feed(sheet(path))
    rows = parser.tables["Where sources disagree"][1:]
    assert [tuple(row) for row in rows] == list(method(path).settled)
    assert all(len(text) > 40 for _, text in rows)
