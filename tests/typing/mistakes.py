# pyright: strict
"""Mistakes that a type checker must see: each line marked so, and no other. Read by test_typing.py, never run."""

from dosewright_sdk import AsyncClient, Client, InProcess, InvalidRequestError, Quantity, ServiceError
from dosewright_sdk.types import (
    DeratedFlowRequest,
    FittingSegment,
    Granules,
    PipeSegment,
    PressureTank,
    WaterCheckRequest,
)


def fields(door: InProcess) -> None:
    door.pipe.velocty(flow="9 gal/min")  # mistake
    door.pipes.velocity(flow="9 gal/min")  # mistake
    door.pipe.velocity(flow="9 gal/min", bor="20 mm")  # mistake
    door.pipe.velocity(bore="20 mm")  # mistake
    door.pipe.velocity("9 gal/min")  # mistake
    door.pipe.velocity(flow=None)  # mistake
    door.pipe.velocity(flow=["8 gal/min", "9 gal/min"])  # mistake
    door.pipe.velocity(flow=b"9 gal/min")  # mistake
    print(door.pipe.velocity(flow=Quantity(9.0)))  # mistake
    door.pipe.velocity(flow="9 gal/min", material="copper_type_x")  # mistake
    door.pipe.velocity(flow="9 gal/min", nominal_size=0.75)  # mistake
    door.pipe.velocity(flow="9 gal/min", units="imperial")  # mistake
    door.pipe.velocity(flow="9 gal/min", answer_units={"velocity": 5})  # mistake
    door.pipe.velocity(flow="9 gal/min", answer_units="velocity:m/s")  # mistake


def items(door: Client) -> None:
    PipeSegment(lenght="60 ft")  # mistake
    PipeSegment()  # mistake
    PipeSegment("60 ft")  # mistake
    PipeSegment(length="60 ft", material="copper")  # mistake
    FittingSegment(fitting="elbow")  # mistake
    door.pipe.pressure_drop(flow="9 gal/min", segments="pipe")  # mistake
    print(door.pipe.pressure_drop(flow="9 gal/min", segments=PipeSegment(length="60 ft")))  # mistake
    door.pipe.pressure_drop(flow="9 gal/min", segments=[Granules(available_chlorine="65 %")])  # mistake
    print(door.chlorine.shock(vessels=[PressureTank(volume="80 gal")]))  # mistake
    print(door.chlorine.shock(vessels=[PressureTank(volume="80 gal")], product="household_bleach_6"))  # mistake


def parts(door: InProcess) -> None:
    WaterCheckRequest(uvt="87 %", iorn="0.1 mg/L")  # mistake
    DeratedFlowRequest(lamp_ageing_factor="80 %", sleeve_fouling_factor="88 %")  # mistake
    door.site.plan(water_test=DeratedFlowRequest)  # mistake
    door.site.plan(water_test="87 %")  # mistake
    door.site.plan(equipment=WaterCheckRequest(uvt="87 %"))  # mistake
    print(door.site.plan(water_test=WaterCheckRequest(uvt="87 %")).verdit)  # mistake


def answers(door: InProcess) -> None:
    answer = door.pipe.velocity(flow="9 gal/min", bore="20 mm")
    print(answer.velocty)  # mistake
    print(answer.velocity.rows)  # mistake
    text: str = answer.velocity  # mistake
    number: float = answer.smallest_nominal_size  # mistake
    print(answer.regime + 1)  # mistake
    batch = door.pipe.velocity_batch(flow=["9 gal/min"], bore="20 mm")
    print(batch["velocty"])  # mistake
    print(batch.velocity)  # mistake
    print(text, number)


async def clients() -> None:
    Client(timeot=3.0)  # mistake
    Client("http://127.0.0.1:8254", 3.0)  # mistake
    InProcess("http://127.0.0.1:8254")  # mistake
    door = AsyncClient()
    print(door.pipe.velocity(flow="9 gal/min").velocity)  # mistake
    with AsyncClient():  # mistake
        pass
    await door.pipe.velocity(flow="9 gal/min", material="copper_type_x")  # mistake


def errors(refused: InvalidRequestError, failed: ServiceError) -> None:
    print(refused.fault)  # mistake
    print(refused.faults[0].massage)  # mistake
    print(failed.code)  # mistake
