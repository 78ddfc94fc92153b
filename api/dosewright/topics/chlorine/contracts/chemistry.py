"""Contracts of the chemistry of chlorine: its two forms in water, and the agents that neutralise it."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Items, Measure, Text, default
from dosewright.topics.chlorine.contracts.shock import NeutraliserName

__all__ = [
    "AgentAmount",
    "AgentChoice",
    "NeutraliseAnswer",
    "NeutraliseRequest",
    "PkaRelation",
    "SpeciationAnswer",
    "SpeciationRequest",
]

PkaRelation: TypeAlias = Literal["morris_1966", "wagman_1982"]
AgentChoice: TypeAlias = Literal["all", NeutraliserName]


class SpeciationRequest(Request, Generic[Q]):
    """pH, temperature, free chlorine and dissolved solids of the water."""

    worse: ClassVar[Mapping[str, Direction]] = higher("ph") | lower("free_chlorine")
    undirected: ClassVar[Mapping[str, str]] = {
        "changes the acid constant in both directions": "water_temperature total_dissolved_solids",
    }

    ph: Annotated[
        Q, Measure("plain", "pH of the water with the chlorine in it.", at_least="5", at_most="14", example="7.6")
    ]
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="50 degC", example="12 degC"),
    ]
    free_chlorine: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Free chlorine, the sum of the two forms.",
            at_least="0.001 mg/L",
            at_most="5000 mg/L",
            example="1.2 mg/L",
        ),
    ] = None
    total_dissolved_solids: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Total dissolved solids, for the ionic strength. Without them, none are assumed.",
            at_least="0 mg/L",
            at_most="5000 mg/L",
            example="450 mg/L",
        ),
    ] = None
    relation: Annotated[
        PkaRelation, Choice("Published equation for the acid constant. The answer also shows the other one.")
    ] = "morris_1966"


class SpeciationAnswer(Answer, Generic[N]):
    """Shares of hypochlorous acid and hypochlorite ion in the free chlorine."""

    safer: ClassVar[Mapping[str, Safe]] = higher(
        "hypochlorous_acid_share hypochlorous_acid other_hypochlorous_acid_share"
    ) | lower("hypochlorite_ion_share")
    undirected: ClassVar[Mapping[str, str]] = {
        "a constant": "pka dilute_pka other_pka",
        "the rest of the free chlorine": "hypochlorite_ion",
    }

    hypochlorous_acid_share: Annotated[N, Measure("share", "Share that is hypochlorous acid, which disinfects fast.")]
    hypochlorite_ion_share: Annotated[N, Measure("share", "Share that is hypochlorite ion.")]
    pka: Annotated[N, Measure("plain", "Acid constant used, corrected for dissolved salts.")]
    dilute_pka: Annotated[N, Measure("plain", "Acid constant at zero ionic strength.")]
    hypochlorous_acid: Annotated[N | None, Measure("concentration", "Hypochlorous acid, as chlorine.")]
    hypochlorite_ion: Annotated[N | None, Measure("concentration", "Hypochlorite ion, as chlorine.")]
    other_relation: Annotated[str, Text("The other published equation.")]
    other_pka: Annotated[
        N | None,
        Measure(
            "plain", "Acid constant from the other equation, corrected for dissolved salts; absent outside its range."
        ),
    ]
    other_hypochlorous_acid_share: Annotated[
        N | None, Measure("share", "Share of hypochlorous acid from the other equation; absent outside its range.")
    ]


class NeutraliseRequest(Request, Generic[Q]):
    """Water, the chlorine left in it, and the reducing agent."""

    worse: ClassVar[Mapping[str, Direction]] = higher("volume chlorine") | lower("purity")

    volume: Annotated[
        Q, Measure("volume", "Water to neutralise.", at_least="1 mL", at_most="100000 m3", example="250 gal")
    ]
    chlorine: Annotated[
        Q,
        Measure(
            "concentration",
            "Total chlorine measured in the water.",
            at_least="0.01 mg/L",
            at_most="5000 mg/L",
            example="50 mg/L",
        ),
    ]
    agent: Annotated[AgentChoice, Choice("Reducing agent. Without one, the answer compares all.")] = "all"
    purity: Annotated[
        Q,
        Measure("share", "Share of pure agent in the product.", above="0 %", at_most="100 %", example="95 %"),
    ] = default("100 %")


class AgentAmount(msgspec.Struct, Generic[N], kw_only=True):
    """Amount of one agent from one reaction or one handbook."""

    agent: Annotated[str, Text("Reducing agent.")]
    method: Annotated[str, Text("stoichiometry, handbook or surplus.")]
    detail: Annotated[str, Text("Product of the reaction, or source of the handbook figure.")]
    status: Annotated[str, Text("Status of the figure: found (read in the source), memory (recalled) or computed.")]
    ratio: Annotated[N, Measure("plain", "Mass of pure agent per mass of chlorine.")]
    mass: Annotated[N, Measure("small_mass", "Product to weigh out, at this purity.")]


class NeutraliseAnswer(Answer, Generic[N]):
    """Reducing agents for the chlorine in a volume: stoichiometric and handbook amounts."""

    safer: ClassVar[Mapping[str, Safe]] = lower("chlorine_mass")

    chlorine_mass: Annotated[N, Measure("small_mass", "Chlorine in the water.")]
    amounts: Annotated[list[AgentAmount[N]], Items("Amount of each agent, by reaction and by handbook.")]
