"""Contracts of the chlorine topic."""

from typing import Annotated, Generic, Literal, TypeAlias

import msgspec

from dosewright.contracts.base import Answer, N, Q, Request
from dosewright.contracts.fields import Choice, Items, Measure, Part, Text, default
from dosewright.contracts.hypochlorite import Granules, Liquid, ListedProduct, ProductName
from dosewright.contracts.vessels import (
    Chamber,
    DrilledCasing,
    DugWell,
    FilterHousing,
    PipeRun,
    PlainVolume,
    PressureTank,
    WaterHeater,
)

__all__ = [
    "BatchDoseAnswer",
    "BatchDoseRequest",
    "ChlorinationRuleName",
    "Granules",
    "Liquid",
    "ListedProduct",
    "MeasuredAmount",
    "NeutraliserAmount",
    "NeutraliserName",
    "ProductName",
    "VesselVolume",
]

# The names below are kept equal to the tables by test: an editor completes these, a table cannot be completed.
ChlorinationRuleName: TypeAlias = Literal[
    "san_bernardino_13_24_350",
    "california_74_81_new",
    "california_74_81_repaired",
    "maryland_26_04_04_24",
    "illinois_77_925_50",
    "michigan_325_1661",
    "north_carolina_18c_1002",
    "ontario_903",
    "montana_36_21_662",
    "mil_hdbk_1164",
    "alberta_agdex_716_a10",
    "alberta_health_50",
    "awwa_c651_continuous_feed",
    "awwa_c651_slug",
    "awwa_c651_tablet",
    "awwa_c654",
    "none",
]
NeutraliserName: TypeAlias = Literal[
    "sodium_thiosulfate_pentahydrate",
    "sodium_thiosulfate",
    "sodium_sulfite",
    "sodium_bisulfite",
    "sodium_metabisulfite",
    "calcium_thiosulfate",
    "ascorbic_acid",
    "sodium_ascorbate",
    "hydrogen_peroxide",
]


class BatchDoseRequest(Request, Generic[Q]):
    """Vessels to chlorinate, product, and what is wanted of the water."""

    vessels: Annotated[
        list[
            DrilledCasing[Q]
            | DugWell[Q]
            | PressureTank[Q]
            | WaterHeater[Q]
            | FilterHousing[Q]
            | Chamber[Q]
            | PipeRun[Q]
            | PlainVolume[Q]
        ],
        Items("Everything the chlorinated water fills.", 1, 100),
    ]
    product: Annotated[Liquid[Q] | Granules[Q] | ListedProduct, Part("Hypochlorite product.")]
    rule: Annotated[
        ChlorinationRuleName,
        Choice("Published rule for concentration and hold time; none where only your own figures count."),
    ] = "san_bernardino_13_24_350"
    free_chlorine: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Free chlorine wanted once the demand is met; the rule's lowest when left out.",
            at_least="0.1 mg/L",
            at_most="5000 mg/L",
            example="100 mg/L",
        ),
    ] = None
    chlorine_demand: Annotated[
        Q,
        Measure(
            "concentration",
            "Chlorine that iron, manganese, sulfide, ammonia and organic matter take up.",
            at_least="0 mg/L",
            at_most="1000 mg/L",
            example="3 mg/L",
        ),
    ] = default("0 mg/L")
    ph: Annotated[
        Q | None,
        Measure("plain", "pH of the chlorinated water.", at_least="0", at_most="14", example="7.4"),
    ] = None
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="9 degC"),
    ] = default("10 degC")
    hold_time: Annotated[
        Q | None,
        Measure(
            "time", "Time you will hold it, instead of the rule's.", at_least="1 min", at_most="30 d", example="24 h"
        ),
    ] = None
    residual: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Free chlorine measured at the end of the hold.",
            at_least="0.01 mg/L",
            at_most="5000 mg/L",
            example="25 mg/L",
        ),
    ] = None
    neutraliser: Annotated[NeutraliserName, Choice("Reducing agent for the flushed water.")] = "ascorbic_acid"
    flush_residual: Annotated[
        Q,
        Measure(
            "concentration",
            "Free chlorine at which flushing ends; the default is the highest allowed in drinking water.",
            at_least="0.01 mg/L",
            at_most="100 mg/L",
        ),
    ] = default("4 mg/L")


class VesselVolume(msgspec.Struct, Generic[N], kw_only=True):
    """One vessel."""

    kind: Annotated[str, Text("Kind of vessel, in the order asked.")]
    volume: Annotated[N, Measure("volume", "Water it holds.")]


class MeasuredAmount(msgspec.Struct, Generic[N], kw_only=True):
    """The product rounded up to what can be measured out, and what that gives."""

    system: Annotated[str, Text("metric, us_kitchen or trade.")]
    measure: Annotated[str, Text("What to measure out.")]
    product_volume: Annotated[N | None, Measure("small_volume", "The same as a volume.")] = None
    product_mass: Annotated[N | None, Measure("small_mass", "The same as a mass.")] = None
    dose: Annotated[N, Measure("concentration", "Chlorine it adds.")]
    free_chlorine: Annotated[N, Measure("concentration", "Free chlorine it leaves once the demand is met.")]


class NeutraliserAmount(msgspec.Struct, Generic[N], kw_only=True):
    """Reducing agent for the whole volume."""

    agent: Annotated[str, Text("Reducing agent.")]
    mass: Annotated[N, Measure("small_mass", "Amount to weigh out, by the handbook.")]
    least_stoichiometric_mass: Annotated[N, Measure("small_mass", "Least that its reactions allow.")]
    most_stoichiometric_mass: Annotated[N, Measure("small_mass", "Most that its reactions allow.")]


class BatchDoseAnswer(Answer, Generic[N]):
    """How much product, how long to hold it, and how to be rid of it."""

    volume: Annotated[N, Measure("volume", "Water in all vessels.")]
    vessels: Annotated[list[VesselVolume[N]], Items("Each vessel, in the order asked.")]
    free_chlorine: Annotated[N, Measure("concentration", "Free chlorine aimed at.")]
    dose: Annotated[N, Measure("concentration", "Chlorine to add: free chlorine and demand.")]
    available_chlorine_mass: Annotated[N, Measure("small_mass", "Dose times volume.")]
    trade_strength: Annotated[N | None, Measure("share", "Strength of a liquid: g of available chlorine in 100 mL.")]
    available_chlorine: Annotated[N | None, Measure("share", "Strength by weight; absent where no density is known.")]
    product_density: Annotated[N | None, Measure("density", "Density of a liquid, as given or assumed.")]
    product_volume: Annotated[N | None, Measure("small_volume", "Liquid to add, before rounding.")]
    product_mass: Annotated[N | None, Measure("small_mass", "Product to add, before rounding.")]
    measures: Annotated[list[MeasuredAmount[N]], Items("Amounts rounded up to what a person can measure.")]
    hypochlorous_acid_share: Annotated[
        N | None, Measure("share", "Share of the free chlorine that is hypochlorous acid; absent outside its range.")
    ]
    rule: Annotated[str, Text("Rule the hold time comes from.")]
    hold_time: Annotated[N | None, Measure("time", "Time to hold; absent where neither rule nor request gives one.")]
    ct_achieved: Annotated[N | None, Measure("ct", "Free chlorine times hold time.")]
    neutraliser: Annotated[NeutraliserAmount[N], Part("To neutralise the water before it is let go.")]
    flush_volume: Annotated[N, Measure("volume", "Clean water that washes it out, fully mixed.")]
