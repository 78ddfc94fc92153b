"""Contracts of site/water-check."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Text
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

WaterSourceName: TypeAlias = Literal["drilled_well", "dug_well", "spring", "surface_water", "rainwater"]

_BED = "Inside diameter of the tank, which gives its backwash flow."
_COUNT = "in 100 mL (colonies or most probable number): 0 for absent or none found, 1 for present without a count."


def _amount(doc: str, example: str, *, species: tuple[tuple[str, float], ...] = ()) -> Laboratory:
    return Laboratory("concentration", doc, at_least="0 mg/L", at_most="100 g/L", example=example, species=species)


def _bed(example: str) -> Measure:
    return Measure("small_length", _BED, at_least="10 cm", at_most="2 m", example=example)


class WaterCheckRequest(Request, Generic[Q]):
    """Results of a raw-water test, each as far as it was tested; flows and tanks where known.

    A result below the detection limit, as <0.005 mg/L, counts as that limit if it lies within the limit here.
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
            "Where the water comes from: parasites and viruses of surface water show in no bacteria test.",
            example="drilled_well",
        ),
    ] = None
    uvt: Annotated[
        Q | None,
        Laboratory(
            "share",
            "Transmittance of the water at 254 nm over 1 cm (UVT). A result >90 % counts as 90 %; <75 % is refused.",
            at_least="1 %",
            at_most="100 %",
            example="88 %",
            hint="UVT is a percentage per centimetre: for a transmittance of 0.75 write 75 %.",
            worse="lower",
        ),
    ] = None
    iron: Annotated[Q | None, _amount("Total iron.", "0.2 mg/L")] = None
    manganese: Annotated[Q | None, _amount("Total manganese.", "0.02 mg/L")] = None
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
        Laboratory("plain", "Turbidity in NTU.", at_least="0", at_most="10000", example="0.6"),
    ] = None
    ph: Annotated[Q | None, Measure("plain", "pH.", at_least="0", at_most="14", example="7.4")] = None
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
    hydrogen_sulfide: Annotated[Q | None, _amount("Hydrogen sulfide, measured at the well.", "0.02 mg/L")] = None
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
        _amount("Nitrate as nitrogen (N); write a result as nitrate with 'as NO3'.", "2.1 mg/L", species=NITRATE),
    ] = None
    lead: Annotated[Q | None, _amount("Lead, in the first water of the morning.", "0.001 mg/L")] = None
    copper: Annotated[Q | None, _amount("Copper, in the first water of the morning.", "0.1 mg/L")] = None
    arsenic: Annotated[Q | None, _amount("Arsenic.", "0.002 mg/L")] = None
    fluoride: Annotated[Q | None, _amount("Fluoride.", "0.3 mg/L")] = None
    uranium: Annotated[Q | None, _amount("Uranium.", "0.002 mg/L")] = None
    sulfate: Annotated[Q | None, _amount("Sulfate.", "30 mg/L")] = None
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
            "Temperature of the sleeve's outside, warmest when no water runs.",
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
            "Flow that pump and well can hold for a backwash.",
            at_least="0.01 L/min",
            at_most="1 m3/s",
            example="8 gal/min",
        ),
    ] = None
    oxidising_filter_diameter: Annotated[Q | None, _bed("10 in")] = None
    softener_diameter: Annotated[Q | None, _bed("9 in")] = None
    carbon_filter_diameter: Annotated[Q | None, _bed("9 in")] = None


class ParameterResult(msgspec.Struct, Generic[N], kw_only=True):
    """One result beside its limits, in the unit in which they are printed."""

    name: Annotated[str, Text("Name of the parameter.")]
    unit: Annotated[str, Text("Unit of the figures here, whatever the unit profile; none for a plain number.")]
    value: Annotated[N, Measure("plain", "Result.")]
    lower_limit: Annotated[N | None, Measure("plain", "Lowest that is within; absent where there is none.")]
    upper_limit: Annotated[N | None, Measure("plain", "Highest that is within; absent where there is none.")]
    beyond_by: Annotated[N, Measure("plain", "How far beyond a limit; 0 within.")]
    within: Annotated[bool, Flag("Whether it is within its limits.")]
    effect: Annotated[str, Text("What its limit is for: ultraviolet, health, disinfection or aesthetic.")]
    treatment: Annotated[str | None, Text("Stage of the train that treats it, specialist, or none within.")]
    source: Annotated[str, Text("Where the limit stands.")]


class UntestedParameter(msgspec.Struct, Generic[N], kw_only=True):
    """What was not tested."""

    name: Annotated[str, Text("Name of the parameter.")]
    cannot_judge: Annotated[str, Text("What cannot be judged without it.")]
    needed: Annotated[
        bool, Flag("Whether a verdict stays open without it; only tests for the unit bear on uv_verdict.")
    ]


class TrainStage(msgspec.Struct, Generic[N], kw_only=True):
    """One stage ahead of the tap, in the order of treatment."""

    name: Annotated[str, Text("Name of the stage.")]
    title: Annotated[str, Text("The same in words.")]
    needed: Annotated[bool, Flag("Whether this water wants it.")]
    service_flow: Annotated[N | None, Measure("flow", "Flow it must pass: the peak flow; absent where none is given.")]
    backwash_velocity: Annotated[
        N | None, Measure("velocity", "Backwash flow for each area of its bed; absent where none was found published.")
    ]
    backwash_flow: Annotated[N | None, Measure("flow", "Backwash flow of the tank given; absent without it.")]


class UvCannotRemove(msgspec.Struct, Generic[N], kw_only=True):
    """What ultraviolet light leaves in the water."""

    what: Annotated[str, Text("What stays.")]
    remedy: Annotated[str, Text("What takes it out.")]


class WaterCheckAnswer(Answer, Generic[N]):
    """Is the raw water fit for ultraviolet treatment, and what comes ahead of it."""

    safer: ClassVar[Mapping[str, Safe]] = lower("greatest_backwash_flow") | {
        "verdict": ("ok", "incomplete", "treat_first", "unsuitable"),
        "uv_verdict": ("ok", "incomplete", "treat_first", "unsuitable"),
        "bacteria_found": False,
    }
    undirected: ClassVar[Mapping[str, str]] = {
        "how much of the test was given": "complete",
        "calcium balance, which has no safe side": (
            "saturation_ph langelier_index ryznar_index langelier_index_at_sleeve "
        ),
    }

    verdict: Annotated[
        str,
        Text(
            "ok; treat_first; unsuitable: beyond ultraviolet light and common household stages; or incomplete: nothing "
            "tested fails, but a test that is needed, or where the water comes from, is missing."
        ),
    ]
    uv_verdict: Annotated[
        str,
        Text("The same for ultraviolet treatment alone: what must be treated so that the unit works, chemicals aside."),
    ]
    complete: Annotated[bool, Flag("Whether every parameter was tested and the source of the water is given.")]
    bacteria_found: Annotated[bool | None, Flag("Whether coliform or E. coli were found; absent where not tested.")]
    parameters: Annotated[list[ParameterResult[N]], Items("Each result beside its limits.")]
    not_tested: Annotated[list[UntestedParameter[N]], Items("What was not tested.")]
    train: Annotated[list[TrainStage[N]], Items("Every stage in the order of treatment, needed or not; UV last.")]
    greatest_backwash_flow: Annotated[
        N | None,
        Measure("flow", "Greatest backwash flow of the stages needed; absent where none of their tanks is given."),
    ]
    saturation_ph: Annotated[N | None, Measure("plain", "pH at which lime would neither settle nor dissolve.")]
    langelier_index: Annotated[N | None, Measure("plain", "Langelier index; absent where an input is missing.")]
    ryznar_index: Annotated[N | None, Measure("plain", "Ryznar index; absent where an input is missing.")]
    langelier_index_at_sleeve: Annotated[
        N | None, Measure("plain", "Langelier index at the sleeve's temperature and the water's pH.")
    ]
    scaling: Annotated[
        str | None, Text("scale_forming, balanced or scale_dissolving, at the warmer of water and sleeve.")
    ]
    uv_cannot_remove: Annotated[list[UvCannotRemove[N]], Items("What ultraviolet light leaves in the water.")]
