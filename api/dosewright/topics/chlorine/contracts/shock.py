"""Contracts of the chlorine topic."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Items, Measure, Part, Text, default
from dosewright.topics.chlorine.contracts.hold_rules import ChlorinationRuleName, PublishedRule
from dosewright.topics.chlorine.contracts.hypochlorite import (
    Granules,
    Liquid,
    ListedProduct,
    ProductName,
    Tablets,
)
from dosewright.topics.pipe.contracts.vessels import (
    Chamber,
    Cistern,
    DeadLeg,
    DrilledCasing,
    DugWell,
    FilterHousing,
    GravelPack,
    PipeRun,
    PlainVolume,
    PressureTank,
    WaterHeater,
    WellScreen,
)

__all__ = [
    "ChlorinationRuleName",
    "ChlorinationStage",
    "ChlorinationStep",
    "Discharge",
    "Granules",
    "KeepOut",
    "Liquid",
    "ListedProduct",
    "MeasuredAmount",
    "NeutraliserAmount",
    "NeutraliserName",
    "ProductName",
    "PublishedRule",
    "Retest",
    "ShockAnswer",
    "ShockRequest",
    "Tablets",
    "VesselVolume",
]

# The names below are kept equal to the table by test: an editor completes these, a table cannot be completed.
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


class ShockRequest(Request, Generic[Q]):
    """Vessels to chlorinate, product, and what is wanted of the water."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "vessels vessels.system_pressure vessels.diameter vessels.water_column vessels.well_depth vessels.length",
        "vessels.borehole_diameter vessels.porosity vessels.volume vessels.water_depth",
        "vessels.width vessels.fill vessels.chamber_bore vessels.chamber_length vessels.bore",
        "chlorine_demand iron manganese sulfide ammonia ph storage_time storage_temperature",
    ) | lower(
        "vessels.water_level vessels.screen_outer_diameter vessels.sleeve_outer_diameter",
        "vessels.precharge product.sodium_hypochlorite",
        "product.trade_strength product.available_chlorine residual",
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "the caller's choice": "free_chlorine hold_time flush_residual ph_target",
        "sets amounts of liquid against mass": "product.density product.bulk_density",
        "sets how many tablets hold one mass": "product.tablet_mass",
        "sets the acid that is added": "raw_ph alkalinity",
        "the share of hypochlorous acid and the demand answer in opposite ways": "water_temperature",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("residual", "flush_volume"): "less chlorine left takes less flushing",
    }

    vessels: Annotated[
        list[
            DrilledCasing[Q]
            | DugWell[Q]
            | WellScreen[Q]
            | GravelPack[Q]
            | Cistern[Q]
            | PressureTank[Q]
            | WaterHeater[Q]
            | FilterHousing[Q]
            | Chamber[Q]
            | PipeRun[Q]
            | DeadLeg[Q]
            | PlainVolume[Q]
        ],
        Items("Everything the chlorinated water fills.", 1, 100),
    ]
    product: Annotated[Liquid[Q] | Granules[Q] | Tablets[Q] | ListedProduct, Part("Hypochlorite product.")]
    rule: Annotated[
        ChlorinationRuleName | None,
        Choice(
            "Published rule for concentration and hold time, the one that is law where the well is. Where none is "
            "named, the strictest published rule for wells counts; write none where only your own figures count.",
            example="ontario_903",
        ),
    ] = None
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
            "Chlorine that the water takes up, as measured; or what else it takes beside the substances named below.",
            at_least="0 mg/L",
            at_most="1000 mg/L",
            example="3 mg/L",
        ),
    ] = default("0 mg/L")
    iron: Annotated[
        Q | None,
        Measure("concentration", "Dissolved iron.", at_least="0 mg/L", at_most="100 mg/L", example="0.8 mg/L"),
    ] = None
    manganese: Annotated[
        Q | None,
        Measure("concentration", "Dissolved manganese.", at_least="0 mg/L", at_most="50 mg/L", example="0.1 mg/L"),
    ] = None
    sulfide: Annotated[
        Q | None,
        Measure("concentration", "Hydrogen sulfide.", at_least="0 mg/L", at_most="100 mg/L", example="0.5 mg/L"),
    ] = None
    ammonia: Annotated[
        Q | None,
        Measure("concentration", "Ammonia, as nitrogen.", at_least="0 mg/L", at_most="100 mg/L", example="0.3 mg/L"),
    ] = None
    ph: Annotated[
        Q | None,
        Measure(
            "plain",
            "pH of the chlorinated water, as measured; worked out from raw_ph and alkalinity where it is not given.",
            at_least="0",
            at_most="14",
            example="7.4",
        ),
    ] = None
    raw_ph: Annotated[
        Q | None,
        Measure("plain", "pH of the water before the chlorine.", at_least="5", at_most="10", example="7.1"),
    ] = None
    alkalinity: Annotated[
        Q | None,
        Measure(
            "hardness", "Alkalinity of the water as CaCO3.", at_least="1 mg/L", at_most="1000 mg/L", example="160 mg/L"
        ),
    ] = None
    ph_target: Annotated[
        Q | None,
        Measure(
            "plain",
            "pH to bring the water to with vinegar before the chlorine goes in.",
            at_least="6",
            at_most="9",
            example="7",
        ),
    ] = None
    water_temperature: Annotated[
        Q,
        Measure("temperature", "Temperature of the water.", at_least="0 degC", at_most="100 degC", example="9 degC"),
    ] = default("10 degC")
    storage_time: Annotated[
        Q | None,
        Measure("time", "Time since a liquid product was made.", at_least="0 d", at_most="3650 d", example="60 d"),
    ] = None
    storage_temperature: Annotated[
        Q | None,
        Measure(
            "temperature", "Mean temperature of its store.", at_least="0 degC", at_most="60 degC", example="22 degC"
        ),
    ] = None
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

    system: Annotated[str, Text("metric, us_kitchen, trade or tablets.")]
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


class ChlorinationStage(msgspec.Struct, Generic[N], kw_only=True):
    """What goes in at one time: for the well first, then for what the house draws out of it."""

    stage: Annotated[str, Text("well or plumbing.")]
    volume: Annotated[N, Measure("volume", "Water it is for.")]
    product_volume: Annotated[N | None, Measure("small_volume", "Liquid for it.")]
    product_mass: Annotated[N | None, Measure("small_mass", "Product for it.")]
    metric: Annotated[str, Text("Amount rounded up, in metric measures; tablets as a count.")]
    customary: Annotated[str, Text("Amount rounded up, in United States measures.")]
    slurry_water: Annotated[N, Measure("volume", "Clean water to mix it into first.")]


class ChlorinationStep(msgspec.Struct, Generic[N], kw_only=True):
    """One step of the procedure."""

    step: Annotated[str, Text("Name of the step.")]
    does: Annotated[str, Text("What is done.")]
    volume: Annotated[N | None, Measure("volume", "Water it takes; vinegar, in the step that adds it.")] = None
    duration: Annotated[N | None, Measure("time", "How long it lasts, or is waited for.")] = None


class Retest(msgspec.Struct, Generic[N], kw_only=True):
    """When the water is sampled again, and what clears it."""

    first_sample_after: Annotated[N, Measure("time", "From the end of flushing to the first sample.")]
    samples_apart: Annotated[N, Measure("time", "Least time between two clear samples.")]
    clear_samples: Annotated[N, Measure("plain", "Clear samples in a row that are wanted.")]
    earliest_clear: Annotated[N, Measure("time", "From the end of flushing to the last of them, at the earliest.")]


class KeepOut(msgspec.Struct, kw_only=True):
    """Where the water is not to go."""

    place: Annotated[str, Text("Place.")]
    why: Annotated[str, Text("Why.")]


class Discharge(msgspec.Struct, Generic[N], kw_only=True):
    """What is let go after the hold."""

    volume: Annotated[N, Measure("volume", "Chlorinated water and what flushes it out.")]
    chlorine_mass: Annotated[N, Measure("small_mass", "Chlorine in it.")]
    dilution: Annotated[N, Measure("plain", "Times it would have to be diluted to be borne by fish for an hour.")]


class ShockAnswer(Answer, Generic[N]):
    """How much product, how long to hold it, and how to be rid of it."""

    safer: ClassVar[Mapping[str, Safe]] = higher(
        "strength_left law_strength_left table_strength_left hypochlorous_acid_share ct_achieved"
    ) | lower(
        "volume chlorine_demand dose available_chlorine_mass product_volume product_mass product_drops",
        "flush_volume hold_time",
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "the caller's choice or the rule's": "free_chlorine",
        "describes the product": "trade_strength available_chlorine product_density",
        "depends on how the volume is split into stages": "peak_concentration",
        "follows from the chemistry of the acid added": (
            "ph_before chlorinated_ph ph_after_vinegar ph_after_both vinegar_volume"
        ),
        "the share follows from the same pH": "target_acid_share",
    }

    volume: Annotated[N, Measure("volume", "Water in all vessels.")]
    vessels: Annotated[list[VesselVolume[N]], Items("Each vessel, in the order asked.")]
    free_chlorine: Annotated[N, Measure("concentration", "Free chlorine aimed at.")]
    chlorine_demand: Annotated[N, Measure("concentration", "Chlorine demand counted, in all.")]
    dose: Annotated[N, Measure("concentration", "Chlorine to add: free chlorine and demand.")]
    available_chlorine_mass: Annotated[N, Measure("small_mass", "Dose times volume.")]
    trade_strength: Annotated[N | None, Measure("share", "Strength of a liquid: g of available chlorine in 100 mL.")]
    available_chlorine: Annotated[N | None, Measure("share", "Strength by weight; absent where no density is known.")]
    product_density: Annotated[N | None, Measure("density", "Density of a liquid, as given or assumed.")]
    strength_left: Annotated[
        N | None, Measure("share", "Share of the strength that storage leaves: the lower of the two below.")
    ]
    law_strength_left: Annotated[N | None, Measure("share", "The same by the rate law alone.")]
    table_strength_left: Annotated[N | None, Measure("share", "The same by the published half-lives alone.")]
    product_volume: Annotated[N | None, Measure("small_volume", "Liquid to add, before rounding.")]
    product_mass: Annotated[N | None, Measure("small_mass", "Product to add, before rounding.")]
    product_drops: Annotated[
        N | None,
        Measure("plain", "Liquid to add in drops of 0.05 mL, rounded up, where that is at most a teaspoon."),
    ]
    measures: Annotated[list[MeasuredAmount[N]], Items("Amounts rounded up to what a person can measure.")]
    hypochlorous_acid_share: Annotated[
        N | None, Measure("share", "Share of the free chlorine that is hypochlorous acid; absent outside its range.")
    ]
    chlorinated_ph: Annotated[
        N | None,
        Measure(
            "plain", "pH with the chlorine and no vinegar in it, as given or worked out; absent where neither can be."
        ),
    ]
    vinegar_volume: Annotated[
        N | None, Measure("volume", "White vinegar of 5 % that brings the water to the pH wanted, before the chlorine.")
    ]
    target_acid_share: Annotated[
        N | None, Measure("share", "Share of hypochlorous acid with the vinegar and the chlorine in it.")
    ]
    ph_before: Annotated[
        N | None, Measure("plain", "pH before anything goes in, as you entered it; absent where it was not.")
    ]
    ph_after_vinegar: Annotated[
        N | None, Measure("plain", "pH with the vinegar in it and before the chlorine; absent without ph_target.")
    ]
    ph_after_both: Annotated[
        N | None, Measure("plain", "pH with the vinegar and the chlorine in it; absent without ph_target.")
    ]
    rule: Annotated[str, Text("Rule the hold time comes from.")]
    rules: Annotated[list[PublishedRule[N]], Items("Every published rule for this use side by side.")]
    hold_time: Annotated[N | None, Measure("time", "Time to hold.")]
    ct_achieved: Annotated[N | None, Measure("ct", "Free chlorine times hold time.")]
    neutraliser: Annotated[NeutraliserAmount[N], Part("To neutralise the water before it is let go.")]
    flush_volume: Annotated[N, Measure("volume", "Clean water that washes it out, fully mixed.")]
    stages: Annotated[list[ChlorinationStage[N]], Items("The product in two stages, or in one.")]
    peak_concentration: Annotated[
        N | None, Measure("concentration", "Chlorine in the well before the house draws any; absent without a well.")
    ]
    steps: Annotated[list[ChlorinationStep[N]], Items("The procedure, in order.")]
    retest: Annotated[Retest[N], Part("Sampling afterwards.")]
    discharge: Annotated[Discharge[N], Part("What is let go afterwards.")]
    keep_out: Annotated[list[KeepOut], Items("Where it is not to go.")]
