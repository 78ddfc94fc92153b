"""Fields for lamp, sleeve, water, hydraulics and organism that the ultraviolet calculations share."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Q, Request
from dosewright.engine.directions import Direction, higher, lower
from dosewright.engine.fields import Choice, Flag, Measure, Part, default
from dosewright.tables.names import ConstantOrganism as OrganismName
from dosewright.tables.ultraviolet import uv_default

__all__ = [
    "AGEING",
    "ARC",
    "BORE",
    "CHAMBER",
    "FLOW",
    "FOULING",
    "OUTPUT",
    "SLEEVE",
    "UVT",
    "DoseResponseItem",
    "FieldModel",
    "FirstOrder",
    "Hydraulics",
    "LampAndSleeve",
    "LampAndWater",
    "MultiTarget",
    "OrganismName",
    "PassageChoice",
    "Shoulder",
    "TwoGroups",
]

FieldModel: TypeAlias = Literal["refracted_line", "cosine_segments", "line_source", "radial"]
Hydraulics: TypeAlias = Literal["plug_flow", "tanks_in_series", "laminar"]

BORE = Measure("small_length", "Inside diameter of the chamber.", at_least="10 mm", at_most="1 m", example="80 mm")
SLEEVE = Measure(
    "small_length", "Outer diameter of the quartz sleeve.", at_least="4 mm", at_most="300 mm", example="25 mm"
)
ARC = Measure(
    "small_length",
    "Lit length of the lamp, centred in the chamber.",
    at_least="20 mm",
    at_most="3 m",
    example="720 mm",
)
CHAMBER = Measure(
    "small_length",
    "Wetted length of the chamber. At least the arc length.",
    at_least="20 mm",
    at_most="10 m",
    example="780 mm",
)
OUTPUT = Measure(
    "power",
    "UV-C output (254 nm) of the new, warmed-up lamp in this water, before the sleeve.",
    above="0 W",
    at_most="2 kW",
    example="17 W",
    hint=(
        "Enter UV-C watts, not electric power. A low-pressure lamp turns about a third of its electric power into UV-C."
    ),
)
UVT = Measure(
    "share",
    "UV transmittance of the water (UVT) at 254 nm over 1 cm.",
    at_least="1 %",
    at_most="100 %",
    example="88 %",
    hint="Enter UVT as a percentage per centimetre. For a transmittance of 0.75 enter 75 %.",
)
AGEING = Measure(
    "share",
    "Lamp ageing factor: output now, as a share of the new lamp's output.",
    at_least="1 %",
    at_most="100 %",
    example="80 %",
)
FOULING = Measure(
    "share",
    "Sleeve fouling factor: share of the light that passes the deposit on the sleeve.",
    at_least="1 %",
    at_most="100 %",
    example="85 %",
)
TARGET = Measure("dose", "Required dose, as a RED.", above="0 mJ/cm2", at_most="2000 mJ/cm2", example="40 mJ/cm2")


FLOW = Measure("flow", "Flow through the chamber.", at_least="0.01 L/min", at_most="1 m3/s", example="30 L/min")
_RATE_BOUNDS = {"at_least": "0.0001 cm2/mJ", "at_most": "10 cm2/mJ"}
_FLOOR = Measure("plain", "Share of the organisms that survive any dose.", above="0", below="0.1", example="0.00001")


class FirstOrder(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="first_order"
):
    """Survival exp(-k D)."""

    rate: Annotated[
        Q, Measure("inactivation_rate", "Inactivation rate, base e.", example="0.12 cm2/mJ", **_RATE_BOUNDS)
    ]
    floor: Annotated[Q | None, _FLOOR] = None


class Shoulder(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="shoulder"):
    """First order after a shoulder: small doses have little effect."""

    rate: Annotated[
        Q,
        Measure(
            "inactivation_rate", "Inactivation rate after the shoulder, base e.", example="0.3 cm2/mJ", **_RATE_BOUNDS
        ),
    ]
    shoulder_dose: Annotated[
        Q, Measure("dose", "Length of the shoulder.", at_least="0 mJ/cm2", at_most="500 mJ/cm2", example="8 mJ/cm2")
    ]
    floor: Annotated[Q | None, _FLOOR] = None


class MultiTarget(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="multi_target"
):
    """Survival 1 - (1 - exp(-k D))^m."""

    rate: Annotated[
        Q,
        Measure(
            "inactivation_rate", "Inactivation rate after the shoulder, base e.", example="0.3 cm2/mJ", **_RATE_BOUNDS
        ),
    ]
    targets: Annotated[
        Q,
        Measure(
            "plain", "Number of targets in one organism that must be hit.", at_least="1", at_most="10000", example="20"
        ),
    ]
    floor: Annotated[Q | None, _FLOOR] = None


class TwoGroups(
    msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="two_groups"
):
    """Two groups of organisms. The resistant group makes the tail."""

    rate: Annotated[
        Q,
        Measure(
            "inactivation_rate",
            "Inactivation rate of the sensitive group, base e.",
            example="0.5 cm2/mJ",
            **_RATE_BOUNDS,
        ),
    ]
    resistant_fraction: Annotated[
        Q, Measure("plain", "Share of the resistant group.", above="0", below="1", example="0.001")
    ]
    resistant_rate: Annotated[
        Q,
        Measure(
            "inactivation_rate",
            "Inactivation rate of the resistant group, base e.",
            example="0.05 cm2/mJ",
            **_RATE_BOUNDS,
        ),
    ]
    floor: Annotated[Q | None, _FLOOR] = None


DoseResponseItem: TypeAlias = FirstOrder[Q] | Shoulder[Q] | MultiTarget[Q] | TwoGroups[Q]


PassageChoice: TypeAlias = Annotated[
    Hydraulics | None,
    Choice(
        "How the water mixes in the chamber. plug_flow: mixed across the section, so RED = mean dose. "
        "tanks_in_series: equal mixed tanks. laminar: streamlines that never mix. If omitted, the answer gives "
        "lower and upper bounds from laminar and plug_flow.",
        example="tanks_in_series",
    ),
]


class LampAndSleeve(Request, Generic[Q], kw_only=True):
    """Fields for lamp, sleeve and water that every chamber needs."""

    worse: ClassVar[Mapping[str, Direction]] = lower(
        "uvt lamp_ageing_factor sleeve_fouling_factor output_factor sleeve_transmittance", "wall_reflectance"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "a wider wall absorbs more, but its transmittance is an input": "sleeve_wall",
        "a property of the material": "n_air n_quartz n_water",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        (
            "sleeve_transmittance",
            "refused",
        ): "a value above that of a wall without absorption is impossible",
    }

    uvt: Annotated[Q, UVT]
    lamp_ageing_factor: Annotated[Q, AGEING] = default(uv_default("lamp_ageing_factor"))
    sleeve_fouling_factor: Annotated[Q, FOULING] = default(uv_default("sleeve_fouling_factor"))
    output_factor: Annotated[
        Q | None,
        Measure(
            "share",
            "Present output as a share of uvc_output, from the maker's curves measured in water. Output is lower "
            "while the lamp warms up, and in water colder or hotter than its optimum. Default 100 %: no relation "
            "is built in.",
            at_least="1 %",
            at_most="100 %",
            example="85 %",
        ),
    ] = None
    sleeve_transmittance: Annotated[
        Q,
        Measure(
            "share",
            "Share of 254 nm light that passes one wall of the clean, dry sleeve in air, from its data sheet. "
            "refracted_line removes the reflection losses at both faces from it.",
            at_least="1 %",
            at_most="100 %",
            example="90 %",
        ),
    ] = default(uv_default("sleeve_transmittance"))
    sleeve_wall: Annotated[
        Q,
        Measure(
            "small_length", "Wall thickness of the quartz sleeve.", at_least="0.1 mm", at_most="20 mm", example="1.5 mm"
        ),
    ] = default(uv_default("sleeve_wall"))
    wall_reflectance: Annotated[
        Q | None,
        Measure(
            "share",
            "Share of 254 nm light that the chamber wall reflects, once and like a mirror. Default: no reflection.",
            at_least="0 %",
            at_most="95 %",
            example="20 %",
        ),
    ] = None
    opaque_ends: Annotated[
        bool,
        Flag("Accept a chamber shorter than the arc. The lamp then continues behind end plates that block all light."),
    ] = False
    field_model: Annotated[
        FieldModel,
        Choice(
            "How light spreads. refracted_line: refracted and weakened at the sleeve. cosine_segments: the same, "
            "for a lamp with cosine emission. line_source: straight rays; a warning gives its error. radial: "
            "straight outwards from an infinitely long lamp."
        ),
    ] = "refracted_line"
    n_air: Annotated[
        Q, Measure("plain", "Refractive index at 254 nm of the air in the sleeve.", at_least="1", at_most="1.01")
    ] = default(uv_default("n_air"))
    n_quartz: Annotated[
        Q, Measure("plain", "Refractive index at 254 nm of the sleeve.", at_least="1.3", at_most="1.8")
    ] = default(uv_default("n_quartz"))
    n_water: Annotated[
        Q, Measure("plain", "Refractive index at 254 nm of the water.", at_least="1.3", at_most="1.5")
    ] = default(uv_default("n_water"))


class LampAndWater(LampAndSleeve[Q], Generic[Q], kw_only=True):
    """Further fields for hydraulics and organism that a dose needs."""

    worse: ClassVar[Mapping[str, Direction]] = higher("target_dose")
    undirected: ClassVar[Mapping[str, str]] = {
        "each model spreads the dose differently": "tanks",
        "a rate sets both the RED and the log inactivation it is compared with": (
            "inactivation_rate dose_response.rate dose_response.floor dose_response.shoulder_dose "
            "dose_response.targets dose_response.resistant_fraction dose_response.resistant_rate "
        ),
    }

    target_dose: Annotated[Q, TARGET] = default(uv_default("target_dose"))
    tanks: Annotated[
        Q | None,
        Measure("plain", "Number of equal mixed tanks in series.", at_least="0.5", at_most="1000", example="3"),
    ] = None
    inactivation_rate: Annotated[
        Q | None,
        Measure(
            "inactivation_rate",
            "First-order inactivation rate constant of the organism, base e (2.303 times the base-10 constant).",
            at_least="0.0001 cm2/mJ",
            at_most="10 cm2/mJ",
            example="0.12 cm2/mJ",
        ),
    ] = None
    organism: Annotated[
        OrganismName | None,
        Choice(
            "Organism from the table of first-order constants, instead of inactivation_rate.",
            example="cryptosporidium_parvum",
        ),
    ] = None
    dose_response: Annotated[
        FirstOrder[Q] | Shoulder[Q] | MultiTarget[Q] | TwoGroups[Q] | None,
        Part("Your own dose response, instead of inactivation_rate."),
    ] = None
