"""Contents of a run of pipes and devices, and what flushing it takes."""

from functools import reduce

import numpy as np

from dosewright.calculations.notes import Notes
from dosewright.calculations.registry import calculation
from dosewright.calculations.vessels import check_vessels, note_vessels, volume_of
from dosewright.contracts.base import Basis
from dosewright.contracts.pipe_volume import VesselContents, VolumeAnswer, VolumeRequest
from dosewright.contracts.vessels import PressureTank, WaterHeater
from dosewright.quantities import Numbers

__all__ = ["volume"]

_FLUSH = Basis(
    method="flush volume = volume x exchanges; time = volume / flow; share left where all mixes = exp(-exchanges)",
    source="volume balance: plug flow, and the well-mixed vessel",
    validity="constant flow through all of it in series; water in dead legs is not exchanged",
)


@calculation(
    "pipe/volume",
    request=VolumeRequest,
    answer=VolumeAnswer,
    summary="Contents of a run of pipes and devices, and the time and water that flush it",
    example={
        "vessels": [
            {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "3/4"},
            {"kind": "filter_housing", "volume": "1.5 L"},
            {"kind": "pipe", "length": "25 ft", "material": "pex_sdr9", "nominal_size": "1/2"},
        ],
        "exchanges": "3",
        "flow": "2.5 gal/min",
    },
)
def volume(ask: VolumeRequest[Numbers], notes: Notes) -> VolumeAnswer[Numbers]:
    """Water held by pipes, housings, chambers and tanks, and the water and time that exchange it so many times.

    Pipes push the old water out; tanks mix it. The share left where all mixes is the upper bound of what stays.
    """
    note_vessels(ask.vessels, notes)
    notes.rest_on(_FLUSH)
    notes.caution("local_rules")
    each = [volume_of(vessel) for vessel in ask.vessels]
    total = reduce(lambda a, b: a + b, each)
    flushed = total * ask.exchanges
    message = "One exchange leaves up to 37 % of the old water in a tank: tanks mix. Take three exchanges or more."
    for index, vessel in enumerate(ask.vessels):
        if isinstance(vessel, (PressureTank, WaterHeater)):
            notes.warn("tank_mixes", f"vessels.{index}.volume", message, when=ask.exchanges < 3.0)
    return VolumeAnswer(
        volume=total,
        flush_volume=flushed,
        flush_time=None if ask.flow is None else flushed / ask.flow,
        transit_time=None if ask.flow is None else total / ask.flow,
        left_if_mixed=np.exp(-ask.exchanges),
        vessels=[VesselContents(volume=one) for one in each],
    )


@volume.check("vessels")
def _clear_vessels(ask: VolumeRequest[Numbers], notes: Notes) -> None:
    check_vessels(ask.vessels, notes)
