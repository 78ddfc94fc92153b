"""Misspelt and missing keywords, over HTTP from a running service, answered as in process."""

from __future__ import annotations

import asyncio
import inspect
from typing import TYPE_CHECKING, Any

import pytest

from dosewright.engine.registry import calculations
from dosewright_sdk import AsyncClient, Client, InProcess, InvalidRequestError

if TYPE_CHECKING:
    from collections.abc import Callable

    from dosewright_sdk import Fault
    from serverproc import ServerProcess

CALLS: dict[str, Callable[[Any], Any]] = {
    "misspelt": lambda door: door.pipe.velocity(flow="9 gal/min", boore="20 mm"),
    "missing": lambda door: door.pipe.velocity(bore="20 mm"),
    "misspelt and missing": lambda door: door.pipe.velocity(flw="9 gal/min", bore="20 mm"),
    "beside another fault": lambda door: door.pipe.velocity(flow="9 furlong", boore="20 mm"),
    "over columns": lambda door: door.pipe.velocity_batch(flow=["8 gal/min", "9 gal/min"], boore="20 mm"),
    "missing over columns": lambda door: door.pipe.velocity_batch(bore=["20 mm", "25 mm"]),
    "of a plan": lambda door: door.site.plan(water_tests={"uvt": "87 %"}),
}


async def faults_async(address: str, call: Callable[[Any], Any]) -> tuple[Fault, ...]:
    async with AsyncClient(address) as door:
        answer = call(door)
        assert inspect.isawaitable(answer)
        with pytest.raises(InvalidRequestError) as caught:
            await answer
    return caught.value.faults


@pytest.mark.parametrize("name", list(CALLS))
def test_every_door_names_the_same_faults(server: ServerProcess, name: str) -> None:
    call = CALLS[name]
    with pytest.raises(InvalidRequestError) as here:
        call(InProcess())
    assert here.value.faults
    with Client(server.base_url) as door, pytest.raises(InvalidRequestError) as there:
        call(door)
    assert there.value.faults == here.value.faults
    assert there.value.request_id
    assert asyncio.run(faults_async(server.base_url, call)) == here.value.faults


@pytest.mark.parametrize("name", [*CALLS, "cannot be sent"])
def test_a_client_computes_nothing_to_phrase_an_error(
    server: ServerProcess, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    call = CALLS.get(name, lambda door: door.pipe.velocity(flow=float("nan"), boore="20 mm"))
    with pytest.raises(InvalidRequestError) as here:
        call(InProcess())

    def computed(*_: object) -> None:
        raise AssertionError("computed in the client")

    for entry in calculations().values():
        monkeypatch.setitem(entry.__dict__, "body", computed)
    with pytest.raises(AssertionError, match="computed"):
        InProcess().pipe.velocity(flow="9 gal/min", bore="20 mm")
    with Client(server.base_url) as door, pytest.raises(InvalidRequestError) as there:
        call(door)
    assert there.value.faults == here.value.faults


def test_a_misspelt_keyword_is_suggested(server: ServerProcess) -> None:
    with Client(server.base_url) as door, pytest.raises(InvalidRequestError) as caught:
        CALLS["misspelt"](door)
    told = {fault.pointer: (fault.code, fault.message) for fault in caught.value.faults}
    code, message = told["/boore"]
    assert code == "unknown_field"
    assert "bore" in message.replace("boore", "")
