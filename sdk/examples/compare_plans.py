"""A whole installation from typed parts, then the same with one input changed.

dosewright serve &        python sdk/examples/compare_plans.py [address]

The house is invented. Put ``InProcess()`` in place of ``Client(address)`` and the same runs without a service.
"""

import sys
from functools import partial

from msgspec.structs import replace

from dosewright_sdk import FROM_PLAN, Client, ServiceUnreachableError
from dosewright_sdk.types import (
    DeratedFlowRequest,
    DeviceSegment,
    DrilledCasing,
    FittingSegment,
    Liquid,
    PipeSegment,
    PlanAnswer,
    PressureDropRequest,
    RatedDrop,
    RatedPoint,
    ShockRequest,
    WaterCheckRequest,
)

address = sys.argv[1] if len(sys.argv) > 1 else "http://127.0.0.1:8254"

# Each part is the request of its own calculation. FROM_PLAN marks values that the plan supplies.
water = WaterCheckRequest(
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
unit = DeratedFlowRequest(
    uvt=FROM_PLAN,
    lamp_ageing_factor="80 %",
    sleeve_fouling_factor="88 %",
    rated_points=[
        RatedPoint(
            rated_flow="52 L/min",
            uvt="95 %",
            dose="40 mJ/cm2",
            lamp_ageing_factor="80 %",
            sleeve_fouling_factor="100 %",
        )
    ],
    chamber_bore="90 mm",
    sleeve_outer_diameter="26 mm",
    arc_length="790 mm",
    chamber_length="840 mm",
)
run = PressureDropRequest(
    flow=FROM_PLAN,
    segments=[
        PipeSegment(material="copper_type_l", nominal_size="3/4", length="34 ft"),
        FittingSegment(fitting="elbow_90", count=7),
        DeviceSegment(rated_points=[RatedDrop(rated_flow="12 gal/min", pressure_drop="2 psi")]),
    ],
    inlet_pressure="45 psi",
    required_outlet_pressure="20 psi",
)
well = ShockRequest(
    vessels=[DrilledCasing(diameter="6 in", water_column="127 ft")],
    product=Liquid(sodium_hypochlorite="6 %"),
    free_chlorine="100 mg/L",
)


def show(name: str, plan: PlanAnswer[float]) -> None:
    """Print the verdict, the unit chosen, and what must be solved first."""
    chosen = next(choice for choice in plan.choices if choice.chosen)
    flow = f"{chosen.derated_flow:.3g} {plan.units['choices.derated_flow']}"
    print(f"{name}: {plan.verdict}; unit {chosen.number + 1} carries {flow}")
    for reason in plan.reasons:
        print(f"  {reason.severity}: {reason.message}")


with Client(address) as client:
    site = partial(
        client.site.plan,
        peak_flow="8 gal/min",
        water_temperature="8 degC",
        water_test=water,
        equipment=[unit],
        plumbing=run,
        chlorination=well,
        units="us",
    )
    try:
        show("as it is", site())
    except ServiceUnreachableError as error:
        sys.exit(f"{error} (is dosewright serve running at {address}?)")
    # One input changed: in the water test, then in the equipment.
    show("after a wet spring", site(water_test=replace(water, uvt="72 %", turbidity="1.6")))
    show("two in parallel", site(peak_flow="14 gal/min", equipment=[unit, replace(unit, units_in_parallel=2)]))
    # Or read it directly: which input, changed to which value, changes the verdict.
    for turn in site(sensitivity=True).sensitivity:
        print(f"{turn.input}: {turn.now} now, {turn.verdict_beyond} past {turn.threshold}")
