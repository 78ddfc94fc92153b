"""Contracts of the raw-water check."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Text
from dosewright.tables.names import WaterSourceName
from dosewright.topics.site.laboratory import CALCIUM_CARBONATE, NITRATE, Laboratory

__all__ = [
    "ParameterResult",
    "TrainStage",
    "UntestedParameter",
    "UvCannotRemove",
    "WaterCheckAnswer",
    "WaterCheckRequest",
    "WaterSourceName",
]


_BED = "Inside diameter of the tank. It sets the backwash flow."
# FNU (light scattered at 90 degrees, infrared) is taken as NTU: common practice, no source. Sulfur in sulfate is 32.06
# of 96.06, in hydrogen sulfide 32.06 of 34.08: standard atomic weights, IUPAC 2021, from memory.
_COUNT = "in 100 mL (colonies or most probable number): 0 for absent, 1 for present without a count."


def _amount(
    doc: str, example: str, *species: tuple[str, float], converted: tuple[tuple[str, str], ...] = ()
) -> Laboratory:
    return Laboratory(
        "concentration",
        doc,
        at_least="0 mg/L",
        at_most="100 g/L",
        example=example,
        species=species,
        converted=converted,
    )


def _bed(example: str) -> Measure:
    return Measure("small_length", _BED, at_least="10 cm", at_most="2 m", example=example)


class WaterCheckRequest(Request, Generic[Q]):
    """Results of a raw-water test, with flows and tank sizes where known. Leave out what was not tested.

    A result below the detection limit, such as <0.005 mg/L, is taken as that value if it is within the limit here.
    """

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "iron manganese hardness tannin turbidity hydrogen_sulfide total_coliform e_coli",
        "nitrate_nitrogen lead copper arsenic fluoride uranium sulfate peak_flow oxidising_filter_diameter",
        "softener_diameter carbon_filter_diameter",
    ) | lower("uvt supply_flow")
    undirected: ClassVar[Mapping[str, str]] = {
        "both ends of the range matter": "ph",
        "one input of the calcium balance, which has no safe side": (
            "total_dissolved_solids calcium_hardness alkalinity water_temperature sleeve_temperature "
        ),
    }

    water_source: Annotated[
        WaterSourceName | None,
        Choice(
            "Where the water comes from. No bacteria test shows the parasites and viruses of surface water.",
            example="drilled_well",
        ),
    ] = None
    uvt: Annotated[
        Q | None,
        Laboratory(
            "share",
            "UV transmittance (UVT) at 254 nm over 1 cm. A result >90 % is taken as 90 %; <75 % is rejected.",
            at_least="1 %",
            at_most="100 %",
            example="88 %",
            hint="UVT is a percentage per centimetre. For a transmittance of 0.75, write 75 %.",
            worse="lower",
        ),
    ] = None
    iron: Annotated[Q | None, _amount("Total iron.", "0.2 mg/L", ("fe", 1.0))] = None
    manganese: Annotated[Q | None, _amount("Total manganese.", "0.02 mg/L", ("mn", 1.0))] = None
    hardness: Annotated[
        Q | None,
        Laboratory(
            "hardness",
            "Total hardness as CaCO3.",
            at_least="0 mg/L",
            at_most="10000 mg/L",
            example="6 gpg",
            species=CALCIUM_CARBONATE,
        ),
    ] = None
    tannin: Annotated[Q | None, _amount("Tannin.", "0.05 mg/L")] = None
    turbidity: Annotated[
        Q | None,
        Laboratory(
            "plain", "Turbidity in NTU or FNU.", at_least="0", at_most="10000", example="0.6", names=("NTU", "FNU")
        ),
    ] = None
    ph: Annotated[
        Q | None,
        Laboratory(
            "plain",
            "pH.",
            at_least="0",
            at_most="14",
            example="7.4",
            worse="either",
            names=("SU", "s.u.", "standard units", "pH units"),
        ),
    ] = None
    total_dissolved_solids: Annotated[
        Q | None,
        Laboratory(
            "concentration",
            "Total dissolved solids.",
            at_least="0 mg/L",
            at_most="100 g/L",
            example="310 mg/L",
            worse="either",
        ),
    ] = None
    hydrogen_sulfide: Annotated[
        Q | None,
        _amount(
            "Hydrogen sulfide, measured at the well.",
            "0.02 mg/L",
            ("h2s", 1.0),
            converted=(("s", "multiply a result as sulfur by 1.063 and enter it as hydrogen sulfide (H2S)"),),
        ),
    ] = None
    total_coliform: Annotated[
        Q | None,
        Laboratory(
            "count", f"Total coliform {_COUNT}", at_least="0 1/100mL", at_most="1000000000 1/100mL", example="3 1/100mL"
        ),
    ] = None
    e_coli: Annotated[
        Q | None,
        Laboratory(
            "count", f"E. coli {_COUNT}", at_least="0 1/100mL", at_most="1000000000 1/100mL", example="0 1/100mL"
        ),
    ] = None
    nitrate_nitrogen: Annotated[
        Q | None,
        _amount("Nitrate as nitrogen (N). For a result as nitrate, add 'as NO3'.", "2.1 mg/L", *NITRATE),
    ] = None
    lead: Annotated[Q | None, _amount("Lead in the first water of the morning.", "0.001 mg/L", ("pb", 1.0))] = None
    copper: Annotated[Q | None, _amount("Copper in the first water of the morning.", "0.1 mg/L", ("cu", 1.0))] = None
    arsenic: Annotated[Q | None, _amount("Arsenic.", "0.002 mg/L", ("as", 1.0))] = None
    fluoride: Annotated[Q | None, _amount("Fluoride.", "0.3 mg/L", ("f", 1.0))] = None
    uranium: Annotated[Q | None, _amount("Uranium.", "0.002 mg/L", ("u", 1.0))] = None
    sulfate: Annotated[
        Q | None,
        _amount(
            "Sulfate.",
            "30 mg/L",
            ("so4", 1.0),
            converted=(("s", "multiply a result as sulfur by 2.996 and enter it as sulfate (SO4)"),),
        ),
    ] = None
    calcium_hardness: Annotated[
        Q | None,
        Laboratory(
            "hardness",
            "Calcium as CaCO3.",
            above="0 mg/L",
            at_most="10000 mg/L",
            example="75 mg/L",
            worse="either",
            species=CALCIUM_CARBONATE,
        ),
    ] = None
    alkalinity: Annotated[
        Q | None,
        Laboratory(
            "hardness",
            "Total alkalinity as CaCO3.",
            above="0 mg/L",
            at_most="10000 mg/L",
            example="110 mg/L",
            worse="either",
            species=CALCIUM_CARBONATE,
        ),
    ] = None
    water_temperature: Annotated[
        Q | None,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="90 degC", example="10 degC"),
    ] = None
    sleeve_temperature: Annotated[
        Q | None,
        Measure(
            "temperature",
            "Temperature of the outside of the sleeve. It is warmest when no water runs.",
            at_least="0 degC",
            at_most="90 degC",
            example="40 degC",
        ),
    ] = None
    peak_flow: Annotated[
        Q | None,
        Measure("flow", "Peak flow of the house.", at_least="0.01 L/min", at_most="1 m3/s", example="9 gal/min"),
    ] = None
    supply_flow: Annotated[
        Q | None,
        Measure(
            "flow",
            "Flow that pump and well can sustain for a backwash.",
            at_least="0.01 L/min",
            at_most="1 m3/s",
            example="8 gal/min",
        ),
    ] = None
    oxidising_filter_diameter: Annotated[Q | None, _bed("10 in")] = None
    softener_diameter: Annotated[Q | None, _bed("9 in")] = None
    carbon_filter_diameter: Annotated[Q | None, _bed("9 in")] = None


class ParameterResult(msgspec.Struct, Generic[N], kw_only=True):
    """One result with its limits, in the unit of the published limit."""

    name: Annotated[str, Text("Name of the parameter.")]
    unit: Annotated[str, Text("Unit of these values in every unit profile; none for a plain number.")]
    value: Annotated[N, Measure("plain", "Result.")]
    reported: Annotated[str | None, Text("Result as the laboratory printed it; absent where it is a plain number.")]
    lower_limit: Annotated[N | None, Measure("plain", "Lower limit; absent where there is none.")]
    upper_limit: Annotated[N | None, Measure("plain", "Upper limit; absent where there is none.")]
    exceeds_limit_by: Annotated[N, Measure("plain", "How far the result is outside its limits; 0 within.")]
    within: Annotated[bool, Flag("Whether the result is within its limits.")]
    effect: Annotated[str, Text("What the limit protects: ultraviolet, health, disinfection or aesthetic.")]
    treatment: Annotated[str | None, Text("Treatment stage that corrects it, or specialist; absent within the limits.")]
    source: Annotated[str, Text("Where the limit is published.")]


class UntestedParameter(msgspec.Struct, Generic[N], kw_only=True):
    """One parameter that was not tested."""

    name: Annotated[str, Text("Name of the parameter.")]
    not_assessed: Annotated[str, Text("What is not known without this test.")]
    needed: Annotated[
        bool,
        Flag("Whether a verdict is incomplete without it. Only tests that concern the UV unit affect uv_verdict."),
    ]


class TrainStage(msgspec.Struct, Generic[N], kw_only=True):
    """One treatment stage, in the order of the train."""

    name: Annotated[str, Text("Name of the stage.")]
    title: Annotated[str, Text("Name of the stage in words.")]
    needed: Annotated[bool, Flag("Whether this water needs it.")]
    service_flow: Annotated[N | None, Measure("flow", "Flow it must pass: the peak flow; absent without one.")]
    backwash_velocity: Annotated[
        N | None, Measure("velocity", "Backwash flow per area of the bed; absent where none is published.")
    ]
    backwash_flow: Annotated[N | None, Measure("flow", "Backwash flow of this tank; absent without its diameter.")]


class UvCannotRemove(msgspec.Struct, Generic[N], kw_only=True):
    """Something that ultraviolet light does not remove."""

    item: Annotated[str, Text("What stays in the water.")]
    remedy: Annotated[str, Text("What removes it.")]


class WaterCheckAnswer(Answer, Generic[N]):
    """Whether the raw water suits ultraviolet treatment, and which treatment comes first."""

    safer: ClassVar[Mapping[str, Safe]] = lower("largest_backwash_flow") | {
        "verdict": ("suitable", "incomplete", "fix_first", "not_suitable"),
        "uv_verdict": ("suitable", "incomplete", "fix_first", "not_suitable"),
        "bacteria_present": False,
    }
    undirected: ClassVar[Mapping[str, str]] = {
        "how many parameters were tested": "complete",
        "calcium balance, which has no safe side": (
            "saturation_ph langelier_index ryznar_index langelier_index_at_sleeve "
        ),
    }

    verdict: Annotated[
        str,
        Text(
            "suitable; fix_first; not_suitable: UV and ordinary household treatment are not enough; or incomplete: all "
            "results are within limits, but a needed test or the source of the water is missing."
        ),
    ]
    uv_verdict: Annotated[
        str,
        Text(
            "Verdict for the UV unit alone: whether the water must be treated for the unit to work. Ignores chemicals."
        ),
    ]
    complete: Annotated[bool, Flag("Whether every parameter was tested and the source of the water is known.")]
    bacteria_present: Annotated[bool | None, Flag("Whether coliforms or E. coli are present; absent where not tested.")]
    parameters: Annotated[list[ParameterResult[N]], Items("Each result with its limits.")]
    not_tested: Annotated[list[UntestedParameter[N]], Items("Parameters that were not tested.")]
    train: Annotated[list[TrainStage[N]], Items("Every treatment stage in order, needed or not; UV last.")]
    largest_backwash_flow: Annotated[
        N | None,
        Measure("flow", "Largest backwash flow of the needed stages; absent without any of their tank sizes."),
    ]
    saturation_ph: Annotated[
        N | None, Measure("plain", "pH at which the water neither forms nor dissolves lime scale.")
    ]
    langelier_index: Annotated[N | None, Measure("plain", "Langelier index; absent where an input is missing.")]
    ryznar_index: Annotated[N | None, Measure("plain", "Ryznar index; absent where an input is missing.")]
    langelier_index_at_sleeve: Annotated[
        N | None, Measure("plain", "Langelier index at the sleeve's temperature and the water's pH.")
    ]
    scaling: Annotated[
        str | None, Text("scale_forming, balanced or scale_dissolving, at the warmer of water and sleeve.")
    ]
    uv_cannot_remove: Annotated[list[UvCannotRemove[N]], Items("What ultraviolet light does not remove.")]
