"""Contracts of the ultraviolet topic: inactivation, transmittance of the water, and heating of standing water."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Measure, Text, default
from dosewright.tables import table
from dosewright.tables.names import CreditOrganism, ListedOrganism
from dosewright.topics.uv.contracts.lamp import BORE, CHAMBER, SLEEVE

__all__ = [
    "IdleHeatingAnswer",
    "IdleHeatingRequest",
    "InactivationAnswer",
    "InactivationRequest",
    "TransmittanceAnswer",
    "TransmittanceRequest",
]

DoseKind: TypeAlias = Literal["mean_dose", "reduction_equivalent_dose", "validated_dose"]


def _constant(field: str) -> str:
    row = table("idle_heating").row(field=field)
    if row is None:
        raise KeyError(field)
    return row["value"]


class InactivationRequest(Request, Generic[Q], kw_only=True):
    """A dose, a required log inactivation or a required credit, with an organism or a column of the regulation."""

    worse: ClassVar[Mapping[str, Direction]] = higher("required_log_inactivation required_credit") | lower("dose")

    organism: Annotated[
        ListedOrganism | None,
        Choice("Organism whose published dose response is used.", example="cryptosporidium_parvum"),
    ] = None
    dose: Annotated[
        Q | None,
        Measure(
            "dose",
            "Dose that all the water receives, or a RED.",
            at_least="0 mJ/cm2",
            at_most="2000 mJ/cm2",
            example="40 mJ/cm2",
        ),
    ] = None
    dose_kind: Annotated[
        DoseKind,
        Choice(
            "Type of the dose. Only a validated_dose (RED divided by the validation factor) can earn treatment credit."
        ),
    ] = "reduction_equivalent_dose"
    required_log_inactivation: Annotated[
        Q | None, Measure("plain", "Required log inactivation.", above="0", at_most="8", example="3")
    ] = None
    credit_organism: Annotated[
        CreditOrganism | None, Choice("Column of the regulatory dose table.", example="cryptosporidium")
    ] = None
    required_credit: Annotated[
        Q | None,
        Measure("plain", "Required treatment credit, in half logs.", at_least="0.5", at_most="4", example="3"),
    ] = None


class InactivationAnswer(Answer, Generic[N]):
    """Log inactivation and doses of one organism, and separately the regulatory doses and credit."""

    safer: ClassVar[Mapping[str, Safe]] = higher("log_inactivation log_lower_bound credit") | lower(
        "required_dose credit_dose"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "describes the published data": "data_dose_maximum data_log_maximum",
    }

    log_inactivation: Annotated[
        N | None, Measure("plain", "Log inactivation of the organism at this dose; absent outside its data.")
    ]
    log_lower_bound: Annotated[
        N | None,
        Measure(
            "plain",
            "Lower bound of the log inactivation. Above the organism's data: the value at their end. Below the "
            "lowest published dose: 0.",
        ),
    ]
    required_dose: Annotated[
        N | None, Measure("dose", "Dose for the required log inactivation; absent outside the organism's data.")
    ]
    data_dose_maximum: Annotated[N | None, Measure("dose", "Highest dose in the organism's data.")]
    data_log_maximum: Annotated[N | None, Measure("plain", "Log inactivation at that dose.")]
    data_status: Annotated[str | None, Text("found: read in the source. memory: from memory, not yet checked.")]
    credit_dose: Annotated[N | None, Measure("dose", "Validated dose that the regulation requires for this credit.")]
    credit: Annotated[
        N | None,
        Measure(
            "plain",
            "Log credit that a validated dose reaches. 0 below the first row of the table; absent "
            "for other types of dose.",
        ),
    ]


class TransmittanceRequest(Request, Generic[Q], kw_only=True):
    """One measure of how water absorbs 254 nm light, and the path it was measured over."""

    worse: ClassVar[Mapping[str, Direction]] = higher("absorbance absorption_coefficient") | lower(
        "transmittance path_length"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "only converts": "other_path_length",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("path_length", "transmittance"): "it applies to the other path, not to this one",
    }

    transmittance: Annotated[
        Q | None,
        Measure(
            "share",
            "Share of the light that passes the path.",
            above="0 %",
            at_most="100 %",
            example="75 %",
        ),
    ] = None
    absorbance: Annotated[
        Q | None,
        Measure("plain", "Absorbance over the path, base 10.", at_least="0", at_most="5", example="0.125"),
    ] = None
    absorption_coefficient: Annotated[
        Q | None,
        Measure(
            "absorption", "Absorption coefficient, base e.", at_least="0 1/cm", at_most="12 1/cm", example="0.13 1/cm"
        ),
    ] = None
    path_length: Annotated[
        Q,
        Measure("small_length", "Path length of the measurement.", at_least="0.5 mm", at_most="1 m", example="4 cm"),
    ] = default("1 cm")
    other_path_length: Annotated[
        Q,
        Measure(
            "small_length",
            "Second path length to convert to, in addition to 1 cm.",
            at_least="0.1 mm",
            at_most="10 m",
            example="30 mm",
        ),
    ] = default("1 cm")


class TransmittanceAnswer(Answer, Generic[N]):
    """The same water in every measure."""

    safer: ClassVar[Mapping[str, Safe]] = higher("uvt transmittance") | lower(
        "absorbance_per_centimetre absorption_coefficient absorbance"
    )

    uvt: Annotated[N, Measure("share", "UV transmittance over 1 cm (UVT).")]
    absorbance_per_centimetre: Annotated[N, Measure("absorption", "Absorbance over 1 cm, base 10.")]
    absorption_coefficient: Annotated[N, Measure("absorption", "Absorption coefficient, base e.")]
    transmittance: Annotated[N, Measure("share", "Transmittance over the second path.")]
    absorbance: Annotated[N, Measure("plain", "Absorbance over the second path, base 10.")]


class IdleHeatingRequest(Request, Generic[Q], kw_only=True):
    """A lit lamp in a chamber of standing water."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "lamp_power water_temperature air_temperature standing_time"
    ) | lower("limit_temperature heat_transfer_coefficient")
    undirected: ClassVar[Mapping[str, str]] = {
        "a larger chamber contains more water but has more surface": (
            "chamber_bore sleeve_outer_diameter chamber_length "
        ),
        "delays the heating only": "chamber_mass",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("water_temperature", "first_hour_rise"): "warmer water loses more heat to the room, so it rises less",
    }

    chamber_bore: Annotated[Q, BORE]
    sleeve_outer_diameter: Annotated[Q, SLEEVE]
    chamber_length: Annotated[Q, CHAMBER]
    lamp_power: Annotated[
        Q,
        Measure(
            "power",
            "Electric power of the lamp, all of which becomes heat.",
            above="0 W",
            at_most="2 kW",
            example="40 W",
        ),
    ]
    water_temperature: Annotated[
        Q,
        Measure(
            "temperature",
            "Temperature of the water at the start.",
            at_least="0 degC",
            at_most="99 degC",
            example="9 degC",
        ),
    ] = default("10 degC")
    air_temperature: Annotated[
        Q,
        Measure("temperature", "Room temperature.", at_least="-20 degC", at_most="60 degC", example="18 degC"),
    ] = default("20 degC")
    limit_temperature: Annotated[
        Q | None,
        Measure(
            "temperature", "Temperature limit of the water.", at_least="1 degC", at_most="99 degC", example="40 degC"
        ),
    ] = None
    standing_time: Annotated[
        Q, Measure("time", "Time without flow.", at_least="0 min", at_most="30 d", example="8 h")
    ] = default("8 h")
    chamber_mass: Annotated[
        Q,
        Measure("mass", "Mass of the steel chamber, which heats up with the water.", at_least="0 kg", at_most="500 kg"),
    ] = default("0 kg")
    heat_transfer_coefficient: Annotated[
        Q,
        Measure(
            "heat_transfer",
            "Heat transfer coefficient from the chamber to the air. 0 for no loss.",
            at_least="0 W/(m2.K)",
            at_most="100 W/(m2.K)",
        ),
    ] = default(_constant("heat_transfer_coefficient"))


class IdleHeatingAnswer(Answer, Generic[N]):
    """Temperatures of standing water next to a lit lamp."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("time_to_limit")
        | lower("first_hour_rise temperature_after final_temperature trickle_flow")
        | {"stays_below_limit": True}
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "describes the chamber": "volume",
    }

    volume: Annotated[N, Measure("volume", "Volume of water between sleeve and chamber wall.")]
    first_hour_rise: Annotated[N, Measure("temperature_difference", "Temperature rise in the first hour.")]
    temperature_after: Annotated[N, Measure("temperature", "Temperature after the standing time.")]
    final_temperature: Annotated[
        N | None, Measure("temperature", "Final temperature; absent without heat loss to the air.")
    ]
    time_to_limit: Annotated[
        N | None, Measure("time", "Time until the limit is reached; absent if it is never reached, or without a limit.")
    ]
    trickle_flow: Annotated[
        N | None, Measure("flow", "Steady flow that keeps the water at the limit. 0 if none is required.")
    ]
    stays_below_limit: Annotated[bool | None, Flag("Whether the water stays below the limit for the standing time.")]
