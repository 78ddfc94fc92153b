"""The client over a service in this process: same calls, same answers, same refusals; and what it imports."""

from __future__ import annotations

import asyncio
import inspect
import json
import subprocess
import sys
from typing import TYPE_CHECKING, Any

import httpx2
import msgspec
import numpy as np
import pandas as pd
import pint
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

import dosewright_sdk
from asgi import send
from contract_walk import BATCHED, ENTRIES, FEW, changed, quantities, top_fields, values_near
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright_sdk import AsyncClient, Client, InProcess, InvalidRequestError, Quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dosewright.engine.registry import Calculation

EXPORTED = [
    "Answer",
    "AsyncClient",
    "Basis",
    "BatchAnswer",
    "Caution",
    "Client",
    "DosewrightError",
    "FROM_PLAN",
    "Fault",
    "InProcess",
    "InvalidRequestError",
    "Quantity",
    "ServiceError",
    "ServiceTimeoutError",
    "ServiceUnreachableError",
    "Warn",
]
REGISTRY = pint.UnitRegistry()


def service(request: httpx2.Request) -> httpx2.Response:
    """Answer a client's request by the service in this process."""
    headers = {name: value for name, value in request.headers.items() if name != "accept-encoding"}
    reply = send(request.method, request.url.raw_path.decode(), [request.content], headers)
    return httpx2.Response(reply.status, headers=reply.headers, content=reply.body)


async def async_service(request: httpx2.Request) -> httpx2.Response:
    """As :func:`service`; in a thread, since this one runs an event loop already."""
    return await asyncio.to_thread(service, request)


def client() -> Client:
    return Client("http://service.invalid", transport=httpx2.MockTransport(service))


def async_client() -> AsyncClient:
    return AsyncClient("http://service.invalid", transport=httpx2.MockTransport(async_service))


def method_of(door: Any, entry: Calculation[Any, Any], *, batch: bool = False) -> Any:
    return getattr(getattr(door, entry.topic), entry.name.replace("-", "_") + ("_batch" if batch else ""))


def plain(value: Any) -> Any:
    def arrays(inner: Any) -> Any:
        if isinstance(inner, np.ndarray):
            return inner.tolist()
        raise NotImplementedError

    return json.loads(msgspec.json.encode(value, enc_hook=arrays))


def outcome(entry: Calculation[Any, Any], door: Any, payload: Mapping[str, Any], *, batch: bool = False) -> Any:
    try:
        return plain(method_of(door, entry, batch=batch)(**payload))
    except InvalidRequestError as error:
        return {"refused": plain(list(error.faults)), "told": str(error)}


def assert_doors_agree(entry: Calculation[Any, Any], payload: Mapping[str, Any], *, batch: bool = False) -> Any:
    async def over_asyncio() -> Any:
        async with async_client() as door:
            try:
                return plain(await method_of(door, entry, batch=batch)(**payload))
            except InvalidRequestError as error:
                return {"refused": plain(list(error.faults)), "told": str(error)}

    here = outcome(entry, InProcess(), payload, batch=batch)
    with client() as door:
        assert outcome(entry, door, payload, batch=batch) == here
    assert asyncio.run(over_asyncio()) == here
    return here


def test_the_exported_names_are_these() -> None:
    assert sorted(dosewright_sdk.__all__) == EXPORTED
    assert all(hasattr(dosewright_sdk, name) for name in EXPORTED)


HEAVY = [
    "litestar",
    "pint",
    "httpx2",
    "httpx",
    "uvicorn",
    "matplotlib",
    "plotly",
    "scipy",
    "pandas",
    "jinja2",
    "zstandard",
]


@pytest.mark.parametrize(
    ("script", "allowed"),
    [
        ("import dosewright_sdk", set()),
        ("from dosewright_sdk import InProcess; InProcess().pipe.velocity(flow='9 gal/min', bore='20 mm')", set()),
        ("from dosewright_sdk import Client; Client().close()", {"httpx2"}),
    ],
    ids=["import", "in process", "over http"],
)
def test_the_import_stays_light(script: str, allowed: set[str]) -> None:
    told = f"{script}; import sys; print(*(name for name in {HEAVY!r} if name in sys.modules))"
    ran = subprocess.run([sys.executable, "-W", "error", "-c", told], capture_output=True, text=True, timeout=60)
    assert ran.returncode == 0, ran.stderr
    assert set(ran.stdout.split()) == allowed


@ENTRIES
def test_every_calculation_is_a_method_of_every_door(entry: Calculation[Any, Any]) -> None:
    for door in (InProcess(), client(), async_client()):
        for batch in (False, True) if entry.batch else (False,):
            method = method_of(door, entry, batch=batch)
            parameters = inspect.signature(method).parameters
            assert {one.kind for one in parameters.values()} == {inspect.Parameter.KEYWORD_ONLY}
            assert set(parameters) == {*(field.name for field in top_fields(entry)), "units", "answer_units"}
            required = {one.name for one in parameters.values() if one.default is inspect.Parameter.empty}
            assert required == {field.name for field in top_fields(entry) if field.default_text is None} & required
            doc = inspect.getdoc(method) or ""
            assert entry.summary in doc
            for name in parameters:
                assert name in doc


@ENTRIES
@pytest.mark.parametrize("units", [None, "us", "si"])
def test_the_example_is_answered_alike_by_every_door(entry: Calculation[Any, Any], units: str | None) -> None:
    payload = {**entry.example, **({"units": units} if units else {})}
    assert assert_doors_agree(entry, payload) == msgspec.to_builtins(run(entry.path, payload))
    with client() as door:
        answer = method_of(door, entry)(**payload)
    assert type(answer) is entry.answer
    assert answer == run(entry.path, payload)


@BATCHED
def test_a_batch_is_answered_alike_by_every_door(entry: Calculation[Any, Any]) -> None:
    leaf = quantities(entry)[0]
    payload = changed(entry.example, {leaf.keys: [leaf.given, "nonsense", leaf.given]})
    here = assert_doors_agree(entry, payload, batch=True)
    assert [fault["rows"] for fault in here["errors"]] == [[1]]
    with client() as door:
        remote, local = (
            method_of(door, entry, batch=True)(**payload),
            method_of(InProcess(), entry, batch=True)(**payload),
        )
    for name, column in local.columns.items():
        assert type(remote[name]) is type(column)
        if isinstance(column, np.ndarray):
            assert column.dtype == remote[name].dtype == np.float64
            np.testing.assert_array_equal(remote[name], column)


@ENTRIES
@FEW
@given(data=st.data())
def test_any_request_is_answered_or_refused_alike(entry: Calculation[Any, Any], data: st.DataObject) -> None:
    broken = st.sampled_from(
        ["nonsense", "9 furlong", "1e400 m", 9, True, float("nan"), Quantity(float("inf"), "m"), []]
    )
    changes = {leaf.keys: data.draw(values_near(leaf) | broken, label=leaf.pointer) for leaf in quantities(entry)}
    assert_doors_agree(entry, changed(entry.example, changes))


@ENTRIES
def test_every_fault_arrives_typed_and_in_order(entry: Calculation[Any, Any]) -> None:
    wrong = {
        leaf.keys: value
        for leaf, value in zip(quantities(entry), ("nonsense", float("nan"), "9 furlong", -1e30), strict=False)
    }
    payload = {**changed(entry.example, wrong), "units": "us", "answer_units": {"no_such": "m"}}
    here = assert_doors_agree(entry, payload)
    assert {fault["pointer"] for fault in here["refused"]} >= {"".join(f"/{key}" for key in keys) for keys in wrong}
    with client() as door, pytest.raises(InvalidRequestError) as caught:
        method_of(door, entry)(**payload)
    assert caught.value.request_id or "number_not_finite" in {fault.code for fault in caught.value.faults}
    for fault in caught.value.faults:
        assert isinstance(fault, dosewright_sdk.Fault)
        assert fault.message in str(caught.value)


FLOWS: list[Any] = [
    "9 gal/min",
    Quantity(9.0, "gal/min"),
    Quantity("9", "gal/min"),
    Quantity(np.float64(9.0), "gal/min"),
    Quantity(np.int64(9), "gal/min"),
    {"value": np.float32(9.0), "unit": "gal/min"},
    9 * REGISTRY.gallon / REGISTRY.minute,
    REGISTRY.Quantity(np.float64(9.0), "gallon/minute"),
]


@pytest.mark.parametrize("flow", FLOWS, ids=repr)
def test_a_quantity_may_be_written_in_any_of_these_ways(flow: Any) -> None:
    entry = calculations()["pipe/velocity"]
    answer = assert_doors_agree(entry, {"flow": flow, "bore": "20 mm"})
    expected = InProcess().pipe.velocity(flow="9 gal/min", bore="20 mm")
    assert answer["velocity"] == pytest.approx(expected.velocity, rel=1e-14)


@pytest.mark.parametrize("flow", [9, 9.0, np.float64(9.0), np.int32(9), np.float32(9.0)], ids=repr)
def test_a_bare_number_may_be_of_any_type(flow: Any) -> None:
    answer = assert_doors_agree(
        calculations()["pipe/velocity"], {"flow": flow, "bore": np.float64(0.75), "units": "us"}
    )
    assert answer["velocity"] == InProcess().pipe.velocity(flow="9 gal/min", bore="0.75 in", units="us").velocity


REFUSED: list[Any] = [
    float("nan"),
    float("-inf"),
    np.float64("nan"),
    np.float32("inf"),
    Quantity(float("nan"), "gal/min"),
    Quantity(np.float64("inf"), "gal/min"),
    {"value": float("inf"), "unit": "gal/min"},
    10**400,
    True,
    object(),
    9j,
    9 * REGISTRY.ampere,
    REGISTRY.Quantity(float("nan"), "gallon/minute"),
    [9.0, 10.0],
    np.array([9.0]),
]


@pytest.mark.parametrize("flow", REFUSED, ids=lambda flow: type(flow).__name__)
@pytest.mark.parametrize("units", [None, "us"])
def test_what_is_no_flow_is_refused_alike_with_the_other_faults(flow: Any, units: Any) -> None:
    payload = {"flow": flow, "bore": "nonsense", "units": units}
    told = assert_doors_agree(calculations()["pipe/velocity"], payload)["refused"]
    assert [fault["pointer"] for fault in told] == ["/flow", "/bore"]


def test_a_pint_quantity_of_another_dimension_is_refused_by_every_door() -> None:
    for door in (InProcess(), client()):
        with pytest.raises(InvalidRequestError) as caught:
            door.pipe.velocity(flow=9 * REGISTRY.gallon, bore="20 mm")
        (fault,) = caught.value.faults
        assert (fault.pointer, fault.code) == ("/flow", "unit_wrong_dimension")
        assert fault.message == "'m3' is a unit of volume, but flow is required."


def test_not_a_number_is_never_taken_for_a_default() -> None:
    payload = {"flow": "9 gal/min", "bore": "20 mm", "water_temperature": float("nan"), "units": "metric"}
    (fault,) = assert_doors_agree(calculations()["pipe/velocity"], payload)["refused"]
    assert (fault["pointer"], fault["code"]) == ("/water_temperature", "number_not_finite")


def test_a_request_that_cannot_be_sent_is_read_and_not_computed(monkeypatch: pytest.MonkeyPatch) -> None:
    def compute(*_: object) -> None:
        raise AssertionError("computed to phrase an error")

    monkeypatch.setattr("dosewright.engine.run.compute", compute)
    monkeypatch.setattr("dosewright.engine.batch.columnwise.compute", compute)
    door: Any = client()
    with pytest.raises(InvalidRequestError) as caught:
        door.pipe.velocity(flow=b"9 gal/min", bore=float("inf"), units="us")
    assert [fault.pointer for fault in caught.value.faults] == ["/flow", "/bore"]
    with pytest.raises(InvalidRequestError) as caught:
        door.site.plan(water_test={"uvt": float("nan"), "iron": "1 ft"}, equipment=[{"rated_flow": 1j}], units="us")
    pointers = {fault.pointer for fault in caught.value.faults}
    assert {"/water_test/uvt", "/water_test/iron", "/equipment/0/rated_flow"} <= pointers
    with pytest.raises(InvalidRequestError) as caught:
        door.pipe.velocity_batch(flow=[8.0, 9.0], bore=float("nan"), units="us")
    assert [(fault.pointer, fault.code) for fault in caught.value.faults] == [("/bore", "number_not_finite")]


COLUMNS: list[Any] = [
    np.array([8.0, 9.0, np.nan]),
    np.array([8, 9, 10]),
    np.array([8.0, 9.0, np.inf], dtype=np.float32),
    [8.0, 9.0, None],
    (8.0, 9.0, 10.0),
    [8.0, float("nan"), 1.0],
    Quantity(np.array([8.0, 9.0]), "gal/min"),
    {"value": [8.0, float("nan")], "unit": "gal/min"},
    ["8 gal/min", "9 L/min", "x"],
    [Quantity(8.0, "gal/min"), Quantity(9.0, "L/min")],
    REGISTRY.Quantity(np.array([8.0, 9.0]), "gallon/minute"),
    pd.Series([8.0, None, 9.0], index=[7, 5, 3]),
    pd.Series([8, 9, None], dtype="Int64"),
    {"value": pd.Series([8, 9]), "unit": "gal/min"},
    Quantity(pd.Series([8.0, 9.0]), "gal/min"),
    pd.Series(["8 gal/min", None, "9 L/min"]),
    pl.Series([8.0, 9.0, None]),
    pl.Series(["8 gal/min", "9 L/min"]),
]


@pytest.mark.parametrize("column", COLUMNS, ids=lambda column: repr(column)[:40])
def test_a_column_may_be_written_in_any_of_these_ways(column: Any) -> None:
    entry = calculations()["pipe/velocity"]
    answer = assert_doors_agree(entry, {"flow": column, "bore": "20 mm", "units": "us"}, batch=True)
    single = InProcess().pipe.velocity(flow=8.0, bore="20 mm", units="us").velocity
    assert answer["columns"]["velocity"][0] == pytest.approx(single, rel=1e-14)


def test_columns_of_a_data_frame_may_stand_in_items_and_name_things() -> None:
    frame = pd.DataFrame({"length": [10.0, 20.0], "material": ["copper_type_l", "pex_sdr9"]})
    answer = assert_doors_agree(
        calculations()["pipe/velocity"],
        {"flow": "9 gal/min", "material": frame["material"], "nominal_size": "3/4"},
        batch=True,
    )
    for row, material in enumerate(frame["material"]):
        single = InProcess().pipe.velocity(flow="9 gal/min", material=material, nominal_size="3/4").velocity
        assert answer["columns"]["velocity"][row] == single
    pipe = {"kind": "pipe", "bore": "20 mm", "roughness": "0 mm", "length": {"value": frame["length"], "unit": "m"}}
    drop = assert_doors_agree(
        calculations()["pipe/pressure-drop"], {"flow": "9 gal/min", "segments": [pipe]}, batch=True
    )["columns"]["pressure_drop"]
    assert drop[1] == pytest.approx(2.0 * drop[0], rel=1e-14)


def test_numbers_without_a_unit_are_told_how_a_column_is_given_one() -> None:
    (fault,) = assert_doors_agree(
        calculations()["pipe/velocity"], {"flow": pd.Series([8.0]), "bore": "20 mm"}, batch=True
    )["refused"]
    assert (fault["pointer"], fault["code"]) == ("/flow", "unit_missing")
    assert '{"value": […], "unit": "L/min"}' in fault["message"]


def test_an_answer_of_a_later_version_with_more_fields_is_read() -> None:
    answer = run("pipe/velocity", {"flow": "9 gal/min", "bore": "20 mm"})
    more = {**msgspec.to_builtins(answer), "new_field": {"x": 1}, "version": "9.9.9"}
    transport = httpx2.MockTransport(lambda _: httpx2.Response(200, json=more))
    with Client("http://service.invalid", transport=transport) as door:
        assert door.pipe.velocity(flow="9 gal/min", bore="20 mm") == msgspec.structs.replace(answer, version="9.9.9")
