"""Largest flow through a run at a given pressure."""

from typing import Any

import numpy as np

from dosewright.core.hydraulics.flow_split import flow_for_loss
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.quantities import Numbers
from dosewright.topics.pipe import charts
from dosewright.topics.pipe.contracts.pressure_drop import FittingSegment, LargestFlowRequest, PipeSegment
from dosewright.topics.pipe.contracts.run_answers import LargestFlowAnswer
from dosewright.topics.pipe.run.checks import allowed_drop, refuse_unclear_limit, refuse_unclear_segments
from dosewright.topics.pipe.run.losses import Run
from dosewright.topics.pipe.run.pipe_choice import limit_of
from dosewright.topics.pipe.run.report import costliest, report

__all__ = ["largest_flow"]

_LOWEST_FLOW, _HIGHEST_FLOW = 1e-3 / 60000.0, 0.05  # the flow range of the contract
_SAFE_FLOW = 1e-4  # placeholder in refused rows
# The flow is rounded down by the error of arithmetic and unit conversion, so that it stays within its limit when it
# is entered again: relative, and of the pressures that cancel out.
_BELOW, _CANCELLED = 1e-12, 1e-13

_INVERSE = Basis(
    method=(
        "largest flow: the flow whose pressure drop equals the limit, by a bracketed secant to 1e-13, rounded "
        "down by 1e-12"
    ),
    source="inverse of the pressure drop",
    validity="between 0.001 L/min and 50 L/s",
)

_FILTERS: list[dict[str, Any]] = [
    {
        "kind": "device",
        "rated_points": [
            {"rated_flow": "5 gal/min", "pressure_drop": "1.5 psi"},
            {"rated_flow": "10 gal/min", "pressure_drop": "4.5 psi"},
        ],
        "loaded_pressure_drop": "8 psi",
        "branch": branch,
    }
    for branch in ("a", "b")
]


@calculation(
    "pipe/largest-flow",
    views=Views(chart=charts.grade_line),
    request=LargestFlowRequest,
    answer=LargestFlowAnswer,
    summary="Largest flow through a run at a given pressure",
    example={
        "segments": [
            {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "1"},
            {"kind": "fitting", "fitting": "elbow_90", "count": "6"},
            *_FILTERS,
            {"kind": "elevation", "elevation_change": "9 ft"},
        ],
        "water_temperature": "12 degC",
        "inlet_pressure": "40 psi",
        "required_outlet_pressure": "20 psi",
        "cartridges": "loaded",
    },
)
def largest_flow(ask: LargestFlowRequest[Numbers], notes: Notes) -> LargestFlowAnswer[Numbers]:
    """Calculate the largest flow at which a run stays within its pressure limit, and what happens along it.

    The inverse of the pressure drop of a run. Enter the same segments, and the allowed pressure drop or the inlet
    pressure and the pressure required at the outlet. The answer also has the largest flow that keeps every pipe within
    its published velocity limit.
    """
    run = Run(ask)
    allowed = allowed_drop(ask)
    if allowed is None:
        raise LookupError("a request without a limit passed the checks")
    loaded = ask.cartridges == "loaded"
    target = _target(run, allowed, ask)
    none_left = np.asarray(target <= 0.0)
    message = "Nothing flows: the changes of elevation alone need all the pressure available."
    notes.refuse("no_pressure_left", "segments", message, when=none_left)

    def lost(flow: Numbers) -> Numbers:
        return run.losses(flow, loaded=loaded)

    target = np.where(none_left, 1.0, target)[()]
    found = flow_for_loss(lost, target, _LOWEST_FLOW, _HIGHEST_FLOW, lost(_SAFE_FLOW))
    missing = np.isnan(found)
    message = (
        "The pressure limit is not reached between 0.001 L/min and 50 L/s: the run loses almost nothing, or too much."
    )
    notes.refuse("flow_out_of_range", "segments", message, when=missing & ~none_left)
    flow: Numbers = np.where(missing, _SAFE_FLOW, found)[()]
    given = report(run, flow, ask, notes)
    notes.add_basis(_INVERSE)
    segment, share = costliest(given)
    return LargestFlowAnswer(
        flow=flow,
        velocity_limited_flow=_velocity_limited(run, ask),
        pressure_drop=given.pressure_drop,
        outlet_pressure=None if ask.inlet_pressure is None else ask.inlet_pressure - given.pressure_drop,
        largest_loss_segment=segment,
        largest_loss_share=share,
        segments=given.segments,
    )


@largest_flow.check("segments", "method")
def _clear_segments(ask: LargestFlowRequest[Numbers], notes: Notes) -> None:
    refuse_unclear_segments(ask, notes)


@largest_flow.check("inlet_pressure", "required_outlet_pressure")
def _clear_limit(ask: LargestFlowRequest[Numbers], notes: Notes) -> None:
    refuse_unclear_limit(ask, notes)


@largest_flow.check("inlet_pressure", "required_outlet_pressure", "pressure_drop_limit")
def _some_limit(ask: LargestFlowRequest[Numbers], notes: Notes) -> None:
    if ask.required_outlet_pressure is None and ask.pressure_drop_limit is None:
        message = "Enter pressure_drop_limit, or inlet_pressure and required_outlet_pressure."
        notes.refuse("required", "pressure_drop_limit", message)


def _target(run: Run, allowed: Numbers, ask: LargestFlowRequest[Numbers]) -> Numbers:
    """Return the allowed pressure loss [Pa], minus the possible rounding error."""
    rises = run.rises()
    left = allowed - run.total(rises)
    sizes = [np.abs(rise) for rise in rises] + [
        np.abs(allowed),
        0.0 if ask.inlet_pressure is None else ask.inlet_pressure,
    ]
    return left * (1.0 - _BELOW) - _CANCELLED * sum(sizes)


def _velocity_limited(run: Run, ask: LargestFlowRequest[Numbers]) -> Numbers | None:
    if not any(isinstance(segment, (PipeSegment, FittingSegment)) for segment in run.segments):
        return None

    def share_of_limit(flow: Numbers) -> Numbers:
        flows, _ = run.flows(flow, loaded=ask.cartridges == "loaded")
        most: Numbers = 0.0
        for stream in run.streams(flows):
            if stream is not None:
                limit = limit_of(stream.pipe.material, ask.water_temperature)
                most = np.maximum(most, stream.velocity / limit)
        return most

    return flow_for_loss(share_of_limit, 1.0 - _BELOW, _LOWEST_FLOW, _HIGHEST_FLOW, share_of_limit(_SAFE_FLOW))
