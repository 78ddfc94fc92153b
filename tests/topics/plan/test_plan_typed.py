"""A plan built from typed sections, with one input changed: the same through every interface."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any, cast

import msgspec
import pytest
from msgspec.structs import replace

from dosewright.engine.run import run
from dosewright_sdk import FROM_PLAN, AsyncClient, Client, InProcess, Quantity
from dosewright_sdk.types import (
    CarbonFilter,
    Cartridge,
    CartridgeHousing,
    ChamberSurface,
    ClearanceRequest,
    CommissioningRequest,
    CondensationRequest,
    DeratedFlowRequest,
    DeviceSegment,
    DrilledCasing,
    FittingSegment,
    Fixtures,
    Liquid,
    PeakRequest,
    PipeSegment,
    PressureDropRequest,
    RatedDrop,
    RatedPoint,
    ShockRequest,
    UpkeepRequest,
    WaterCheckRequest,
)
from sites import site

if TYPE_CHECKING:
    from collections.abc import Callable

    from serverproc import ServerProcess

    Door = Callable[[dict[str, Any]], Any]

BLEACH = Liquid(sodium_hypochlorite="6 %")
WELL = ShockRequest(
    vessels=[DrilledCasing(diameter="6 in", water_column="127 ft")], product=BLEACH, free_chlorine="100 mg/L"
)
POINT = RatedPoint(
    rated_flow=Quantity(52.0, "L/min"),
    uvt="95 %",
    dose="40 mJ/cm2",
    lamp_ageing_factor="80 %",
    sleeve_fouling_factor="100 %",
)
UNIT = DeratedFlowRequest(
    uvt=FROM_PLAN,
    lamp_ageing_factor="80 %",
    sleeve_fouling_factor="88 %",
    rated_points=[POINT],
    chamber_bore="90 mm",
    sleeve_outer_diameter="26 mm",
    arc_length="790 mm",
    chamber_length="840 mm",
)
WATER = WaterCheckRequest(
    water_source="drilled_well",
    uvt="87 %",
    iron="0.1 mg/L",
    manganese="0.02 mg/L",
    hardness="5 gpg",
    turbidity="0.4",
    ph="7.3",
    total_coliform="6 1/100mL",
    e_coli="0 1/100mL",
    nitrate_nitrogen="1.1 mg/L",
    lead="0.002 mg/L",
    copper="0.2 mg/L",
    arsenic="0.002 mg/L",
    fluoride="0.4 mg/L",
    uranium="0.003 mg/L",
)
PARTS: dict[str, Any] = {
    "water_temperature": "8 degC",
    "water_test": WATER,
    "demand": PeakRequest(fixtures=[Fixtures(fixture="shower"), Fixtures(fixture="lavatory")]),
    "equipment": [UNIT],
    "plumbing": PressureDropRequest(
        flow=FROM_PLAN,
        segments=[
            PipeSegment(material="copper_type_l", nominal_size="3/4", length="34 ft"),
            FittingSegment(fitting="elbow_90", count=7),
            DeviceSegment(rated_points=[RatedDrop(rated_flow="12 gal/min", pressure_drop="2 psi")]),
        ],
        inlet_pressure="45 psi",
        required_outlet_pressure="20 psi",
    ),
    "chlorination": WELL,
    "condensation": CondensationRequest(
        air_temperature="68 degF",
        relative_humidity="40 %",
        water_temperature=FROM_PLAN,
        surfaces=[ChamberSurface(outer_diameter="92 mm", height="0.9 m")],
    ),
    "clearance": ClearanceRequest(
        lamp_length="830 mm",
        chamber_length="890 mm",
        chamber_diameter="92 mm",
        devices=[
            CartridgeHousing(purpose="sediment_filter", diameter="140 mm", height="330 mm", service_clearance="75 mm")
        ],
    ),
    "commissioning": CommissioningRequest(
        flush_flow="6 gal/min", working_pressure="60 psi", carbon_filters=[CarbonFilter(bed_volume="3 L")]
    ),
    "upkeep": UpkeepRequest(
        installed="2026-05-04",  # pyright: ignore[reportArgumentType] - a text serves as a day
        daily_use="180 gal/d",
        media=[Cartridge(purpose="sediment", rated_volume="15000 gal", interval="180 d")],
    ),
}


@pytest.fixture(params=["here", "remote", "asyncio"])
def door(request: pytest.FixtureRequest, server: ServerProcess) -> Door:
    """Each interface to a plan."""

    async def waited(parts: dict[str, Any]) -> Any:
        async with AsyncClient(server.base_url) as client:
            return await client.site.plan(**parts)

    def remote(parts: dict[str, Any]) -> Any:
        with Client(server.base_url) as client:
            return client.site.plan(**parts)

    doors: dict[str, Door] = {
        "here": lambda parts: InProcess().site.plan(**parts),
        "remote": remote,
        "asyncio": lambda parts: asyncio.run(waited(parts)),
    }
    return doors[request.param]


def written_out(value: Any) -> Any:
    """The same sections as plain data, without the shared values."""
    if isinstance(value, Quantity):
        return {"value": value.value, "unit": value.unit}
    if isinstance(value, msgspec.Struct):
        unset = {info.name: info.default for info in msgspec.structs.fields(type(value))}
        given = {name: getattr(value, name) for name in value.__struct_fields__}
        tag = value.__struct_config__.tag
        kept = {name: written_out(one) for name, one in given.items() if one is not None and one != unset[name]}
        return kept if tag is None else {"kind": tag, **kept}
    if isinstance(value, list):
        return [written_out(one) for one in cast("list[Any]", value)]
    return value


def test_typed_sections_answer_like_plain_data(door: Door) -> None:
    plain = {name: written_out(part) for name, part in PARTS.items()}
    assert isinstance(plain["water_test"], dict)
    assert "uvt" not in plain["equipment"][0]
    assert msgspec.to_builtins(door(PARTS)) == msgspec.to_builtins(run("site/plan", plain))


def test_one_input_is_changed_to_compare(door: Door) -> None:
    def plan(**changed: Any) -> Any:
        return door({**PARTS, **changed})

    clear, dim = plan(), plan(water_test=replace(WATER, uvt="80 %"))
    assert (clear.verdict, dim.verdict) == ("suitable", "suitable")
    assert dim.choices[0].derated_flow < clear.choices[0].derated_flow
    assert dim.plumbing == clear.plumbing
    assert plan(water_test=replace(WATER, uvt="70 %")).verdict == "fix_first"
    small = replace(UNIT, rated_points=[replace(POINT, rated_flow="20 L/min")])
    sizes = plan(equipment=[small, UNIT, replace(UNIT, units_in_parallel=2)], peak_flow="14 gal/min")
    assert [choice.chosen for choice in sizes.choices] == [False, False, True]
    one, two = sizes.choices[1:]
    assert two.derated_flow == 2.0 * one.derated_flow


def test_a_section_can_override_a_shared_value(door: Door) -> None:
    own = door({**PARTS, "equipment": [replace(UNIT, uvt="80 %")]})
    assert own.equipment[0].inputs["uvt"] == 0.8
    assert own.water_test.parameters[0].value == pytest.approx(87.0)


def test_typed_sections_and_plan_files_can_be_mixed(door: Door) -> None:
    request = site("cottage")
    unit = {**request["equipment"][1], "rated_points": [POINT]}
    changed = door({**request, "equipment": [unit], "chlorination": WELL})
    plain = {**request, "equipment": [request["equipment"][1]], "chlorination": written_out(WELL)}
    answer = run("site/plan", plain)
    assert (changed.chlorination, changed.choices) == (answer.chlorination, answer.choices)
    assert changed.defaults == answer.defaults
