"""The forms an answer comes in and the controls that choose them: as bytes, without a socket."""

import csv
import html
import html.parser
import io
from typing import Any
from urllib.parse import quote
from xml.etree import ElementTree as ET

import msgspec
import pytest

from asgi import Reply, get, post
from dosewright.engine.base import Answer
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.present.csv import as_csv
from dosewright.present.html import as_spreadsheet_table
from dosewright.present.rows import own_leaves
from requests_velocity import ASKED, PATHS, REQUEST


def expected(**changes: Any) -> Any:
    return run("pipe/velocity", {**REQUEST, **changes})


def faults(reply: Reply) -> list[tuple[str, str]]:
    return [(fault["pointer"], fault["code"]) for fault in reply.json()["errors"]]


# Text


def test_a_picked_number_is_bare() -> None:
    reply = get(ASKED + "&pick=velocity")
    assert reply.body == repr(expected().velocity).encode()
    assert reply.headers["content-type"] == "text/plain; charset=utf-8"


def test_pick_reaches_units_warnings_and_items() -> None:
    assert get(ASKED + "&pick=units.velocity").body == b"ft/s"
    assert b"Local plumbing" in get(ASKED + "&pick=cautions").body
    answer = run("chlorine/shock", calculations()["chlorine/shock"].example)
    assert float(get(f"{answer.question}&pick=vessels.1.volume").body) == answer.vessels[1].volume


def test_a_misspelt_pick_names_the_near_one() -> None:
    reply = get(ASKED + "&pick=velocty")
    assert reply.status == 422
    assert faults(reply) == [("/pick", "unknown_field")]
    assert "'velocity'" in reply.json()["detail"]


def test_pick_belongs_to_text() -> None:
    assert faults(get(ASKED + "&format=csv&pick=velocity")) == [("/pick", "not_allowed")]


# Decimal comma


def test_a_comma_is_refused_with_the_reason() -> None:
    reply = get("/v1/pipe/velocity?flow=2,5+gal/min&bore=20+mm")
    assert reply.status == 422
    (fault,) = reply.json()["errors"]
    assert fault["code"] == "decimal_comma"
    assert "decimals or thousands" in fault["message"]
    assert "decimal=comma" in fault["message"]


def test_a_decimal_comma_holds_for_question_and_answer() -> None:
    answer = expected(flow="2.5 gal/min", bore="20.5 mm")
    reply = get("/v1/pipe/velocity?flow=2,5+gal/min&bore=20,5+mm&units=us&decimal=comma&pick=velocity")
    assert reply.body.decode() == repr(answer.velocity).replace(".", ",")


def test_a_decimal_comma_in_the_items_of_a_list() -> None:
    asked = "/v1/pipe/pressure-drop?flow=9,5+gal/min&segments=pipe;length:60,5+ft;bore:20,5+mm;roughness:1,5+um"
    with_comma = get(f"{asked}&decimal=comma&pick=pressure_drop").body.decode()
    with_point = get(f"{asked.replace(',', '.')}&pick=pressure_drop").body.decode()
    assert with_comma == with_point.replace(".", ",")
    assert float(with_point) > 0


def test_a_decimal_comma_writes_semicolons_into_csv() -> None:
    rows = list(csv.reader(io.StringIO(get(ASKED + "&format=csv&decimal=comma").body.decode()), delimiter=";"))
    assert rows[1] == ["velocity", repr(expected().velocity).replace(".", ","), "ft/s"]


@pytest.mark.parametrize("flow", ["2.5", "2.500,5", "1.234"])
def test_a_point_beside_decimal_comma_is_refused(flow: str) -> None:
    reply = get(f"/v1/pipe/velocity?flow={flow}+gal/min&bore=20+mm&decimal=comma")
    assert faults(reply) == [("/flow", "decimal_point")]


@pytest.mark.parametrize("flow", ["1,234,567", "2,5,"])
def test_two_commas_are_never_guessed(flow: str) -> None:
    assert get(f"/v1/pipe/velocity?flow={flow}+gal/min&bore=20+mm&decimal=comma").status == 422


def test_a_control_takes_only_its_values() -> None:
    reply = get(ASKED + "&decimal=komma&pick=velocity")
    assert faults(reply) == [("/decimal", "unknown_choice")]
    assert reply.json()["errors"][0]["allowed"] == ["point", "comma"]


# What clients write into an address


@pytest.mark.parametrize(
    "written",
    [
        "9+m%C2%B3/h",  # ENCODEURL leaves no sign of its own; + is a space in a form's encoding
        "9%20m%C2%B3%2Fh",
        "9%20m3/h",
        "9m3/h",
        "%2B9%20m3/h",
        "9.0E0%20m3/h",
        "9E%2B00%20m3/h",
    ],
)
def test_spaces_signs_and_exponents_as_clients_encode_them(written: str) -> None:
    reply = get(f"/v1/pipe/velocity?flow={written}&bore=20+mm&pick=velocity")
    assert float(reply.body) == run("pipe/velocity", {"flow": "9 m3/h", "bore": "20 mm"}).velocity


@pytest.mark.parametrize("micro", ["µ", "μ"])
def test_both_micro_signs_are_read(micro: str) -> None:
    segment = f"pipe;length:60+ft;bore:20+mm;roughness:{quote('1.5 ' + micro)}m"
    asked = f"/v1/pipe/pressure-drop?flow=9+gal/min&segments={segment}"
    plain = asked.replace(quote(micro), "u")
    assert get(asked + "&pick=pressure_drop").body == get(plain + "&pick=pressure_drop").body
    assert get(asked).status == 200


@pytest.mark.parametrize("share", ["75%25", "75%20%25", "75%", "75+%"])
def test_percent_signs_escaped_and_bare(share: str) -> None:
    example = dict(calculations()["uv/dose"].example)
    rest = "&".join(f"{name}={quote(str(value))}" for name, value in example.items() if name != "uvt")
    reply = get(f"/v1/uv/dose?{rest}&uvt={share}&pick=mean_dose")
    assert float(reply.body) == run("uv/dose", {**example, "uvt": "75 %"}).mean_dose


def test_a_plus_that_became_a_space_is_refused_not_dropped() -> None:
    assert get("/v1/pipe/velocity?flow=9E+0+gal/min&bore=20+mm").status == 422


def test_latin_1_is_refused() -> None:
    reply = get("/v1/pipe/velocity?flow=9%20m%B3/h&bore=20+mm")
    assert reply.status == 400
    assert "UTF-8" in reply.json()["detail"]


# Refusals as text


def test_errors_as_text_answer_200_with_a_short_reason() -> None:
    reply = get("/v1/pipe/velocity?flow=9&boer=20+mm&errors=text&pick=velocity")
    assert reply.status == 200
    assert reply.headers["content-type"].startswith("text/plain")
    assert reply.headers["cache-control"] == "no-store"
    assert reply.body.startswith(b"ERROR: flow: ")
    assert len(reply.body.decode()) <= 255
    assert b"\n" not in reply.body


@pytest.mark.parametrize("asked", ["/v1/pipe/velocty?errors=text", "/v1/pipe/velocity?flow=%B3&errors=text"])
def test_errors_as_text_outside_the_calculation(asked: str) -> None:
    reply = get(asked)
    assert (reply.status, reply.body[:7]) == (200, b"ERROR: ")


def test_errors_as_text_leave_an_answer_alone() -> None:
    assert get(ASKED + "&pick=velocity&errors=text").body == get(ASKED + "&pick=velocity").body


def test_without_it_an_error_keeps_its_status() -> None:
    assert get("/v1/pipe/velocity?flow=9&pick=velocity").status == 422


# Tables


class Cells(html.parser.HTMLParser):
    """Reads a table's cells with their attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[tuple[str, dict[str, str | None]]]] = []
        self._inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append([])
        elif tag in {"td", "th"}:
            self.rows[-1].append(("", dict(attrs)))
            self._inside = True

    def handle_data(self, data: str) -> None:
        if self._inside:
            text, attributes = self.rows[-1][-1]
            self.rows[-1][-1] = text + data, attributes

    def handle_endtag(self, tag: str) -> None:
        if tag in {"td", "th"}:
            self._inside = False


def cells_of(body: bytes) -> list[list[tuple[str, dict[str, str | None]]]]:
    parser = Cells()
    parser.feed(body.decode())
    return parser.rows


# A plan's HTML is a page, tested with the plan; its CSV with the contracts.
@pytest.mark.parametrize("path", [path for path in PATHS if path != "site/plan"])
def test_csv_and_html_hold_every_value_of_the_answer(path: str) -> None:
    answer: Answer = run(path, calculations()[path].example)
    own = dict(own_leaves(answer))
    reply = get(f"{answer.question}&format=csv")
    table = {name: (value, unit) for name, value, unit in csv.reader(io.StringIO(reply.body.decode()))}
    cells = {row[0][0]: row[1] for row in cells_of(get(f"{answer.question}&format=html").body)}
    for name, value in own.items():
        if isinstance(value, float):
            assert float(table[name][0]) == float(cells[name][1]["sdval"] or "") == value
            assert cells[name][1]["sdnum"] == "1033;"
        elif isinstance(value, str):
            assert table[name][0] == cells[name][0] == value
    assert sum(name.startswith("cautions.") for name in table) == len(answer.cautions) > 0
    assert table["basis.0.source"][0] == answer.basis[0].source


@pytest.mark.parametrize("path", PATHS)
def test_a_comma_csv_fits_a_spreadsheet_cell(path: str) -> None:
    assert len(as_csv(run(path, calculations()[path].example))) < 32_767


@pytest.mark.parametrize("path", PATHS)
def test_xml_is_found_without_a_namespace(path: str) -> None:
    answer: Answer = run(path, calculations()[path].example)
    root = ET.fromstring(get(f"{answer.question}&format=xml").body)  # noqa: S314 - our own answer
    own = msgspec.to_builtins(answer)
    for name, value in own_leaves(answer):
        steps = [f"item[{int(part) + 1}]" if part.isdigit() else part for part in name.split(".")]
        found = root.find("/".join(steps))
        assert found is not None, name
        if isinstance(value, float):
            assert float(found.text or "") == value
            plain = ".".join(part for part in name.split(".") if not part.isdigit())
            assert found.get("unit") == own["units"].get(plain)
    assert [item.findtext("message") for item in root.findall("cautions/item")] == [c.message for c in answer.cautions]


def test_a_text_that_a_spreadsheet_would_run_is_put_behind_an_apostrophe() -> None:
    answer = expected()
    answer.regime = '=HYPERLINK("http://attacker.example")'
    answer.question = "+1"
    for body in (as_csv(answer).encode(), as_spreadsheet_table(answer, decimal_comma=False)):
        assert "'=HYPERLINK" in html.unescape(body.decode())
        assert b",+1" not in body
        assert b">+1" not in body


def test_a_negative_number_stays_a_number_in_csv() -> None:
    example = {**calculations()["uv/derated-flow"].example, "peak_flow": "60 L/min"}
    rows = csv.reader(io.StringIO(as_csv(run("uv/derated-flow", example))))
    assert float(dict(row[:2] for row in rows)["flow_margin"]) < 0


def test_a_format_by_its_media_type() -> None:
    for accept, media in (
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "text/html; charset=utf-8"),
        ("application/msgpack", "application/msgpack"),
        ("text/xml", "application/xml; charset=utf-8"),
        ("image/x-none;q=1, text/csv;q=0.5", "text/csv; charset=utf-8"),
    ):
        assert get(ASKED, {"accept": accept}).headers["content-type"] == media
    assert get(ASKED, {"accept": "image/x-none"}).status == 406


# One record a row


CASES = [
    {"flow": "9 gal/min", "bore": "20 mm", "units": "us"},
    {"flow": "6 gal/min", "bore": None, "material": "copper_type_l", "nominal_size": "3/4", "units": "us"},
    {"flow": "12 gal/mn", "bore": "20 mm", "units": "us"},
    {"flow": {"value": 7, "unit": "gal/min"}, "bore": "0.8 in", "units": "us"},
]


def test_a_table_of_cases_answers_one_record_a_row() -> None:
    reply = post("/v1/pipe/velocity/batch?format=table", CASES)
    assert reply.status == 200
    assert reply.headers["content-type"] == "application/json"
    records = reply.json()
    assert [record["row"] for record in records] == [0, 1, 2, 3]
    assert len({tuple(record) for record in records}) == 1
    for index in (0, 1, 3):
        single = run("pipe/velocity", CASES[index])
        assert records[index]["velocity"] == single.velocity
        assert records[index]["smallest_nominal_size"] == single.smallest_nominal_size
        assert records[index]["error"] is None
        assert "velocity: ft/s" in records[index]["units"]
    assert records[2]["velocity"] is None
    assert records[2]["error"].startswith("/flow: 'gal/mn' is not a known unit")


def test_rows_with_different_lists() -> None:
    pipe = {"kind": "pipe", "material": "pex_sdr9", "nominal_size": "1"}
    rows = [
        {"flow": "9 gal/min", "segments": [{**pipe, "length": f"{length} ft"}] * count}
        for length, count in ((10, 1), (20, 1), (10, 2))
    ]
    reply = post("/v1/pipe/pressure-drop/batch", rows)
    assert reply.status == 200
    drops = [run("pipe/pressure-drop", row).pressure_drop for row in rows]
    assert reply.json()["columns"]["pressure_drop"] == drops
    assert reply.json()["columns"]["segments.1.pressure_drop"][:2] == [None, None]


def test_warnings_and_faults_of_a_table_name_its_own_rows() -> None:
    rows = [
        {"flow": "9 gal/min", "bore": "20 mm"},
        {"flow": "30 gal/min", "material": "copper_type_l", "nominal_size": "3/4"},
        {"flow": "9 gal/min", "bore": "20 mm", "material": "copper_type_l", "nominal_size": "9"},
    ]
    told = post("/v1/pipe/velocity/batch", rows).json()
    for row in (0, 1):
        codes = {warning.code for warning in run("pipe/velocity", rows[row]).warnings}
        assert codes == {w["code"] for w in told["warnings"] if row in w.get("rows", [row])}
    assert any(w.get("rows") == [1] for w in told["warnings"])
    assert {row for fault in told["errors"] for row in fault["rows"]} == {2}


def test_a_single_answer_as_a_table_is_one_record() -> None:
    (record,) = get(ASKED + "&format=table").json()
    assert record["velocity"] == expected().velocity
    assert record["units"].startswith("velocity: ft/s")


def test_rows_may_not_differ_in_units() -> None:
    reply = post("/v1/pipe/velocity/batch", [CASES[0], {**CASES[0], "units": "si"}])
    assert faults(reply) == [("/units", "rows_differ")]


def test_a_table_without_any_good_row_is_refused() -> None:
    reply = post("/v1/pipe/velocity/batch", [{"flow": "9 gpm", "boer": "20 mm"}, {"fow": "9 gpm"}])
    assert reply.status == 422
    assert ("/boer", "unknown_field") in faults(reply)
    assert post("/v1/pipe/velocity/batch", [1, 2]).status == 400
    assert post("/v1/pipe/velocity/batch", []).status == 400


def test_a_table_in_a_table_out_for_every_calculation() -> None:
    for path, entry in calculations().items():
        if not entry.batch:
            continue
        (first, second) = post(f"/v1/{path}/batch?format=table", [dict(entry.example)] * 2).json()
        single = run(path, entry.example)
        for name, value in own_leaves(single):
            if isinstance(value, float):
                assert first[name] == second[name] == value, (path, name)


# MessagePack and packed bodies
