# pyright: strict
"""Typical uses of the client, which a strict type checker must take as they are. Read by test_typing.py, never run."""

import asyncio
from collections.abc import Sequence
from functools import partial
from typing import assert_type

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from dosewright.quantities import FrameColumn
from dosewright_sdk import (
    FROM_PLAN,
    AsyncClient,
    BatchAnswer,
    Client,
    Fault,
    InProcess,
    InvalidRequestError,
    Quantity,
    ServiceError,
    ServiceUnreachableError,
)
from dosewright_sdk.types import (
    DeratedFlowRequest,
    DrilledCasing,
    FittingSegment,
    Liquid,
    PipeSegment,
    PlanAnswer,
    PressureDropAnswer,
    PressureDropRequest,
    PressureTank,
    RatedPoint,
    ShockRequest,
    VelocityAnswer,
    WaterCheckRequest,
)


def quantities_in_every_form(flow: npt.NDArray[np.float64]) -> float:
    door = InProcess()
    answer = door.pipe.velocity(flow="9 gal/min", bore="20 mm")
    door.pipe.velocity(flow=Quantity(9.0, "gal/min"), material="copper_type_l", nominal_size="3/4")
    door.pipe.velocity(flow={"value": 9, "unit": "gal/min"}, bore=20, units="metric")
    door.pipe.velocity(flow=float(flow[0]), bore=0.75, units="us", answer_units={"velocity": "m/s"})
    door.pipe.velocity(flow="9 gal/min", bore="20 mm", velocity_limit=None)
    assert_type(answer, VelocityAnswer[float])
    assert_type(answer.velocity, float)
    assert_type(answer.regime, str)
    assert_type(answer.within_limit, bool)
    assert_type(answer.smallest_nominal_size, str | None)
    assert_type(answer.units, dict[str, str])
    assert_type(answer.question, str | None)
    return answer.velocity + answer.reynolds_number * 2


def a_plan_from_typed_parts(door: Client | InProcess) -> list[str]:
    water = WaterCheckRequest(uvt="87 %", iron=Quantity(0.1, "mg/L"), turbidity=0.4)
    point = RatedPoint(
        rated_flow="52 L/min", uvt="95 %", dose="40 mJ/cm2", lamp_ageing_factor="80 %", sleeve_fouling_factor="100 %"
    )
    unit = DeratedFlowRequest(
        uvt=FROM_PLAN, lamp_ageing_factor="80 %", sleeve_fouling_factor="88 %", rated_points=[point]
    )
    run = PressureDropRequest(flow=FROM_PLAN, segments=[PipeSegment(bore="20 mm", length="60 ft")])
    well = ShockRequest(vessels=[DrilledCasing(diameter="6 in")], product=Liquid(sodium_hypochlorite="6 %"))
    site = partial(door.site.plan, peak_flow="8 gal/min", equipment=[unit], plumbing=run, chlorination=well)
    clear, dim = site(water_test=water), site(water_test=replace(water, uvt="80 %"), units="us")
    assert_type(dim, PlanAnswer[float])
    for choice in dim.choices:
        assert_type(choice.derated_flow, float)
    if dim.plumbing is not None:
        assert_type(dim.plumbing.pressure_drop, float)
    return [clear.verdict, *(reason.message for reason in dim.reasons), *(turn.input for turn in dim.sensitivity)]


def items_inline_and_apart(door: Client) -> list[float]:
    inline = door.pipe.pressure_drop(
        flow="9 gal/min",
        segments=[
            {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "1"},
            FittingSegment(fitting="elbow_90", count=6),
        ],
    )
    pipe = PipeSegment(length="60 ft", material="copper_type_l", nominal_size="1")
    elbows = FittingSegment(fitting="elbow_90", count=Quantity(6, ""))
    apart = door.pipe.pressure_drop(flow=9, segments=[pipe, elbows], units="us")
    built = [PipeSegment(length=f"{feet} ft", bore="20 mm") for feet in (10, 20)]
    assert_type(door.pipe.pressure_drop(flow="9 gal/min", segments=built), PressureDropAnswer[float])
    assert_type(inline.segments[0].velocity, float | None)
    return [segment.pressure_drop for segment in apart.segments]


def columns(door: InProcess, flows: npt.NDArray[np.float64], names: Sequence[str], of_a_frame: FrameColumn) -> int:
    batch = door.pipe.velocity_batch(flow=flows, bore="20 mm", units="metric")
    door.pipe.velocity_batch(flow=[8.0, 9.0], bore=[18, 20], units="metric")
    door.pipe.velocity_batch(flow=["8 gal/min", "9 L/min"], material=["copper_type_l", "pex_sdr9"], nominal_size="3/4")
    door.pipe.velocity_batch(flow=Quantity(flows, "gal/min"), bore="20 mm")
    door.pipe.velocity_batch(flow=names, bore="20 mm")
    door.pipe.velocity_batch(flow=of_a_frame, bore="20 mm", units="us")
    door.pipe.velocity_batch(flow={"value": of_a_frame, "unit": "gal/min"}, bore="20 mm")
    speeds: npt.NDArray[np.float64] = batch["velocity"]
    at_fault: list[Fault] = batch.errors
    tanks = [PressureTank(volume=[40.0, 80.0], fill="40 %")]
    dosed = door.chlorine.shock_batch(
        vessels=tanks, product={"kind": "listed", "name": "household_bleach_6"}, free_chlorine="100 mg/L", units="us"
    )
    assert_type(dosed.rows, int)
    return len(speeds) + len(at_fault)


def one_script_for_both_doors(door: Client | InProcess) -> float:
    with door:
        return door.pipe.velocity(flow="9 gal/min", bore="20 mm").velocity


async def with_asyncio() -> list[float]:
    async with AsyncClient("http://127.0.0.1:8254", timeout=2.0, retries=1, headers={"x": "y"}) as door:
        answers = await asyncio.gather(*(door.pipe.velocity(flow=flow, bore=20, units="metric") for flow in (8.0, 9.0)))
        batch = await door.pipe.velocity_batch(flow=[8.0, 9.0], bore=20, units="metric")
        assert_type(batch.warnings[0].rows, list[int] | None)
        return [answer.velocity for answer in answers]


def refusals(door: Client) -> str:
    try:
        door.pipe.velocity(flow="9 gal/min", bore="20 mm")
    except InvalidRequestError as error:
        return "; ".join(f"{fault.pointer} {fault.code}: {fault.message}" for fault in error.faults)
    except ServiceUnreachableError:
        return "away"
    except ServiceError as error:
        return f"{error.status} {error.body} {error.request_id}"
    return ""


def a_batch_of_any_calculation(batch: BatchAnswer[str]) -> list[str]:
    return [f"{name} [{batch.units.get(name, '')}]" for name in batch.columns]
