"""Contracts of the shock chlorination."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Part, Text, default
from dosewright.tables.names import NeutraliserName
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
    "Liquid",
    "ListedProduct",
    "MeasuredAmount",
    "NeutraliserAmount",
    "NeutraliserName",
    "NoDischargePlace",
    "ProductName",
    "PublishedRule",
    "Retest",
    "ShockAnswer",
    "ShockRequest",
    "Tablets",
    "VesselVolume",
]


class ShockRequest(Request, Generic[Q]):
    """Vessels to chlorinate, product, water, and target concentration."""

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
        "converts volume to mass": "product.density product.bulk_density",
        "converts mass to a number of tablets": "product.tablet_mass",
        "changes the acid to add": "raw_ph alkalinity",
        "changes the share of hypochlorous acid and the demand in opposite directions": "water_temperature",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("residual", "flush_volume"): "less chlorine needs less flushing",
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
        Items("Well, tanks and pipes to disinfect.", 1, 100),
    ]
    product: Annotated[Liquid[Q] | Granules[Q] | Tablets[Q] | ListedProduct, Part("Hypochlorite product.")]
    rule: Annotated[
        ChlorinationRuleName | None,
        Choice(
            "Published rule for concentration and hold time: the one that is law at the well. Without it, the "
            "strictest published rule for wells is used. Enter none to use only your own values.",
            example="ontario_903",
        ),
    ] = None
    all_rules: Annotated[bool, Flag("Whether rules shows every one for this use, not only those farthest apart.")] = (
        False
    )
    free_chlorine: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Target free chlorine after the demand. Without it, the minimum of the rule is used.",
            at_least="0.1 mg/L",
            at_most="5000 mg/L",
            example="100 mg/L",
        ),
    ] = None
    chlorine_demand: Annotated[
        Q,
        Measure(
            "concentration",
            "Measured chlorine demand of the water; or the demand not covered by the substances below.",
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
            "Measured pH of the chlorinated water. Without it, it is calculated from raw_ph and alkalinity.",
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
            "Target pH for adding vinegar before the chlorine.",
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
        Measure("time", "Time since production of a liquid product.", at_least="0 d", at_most="3650 d", example="60 d"),
    ] = None
    storage_temperature: Annotated[
        Q | None,
        Measure("temperature", "Mean storage temperature.", at_least="0 degC", at_most="60 degC", example="22 degC"),
    ] = None
    hold_time: Annotated[
        Q | None,
        Measure("time", "Hold time, in place of the rule's.", at_least="1 min", at_most="30 d", example="24 h"),
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
            "Free chlorine at which flushing ends. The default is the maximum allowed in drinking water.",
            at_least="0.01 mg/L",
            at_most="100 mg/L",
        ),
    ] = default("4 mg/L")


class VesselVolume(msgspec.Struct, Generic[N], kw_only=True):
    """Volume of one vessel."""

    kind: Annotated[str, Text("Kind of vessel, in the order of the request.")]
    volume: Annotated[N, Measure("volume", "Volume of water.")]


class MeasuredAmount(msgspec.Struct, Generic[N], kw_only=True):
    """Amount of product rounded up to a measure, and the chlorine that it gives."""

    system: Annotated[str, Text("metric, us_kitchen, trade or tablets.")]
    measure: Annotated[str, Text("Amount to measure out.")]
    product_volume: Annotated[N | None, Measure("small_volume", "The amount as a volume.")] = None
    product_mass: Annotated[N | None, Measure("small_mass", "The amount as a mass.")] = None
    dose: Annotated[N, Measure("concentration", "Chlorine added.")]
    free_chlorine: Annotated[N, Measure("concentration", "Free chlorine after the demand.")]


class NeutraliserAmount(msgspec.Struct, Generic[N], kw_only=True):
    """Reducing agent for the whole volume."""

    agent: Annotated[str, Text("Reducing agent.")]
    mass: Annotated[N, Measure("small_mass", "Handbook amount, to weigh out.")]
    minimum_stoichiometric_mass: Annotated[N, Measure("small_mass", "Minimum by its reactions.")]
    maximum_stoichiometric_mass: Annotated[N, Measure("small_mass", "Maximum by its reactions.")]


class ChlorinationStage(msgspec.Struct, Generic[N], kw_only=True):
    """Product of one stage: first for the well, then for the house."""

    stage: Annotated[str, Text("well or plumbing.")]
    volume: Annotated[N, Measure("volume", "Water treated in this stage.")]
    product_volume: Annotated[N | None, Measure("small_volume", "Liquid product of this stage.")]
    product_mass: Annotated[N | None, Measure("small_mass", "Mass of product of this stage.")]
    metric: Annotated[str, Text("Amount rounded up, in metric measures; tablets as a count.")]
    customary: Annotated[str, Text("Amount rounded up, in United States measures.")]
    dilution_water: Annotated[N, Measure("volume", "Clean water to mix the product into.")]


class ChlorinationStep(msgspec.Struct, Generic[N], kw_only=True):
    """One step of the procedure."""

    step: Annotated[str, Text("Name of the step.")]
    action: Annotated[str, Text("What to do.")]
    volume: Annotated[N | None, Measure("volume", "Volume of water; of vinegar in the vinegar step.")] = None
    duration: Annotated[N | None, Measure("time", "Duration or waiting time.")] = None


class Retest(msgspec.Struct, Generic[N], kw_only=True):
    """Sampling after the chlorination."""

    first_sample_after: Annotated[N, Measure("time", "Time from the end of flushing to the first sample.")]
    sample_interval: Annotated[N, Measure("time", "Minimum time between two clear samples.")]
    clear_samples: Annotated[N, Measure("plain", "Required number of consecutive clear samples.")]
    earliest_clear: Annotated[N, Measure("time", "Earliest time of the last required sample after flushing.")]


class NoDischargePlace(msgspec.Struct, kw_only=True):
    """A place where the water must not go."""

    place: Annotated[str, Text("Place.")]
    reason: Annotated[str, Text("Reason.")]


class Discharge(msgspec.Struct, Generic[N], kw_only=True):
    """Water to discharge after the hold."""

    volume: Annotated[N, Measure("volume", "Chlorinated water and flush water.")]
    chlorine_mass: Annotated[N, Measure("small_mass", "Chlorine in it.")]
    dilution: Annotated[N, Measure("plain", "Dilution needed to be safe for fish for an hour.")]


class ShockAnswer(Answer, Generic[N]):
    """Amount of product, hold time, procedure and discharge."""

    safer: ClassVar[Mapping[str, Safe]] = higher(
        "remaining_strength law_remaining_strength table_remaining_strength hypochlorous_acid_share ct_achieved"
    ) | lower(
        "volume chlorine_demand dose available_chlorine_mass product_volume product_mass product_drops",
        "flush_volume hold_time",
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "the caller's choice or the rule's": "free_chlorine",
        "describes the product": "trade_strength available_chlorine product_density",
        "depends on the stages": "peak_concentration",
        "depends on the chemistry of the added acid": (
            "ph_before chlorinated_ph ph_after_vinegar ph_after_both vinegar_volume"
        ),
        "depends on the same pH": "target_acid_share",
    }

    volume: Annotated[N, Measure("volume", "Water in all vessels.")]
    vessels: Annotated[list[VesselVolume[N]], Items("Each vessel, in the order of the request.")]
    free_chlorine: Annotated[N, Measure("concentration", "Target free chlorine.")]
    chlorine_demand: Annotated[N, Measure("concentration", "Total chlorine demand.")]
    dose: Annotated[N, Measure("concentration", "Chlorine to add: free chlorine plus demand.")]
    available_chlorine_mass: Annotated[N, Measure("small_mass", "Dose times volume.")]
    trade_strength: Annotated[N | None, Measure("share", "Strength of a liquid: g of available chlorine in 100 mL.")]
    available_chlorine: Annotated[N | None, Measure("share", "Strength by weight; absent without a density.")]
    product_density: Annotated[N | None, Measure("density", "Density of a liquid, entered or assumed.")]
    remaining_strength: Annotated[
        N | None, Measure("share", "Remaining share of the strength: the lower of the two below.")
    ]
    law_remaining_strength: Annotated[N | None, Measure("share", "Remaining share by the rate law.")]
    table_remaining_strength: Annotated[N | None, Measure("share", "Remaining share by the published half-lives.")]
    product_volume: Annotated[N | None, Measure("small_volume", "Liquid to add, before rounding.")]
    product_mass: Annotated[N | None, Measure("small_mass", "Product to add, before rounding.")]
    product_drops: Annotated[
        N | None,
        Measure("plain", "Liquid to add in drops of 0.05 mL, rounded up, if at most a teaspoon."),
    ]
    measures: Annotated[list[MeasuredAmount[N]], Items("Amounts rounded up to household measures.")]
    hypochlorous_acid_share: Annotated[
        N | None, Measure("share", "Share of hypochlorous acid in the free chlorine; absent outside its range.")
    ]
    chlorinated_ph: Annotated[
        N | None,
        Measure(
            "plain", "pH after the chlorine without vinegar, entered or calculated; absent if neither is possible."
        ),
    ]
    vinegar_volume: Annotated[
        N | None, Measure("volume", "White vinegar of 5 % that brings the water to the target pH, before the chlorine.")
    ]
    target_acid_share: Annotated[N | None, Measure("share", "Share of hypochlorous acid after vinegar and chlorine.")]
    ph_before: Annotated[N | None, Measure("plain", "pH before any addition, as entered; absent otherwise.")]
    ph_after_vinegar: Annotated[
        N | None, Measure("plain", "pH after the vinegar, before the chlorine; absent without ph_target.")
    ]
    ph_after_both: Annotated[N | None, Measure("plain", "pH after vinegar and chlorine; absent without ph_target.")]
    rule: Annotated[str, Text("Rule for the hold time.")]
    rules: Annotated[
        list[PublishedRule[N]],
        Items("Published rules for this use: the deciding one and those farthest apart; all of them with all_rules."),
    ]
    hold_time: Annotated[N | None, Measure("time", "Hold time.")]
    ct_achieved: Annotated[N | None, Measure("ct", "Free chlorine times hold time.")]
    neutraliser: Annotated[NeutraliserAmount[N], Part("Reducing agent to neutralise the water before discharge.")]
    flush_volume: Annotated[N, Measure("volume", "Clean water to flush the chlorine out, fully mixed.")]
    stages: Annotated[list[ChlorinationStage[N]], Items("Product in one or two stages.")]
    peak_concentration: Annotated[
        N | None,
        Measure("concentration", "Highest chlorine in the well, before the house draws any; absent without a well."),
    ]
    steps: Annotated[list[ChlorinationStep[N]], Items("Steps of the procedure in order.")]
    retest: Annotated[Retest[N], Part("Sampling after the flush.")]
    discharge: Annotated[Discharge[N], Part("Water to discharge.")]
    no_discharge_places: Annotated[list[NoDischargePlace], Items("Places where the water must not go.")]
