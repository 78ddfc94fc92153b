"""One question through every door: in process, SDK over HTTP, SDK with asyncio, and plain GET and POST."""

from __future__ import annotations

import http.client
import json
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import numpy as np
import pytest
from doors import ask_all
from hypothesis import HealthCheck, given, settings

from dosewright.engine.registry import calculations
from dosewright_sdk import Quantity
from strategies import requests_near

if TYPE_CHECKING:
    from serverproc import ServerProcess

ENTRIES = pytest.mark.parametrize("path", list(calculations()))
BATCHED = pytest.mark.parametrize("path", [path for path, entry in calculations().items() if entry.batch])


def fetch(server: ServerProcess, method: str, target: str, body: Any = None) -> tuple[int, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)
    try:
        text = None if body is None else json.dumps(body)
        connection.request(method, target, text, {"content-type": "application/json"} if text else {})
        answer = connection.getresponse()
        return answer.status, answer.read()
    finally:
        connection.close()


@ENTRIES
@pytest.mark.parametrize("units", [None, "us", "metric", "si"])
def test_the_example_is_answered_alike_by_every_door(server: ServerProcess, path: str, units: str | None) -> None:
    entry = calculations()[path]
    payload = {**entry.example, **({"units": units} if units else {})}
    here, *remote = ask_all(server.base_url, entry, payload)
    assert "refused" not in here
    assert remote == [here, here]
    status, posted = fetch(server, "POST", f"/v1/{path}", payload)
    assert status == 200
    assert json.loads(posted) == here
    status, got = fetch(server, "GET", here["question"])
    assert status == 200
    assert json.loads(got) == here
    assert fetch(server, "GET", here["question"])[1] == got


@ENTRIES
def test_questions_near_the_example_are_answered_or_refused_alike(server: ServerProcess, path: str) -> None:
    entry = calculations()[path]

    @settings(max_examples=25, suppress_health_check=list(HealthCheck))
    @given(payload=requests_near(entry))
    def ask(payload: dict[str, Any]) -> None:
        here, *remote = ask_all(server.base_url, entry, payload)
        assert remote == [here, here]

    ask()


@BATCHED
def test_a_batch_is_answered_alike_by_every_door_and_as_the_single_calls(server: ServerProcess, path: str) -> None:
    entry = calculations()[path]
    field = next(name for name, value in entry.example.items() if isinstance(value, str) and value[0].isdigit())
    column = [entry.example[field], "nonsense", entry.example[field]]
    here, *remote = ask_all(server.base_url, entry, {**entry.example, field: column}, batch=True)
    assert remote == [here, here]
    single = ask_all(server.base_url, entry, entry.example)[0]
    assert here["rows"] == 3
    assert [fault["rows"] for fault in here["errors"]] == [[1]]
    for name in (name for name in single if name in here["columns"]):
        assert here["columns"][name] == [single[name], None, single[name]], name


@ENTRIES
def test_a_refusal_is_told_alike_by_every_door(server: ServerProcess, path: str) -> None:
    entry = calculations()[path]
    wrong = {name: "nonsense" for name, value in entry.example.items() if isinstance(value, str)}
    for changed in (wrong, {"units": "imperial"}, {"answer_units": {"nothing": "m"}}):
        here, *remote = ask_all(server.base_url, entry, {**entry.example, **changed})
        assert here["refused"]
        assert remote == [here, here]


FLOWS: list[Any] = [
    "9 gal/min",
    {"value": 9, "unit": "gal/min"},
    Quantity(9.0, "gal/min"),
    Quantity("9", "gal/min"),
    Quantity(np.float64(9.0), "gal/min"),
    float("nan"),
    float("inf"),
    Quantity(float("nan"), "gal/min"),
    {"value": float("-inf"), "unit": "gal/min"},
    10**400,
    "9 psi",
    "2,500 gal/min",
    9,
    True,
    [],
    "٩ gal/min",
]


@pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: repr(flow)[:40])
def test_any_way_to_write_a_quantity_means_the_same_through_every_door(server: ServerProcess, flow: Any) -> None:
    entry = calculations()["pipe/velocity"]
    here, *remote = ask_all(server.base_url, entry, {"flow": flow, "bore": "20 mm"})
    assert remote == [here, here]


@pytest.mark.parametrize("temperature", [float("nan"), Quantity(float("nan"), "degC"), float("inf")], ids=repr)
def test_a_number_that_is_none_is_not_taken_for_a_default(server: ServerProcess, temperature: Any) -> None:
    payload = {"flow": "9 gal/min", "bore": "20 mm", "water_temperature": temperature, "units": "metric"}
    here, *remote = ask_all(server.base_url, calculations()["pipe/velocity"], payload)
    assert [fault["pointer"] for fault in here["refused"]] == ["/water_temperature"]
    assert remote == [here, here]


COLUMNS: list[Any] = [
    np.array([8.0, 9.0, np.nan]),
    [8.0, 9.0, None],
    [8.0, float("inf"), 1.0],
    Quantity(np.array([8.0, 9.0]), "gal/min"),
    {"value": [8.0, np.nan], "unit": "gal/min"},
    ["8 gal/min", "9 L/min", "x"],
    np.array([8, 9]),
    [],
]


@pytest.mark.parametrize("column", COLUMNS, ids=lambda column: repr(column)[:40])
def test_any_way_to_write_a_column_means_the_same_through_every_door(server: ServerProcess, column: Any) -> None:
    payload = {"flow": column, "bore": "20 mm", "units": "us"}
    here, *remote = ask_all(server.base_url, calculations()["pipe/velocity"], payload, batch=True)
    assert remote == [here, here]


def test_the_query_and_the_body_read_a_value_alike(server: ServerProcess) -> None:
    for flow in ("9 gal/min", "9gpm", " 9  gal/min ", "9 m³/h", "9 psi", "", "2,500", "1e400 L/min"):
        got = fetch(server, "GET", f"/v1/pipe/velocity?bore=20%20mm&flow={quote(flow)}")
        posted = fetch(server, "POST", "/v1/pipe/velocity", {"flow": flow, "bore": "20 mm"})
        assert got[0] == posted[0]
        first, second = json.loads(got[1]), json.loads(posted[1])
        for answer in (first, second):
            answer.pop("request_id", None)
        assert first == second
