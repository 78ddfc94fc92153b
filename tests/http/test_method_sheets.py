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
from dosewright.http.page.methods import mathml, method, names_in
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
    assert len(re.findall(r"<math[^>]* display=\"block\">", text)) == len(told.equations)
    for symbol, meaning in told.symbols:
        assert symbol in text
        assert len(meaning) > 2
    equations = re.findall(r"<math.*?</math>", text)
    assert len(equations) == len(told.equations) + len(told.symbols)
    for found in equations:
        read = minidom.parseString(found)  # noqa: S318 - of our own making
        assert _leaves(read.documentElement)
        assert [
            leaf for leaf in _leaves(read.documentElement) if not leaf.strip() or re.search(r"[\\{}^_&]", leaf)
        ] == []


def _leaves(element):
    """Return what the leaves of an equation show; spaces and parts that may be empty have none."""
    if element.tagName in {"mi", "mn", "mo", "mtext"}:
        return ["".join(node.data for node in element.childNodes)]
    return [leaf for child in element.childNodes for leaf in _leaves(child)]


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
    assert not re.search(r"https?://(?!www\.w3\.org/(?:2000/svg|1998/Math/MathML)\")", text)


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
    ("form", "expected"),
    [
        (r"\frac{E V}{Q}", "<mfrac><mrow><mi>E</mi><mi>V</mi></mrow><mrow><mi>Q</mi></mrow></mfrac>"),
        (r"D_\text{mean}", "<msub><mi>D</mi><mtext>mean</mtext></msub>"),
        (r"x_1^2", "<msubsup><mi>x</mi><mn>1</mn><mn>2</mn></msubsup>"),
        (r"\sqrt{a}", "<msqrt><mrow><mi>a</mi></mrow></msqrt>"),
        (r"\ln(x)", "<mi>ln</mi>"),
        (r"a < b", "<mo>&#x0003C;</mo>"),
    ],
)
def test_latex_becomes_mathml(form: str, expected: str):
    assert expected in mathml(form)


@pytest.mark.parametrize(
    "form", ["", "a_", r"\left(a", r"\frac{a", "{a", "a}", r"\unknown{a}", "x^2^3", r"a & b", r"\text{a"]
)
def test_broken_latex_is_refused(form: str):
    with pytest.raises(ValueError, match=r"'"):
        mathml(form)


def test_names_are_those_of_symbols_not_functions():
    form = (
        r"\Delta p_\text{max} = \frac{n}{k} \ln(1 + k D_i) \, \text{d}z + \log_{10}(\text{pH}) \sum_j K_\infty \rho^2"
    )
    assert set(names_in(form)) == {
        r"\Delta p_\text{max}", "n", "k", "D_i", r"\text{d}z", r"\text{pH}", r"K_\infty", r"\rho",
    }  # fmt: skip


@pytest.mark.parametrize("path", ["chlorine/shock", "chlorine/neutralise", "chlorine/contact-time"])
def test_sheets_tell_where_sources_disagree_and_what_is_taken(path: str):
    parser = _Tables()
    parser.feed(sheet(path))
    rows = parser.tables["Where sources disagree"][1:]
    assert [tuple(row) for row in rows] == list(method(path).settled)
    assert all(len(text) > 40 for _, text in rows)
