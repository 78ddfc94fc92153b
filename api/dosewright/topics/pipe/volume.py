"""Contents of a run of pipes and devices, and the water and time to flush it."""

from functools import reduce

import numpy as np

from dosewright.core.hydraulics import friction, pipe, vessels
from dosewright.core.water_and_air import water
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import calculation
from dosewright.quantities import Numbers
from dosewright.topics.pipe.contracts.vessels import PipeRun, PressureTank, WaterHeater
from dosewright.topics.pipe.contracts.volume import VesselContents, VolumeAnswer, VolumeRequest
from dosewright.topics.pipe.run.pipe_contents import bore_of
from dosewright.topics.pipe.vessels import check_vessels, volume_of, warn_vessels

__all__ = ["volume"]

_COLDEST = float(water.kinematic_viscosity(273.15))  # water at its most viscous, so laminar at the highest flow
_LITTLE = 0.05  # negligible share of old water

_FLUSH = Basis(
    method=(
        "flush volume = volume x exchanges; time = volume / flow; share that remains if everything mixes = "
        "exp(-exchanges)"
    ),
    source="volume balance: plug flow, and the well-mixed vessel",
    validity="constant flow through the whole run in series; water in dead legs is not exchanged",
)


@calculation(
    "pipe/volume",
    request=VolumeRequest,
    answer=VolumeAnswer,
    summary="Contents of a run of pipes and devices, and the water and time to flush it",
    example={
        "vessels": [
            {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "3/4"},
            {"kind": "filter_housing", "volume": "1.5 L"},
            {"kind": "pipe", "length": "25 ft", "material": "pex_sdr9", "nominal_size": "1/2"},
        ],
        "volume_changes": "3",
        "flow": "2.5 gal/min",
    },
)
def volume(ask: VolumeRequest[Numbers], notes: Notes) -> VolumeAnswer[Numbers]:
    """Calculate the water in pipes, housings, chambers and tanks, and the water and time to flush them.

    Pipes push the old water out; tanks mix it. The share that remains with full mixing is the upper bound.
    """
    warn_vessels(ask.vessels, notes)
    notes.add_basis(_FLUSH)
    notes.caution("local_rules")
    each = [volume_of(vessel) for vessel in ask.vessels]
    total = reduce(lambda a, b: a + b, each)
    flushed = total * ask.volume_changes
    message = "One volume change leaves up to 37 % of the old water in a tank, because tanks mix. Use three or more."
    for index, vessel in enumerate(ask.vessels):
        if isinstance(vessel, (PressureTank, WaterHeater)):
            notes.warn("tank_mixes", f"vessels.{index}.volume", message, when=ask.volume_changes < 3.0)
    left = vessels.left_in_laminar_pipe(ask.volume_changes)
    _warn_laminar(ask, left, notes)
    return VolumeAnswer(
        volume=total,
        flush_volume=flushed,
        flush_time=None if ask.flow is None else flushed / ask.flow,
        transit_time=None if ask.flow is None else total / ask.flow,
        remaining_if_mixed=np.exp(-ask.volume_changes),
        remaining_if_laminar=left,
        vessels=[VesselContents(volume=one) for one in each],
    )


def _warn_laminar(ask: VolumeRequest[Numbers], left: Numbers, notes: Notes) -> None:
    """Warn of pipes in which laminar flow does not push the old water out, or whose flow is unknown."""
    if ask.flow is None:
        message = (
            "The flow is unknown. In laminar flow, a quarter of the old water remains after one volume change "
            "and a twelfth after three: see remaining_if_laminar. Enter the flow, or flush five volumes or more."
        )
        pipes = any(isinstance(vessel, PipeRun) for vessel in ask.vessels)
        notes.warn("flow_not_given", "flow", message, when=np.logical_and(pipes, left > _LITTLE)[()])
        return
    message = (
        "The flow in this pipe is laminar or in transition at 0 degC. The water at the wall lags: a quarter of "
        "the old water remains after one volume change and a twelfth after three. Flush faster, or use more "
        "volume changes."
    )
    for index, vessel in enumerate(ask.vessels):
        if isinstance(vessel, PipeRun):
            bore = bore_of(vessel)
            reynolds = pipe.reynolds_number(pipe.velocity(ask.flow, bore), bore, _COLDEST)
            slow = np.logical_and(reynolds < friction.TRANSITION_ENDS_AT, left > _LITTLE)
            notes.warn("laminar_flush", f"vessels.{index}.bore", message, when=slow[()])


@volume.check("vessels")
def _clear_vessels(ask: VolumeRequest[Numbers], notes: Notes) -> None:
    check_vessels(ask.vessels, notes)
