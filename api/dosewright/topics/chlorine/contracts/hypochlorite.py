"""Contracts of hypochlorite products: strength on the label, strength after storage, and feeding by a pump."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Measure, Part, default
from dosewright.tables.names import ProductName

__all__ = [
    "FeedAnswer",
    "FeedRequest",
    "Granules",
    "Liquid",
    "ListedProduct",
    "ProductAnswer",
    "ProductName",
    "ProductRequest",
    "StoredProduct",
    "Tablets",
]


class Liquid(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="liquid"):
    """Sodium hypochlorite solution, with one of three strengths as on its label."""

    sodium_hypochlorite: Annotated[
        Q | None,
        Measure("share", "Weight percent of NaOCl.", at_least="0.1 %", at_most="20 %", example="6 %"),
    ] = None
    trade_strength: Annotated[
        Q | None,
        Measure(
            "share",
            "Trade percent: grams of available chlorine in 100 mL.",
            at_least="0.1 %",
            at_most="25 %",
            example="12.5 %",
        ),
    ] = None
    available_chlorine: Annotated[
        Q | None,
        Measure("share", "Weight percent of available chlorine.", at_least="0.1 %", at_most="20 %", example="5.7 %"),
    ] = None
    density: Annotated[
        Q | None,
        Measure(
            "density", "Density from the data sheet.", at_least="0.95 kg/L", at_most="1.5 kg/L", example="1.08 kg/L"
        ),
    ] = None


class Granules(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="granules"):
    """Calcium hypochlorite or another dry product, by weight percent of available chlorine."""

    available_chlorine: Annotated[
        Q,
        Measure("share", "Weight percent of available chlorine.", at_least="1 %", at_most="99 %", example="65 %"),
    ]
    bulk_density: Annotated[
        Q | None,
        Measure(
            "density",
            "Bulk density from the data sheet. With it, amounts are also given by volume.",
            at_least="0.3 kg/L",
            at_most="2.5 kg/L",
            example="0.95 kg/L",
        ),
    ] = None


class Tablets(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="tablets"):
    """Calcium hypochlorite tablets: mass of one and its available chlorine, both from the label."""

    tablet_mass: Annotated[
        Q, Measure("small_mass", "Mass of one tablet.", at_least="0.1 g", at_most="1 kg", example="7 g")
    ]
    available_chlorine: Annotated[
        Q,
        Measure("share", "Weight percent of available chlorine.", at_least="1 %", at_most="99 %", example="65 %"),
    ]


class ListedProduct(msgspec.Struct, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="listed"):
    """A common class of product, by name."""

    name: Annotated[ProductName, Choice("Class of product.", example="household_bleach_6")]


class ProductRequest(Request, Generic[Q]):
    """A product, with storage time and temperature."""

    worse: ClassVar[Mapping[str, Direction]] = higher("storage_time storage_temperature") | lower(
        "product.sodium_hypochlorite product.trade_strength product.available_chlorine"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "converts volume to mass": "product.density product.bulk_density",
        "converts mass to a number of tablets": "product.tablet_mass",
    }
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("product.trade_strength", "stored.remaining_strength"): "a weaker solution decays more slowly",
        ("product.trade_strength", "stored.chlorine_concentration"): "a weaker solution decays more slowly",
        ("product.trade_strength", "stored.law_remaining_strength"): "a weaker solution decays more slowly",
        ("product.trade_strength", "stored.table_remaining_strength"): "a weaker solution decays more slowly",
        ("product.sodium_hypochlorite", "stored.remaining_strength"): "a weaker solution decays more slowly",
        ("product.sodium_hypochlorite", "stored.chlorine_concentration"): "a weaker solution decays more slowly",
        ("product.sodium_hypochlorite", "stored.law_remaining_strength"): "a weaker solution decays more slowly",
        ("product.sodium_hypochlorite", "stored.table_remaining_strength"): "a weaker solution decays more slowly",
        ("product.available_chlorine", "stored.remaining_strength"): "a weaker solution decays more slowly",
        ("product.available_chlorine", "stored.chlorine_concentration"): "a weaker solution decays more slowly",
        ("product.available_chlorine", "stored.law_remaining_strength"): "a weaker solution decays more slowly",
        ("product.available_chlorine", "stored.table_remaining_strength"): "a weaker solution decays more slowly",
    }

    product: Annotated[Liquid[Q] | Granules[Q] | Tablets[Q] | ListedProduct, Part("Hypochlorite product.")]
    storage_time: Annotated[
        Q | None,
        Measure("time", "Time since production, for a liquid.", at_least="0 d", at_most="3650 d", example="90 d"),
    ] = None
    storage_temperature: Annotated[
        Q | None,
        Measure(
            "temperature",
            "Mean storage temperature.",
            at_least="0 degC",
            at_most="60 degC",
            example="25 degC",
        ),
    ] = None


class StoredProduct(msgspec.Struct, Generic[N], kw_only=True):
    """A liquid product after storage."""

    remaining_strength: Annotated[
        N, Measure("share", "Remaining share of the available chlorine: the lower of the two below.")
    ]
    law_remaining_strength: Annotated[N, Measure("share", "Remaining share by the rate law.")]
    table_remaining_strength: Annotated[N, Measure("share", "Remaining share by the published half-lives.")]
    chlorine_concentration: Annotated[N, Measure("concentration", "Remaining available chlorine.")]
    trade_strength: Annotated[N, Measure("share", "Remaining strength in trade percent.")]
    sodium_hypochlorite: Annotated[
        N | None, Measure("share", "Remaining strength in weight percent of NaOCl; absent without a density.")
    ]
    half_life: Annotated[N, Measure("time", "Half-life of the fresh product, the shorter of the two.")]
    chlorate: Annotated[N, Measure("concentration", "Maximum of the chlorate ion formed.")]


class ProductAnswer(Answer, Generic[N]):
    """Strength of a product on every basis."""

    safer: ClassVar[Mapping[str, Safe]] = higher(
        "chlorine_concentration trade_strength available_chlorine sodium_hypochlorite",
        "calcium_hypochlorite stored.remaining_strength stored.chlorine_concentration",
        "stored.law_remaining_strength stored.table_remaining_strength",
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "describes the product": "density",
    }

    chlorine_concentration: Annotated[N | None, Measure("concentration", "Available chlorine of a liquid by volume.")]
    trade_strength: Annotated[
        N | None, Measure("share", "Trade percent of a liquid: g of available chlorine in 100 mL.")
    ]
    available_chlorine: Annotated[
        N | None, Measure("share", "Weight percent of available chlorine; absent without a density.")
    ]
    sodium_hypochlorite: Annotated[
        N | None, Measure("share", "Weight percent of NaOCl of a liquid; absent without a density.")
    ]
    calcium_hypochlorite: Annotated[N | None, Measure("share", "Weight percent of Ca(OCl)2 of granules or tablets.")]
    density: Annotated[N | None, Measure("density", "Density of a liquid, entered or assumed.")]
    stored: Annotated[StoredProduct[N] | None, Part("Product after storage; absent without a storage time.")]


class FeedRequest(Request, Generic[Q], kw_only=True):
    """Flow of water, target chlorine, and the solution that a pump feeds."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "flow chlorine_demand iron manganese sulfide ammonia daily_volume free_chlorine"
    ) | lower(
        "product.sodium_hypochlorite product.trade_strength product.available_chlorine", "pump_capacity tank_volume"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "converts volume to mass": "product.density product.bulk_density",
        "converts mass to a number of tablets": "product.tablet_mass",
        "the caller's choice": "solution_strength stroke",
    }

    flow: Annotated[
        Q,
        Measure(
            "flow",
            "Flow of the water while the feed pump runs.",
            above="0 L/min",
            at_most="100 m3/h",
            example="8 gal/min",
        ),
    ]
    free_chlorine: Annotated[
        Q,
        Measure(
            "concentration",
            "Target free chlorine after the demand.",
            at_least="0 mg/L",
            at_most="100 mg/L",
            example="1.5 mg/L",
        ),
    ]
    chlorine_demand: Annotated[
        Q,
        Measure(
            "concentration",
            "Chlorine demand of the water.",
            at_least="0 mg/L",
            at_most="100 mg/L",
            example="2 mg/L",
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
    product: Annotated[Liquid[Q] | Granules[Q] | Tablets[Q] | ListedProduct, Part("Hypochlorite product.")]
    solution_strength: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Available chlorine of the solution in the feed tank. Without it, a liquid product is fed undiluted.",
            at_least="100 mg/L",
            at_most="200 g/L",
            example="5 g/L",
        ),
    ] = None
    tank_volume: Annotated[
        Q | None,
        Measure(
            "volume",
            "Volume of the feed tank, for one batch of solution.",
            at_least="1 L",
            at_most="10 m3",
            example="35 gal",
        ),
    ] = None
    pump_capacity: Annotated[
        Q | None,
        Measure(
            "flow", "Flow of the feed pump at full setting.", above="0 mL/min", at_most="10 m3/h", example="30 gal/d"
        ),
    ] = None
    stroke: Annotated[
        Q,
        Measure("share", "Stroke length set on the pump. The speed is calculated.", above="0 %", at_most="100 %"),
    ] = default("100 %")
    daily_volume: Annotated[
        Q | None,
        Measure("volume", "Water used per day.", at_least="1 L", at_most="1000 m3", example="240 gal"),
    ] = None


class FeedAnswer(Answer, Generic[N]):
    """Feed rate, solution to make up, and how long a tank lasts."""

    safer: ClassVar[Mapping[str, Safe]] = higher("tank_duration") | lower(
        "dose chlorine_feed feed_rate pump_setting pump_speed daily_solution"
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "depends on the tank and the product": "solution_strength product_volume product_mass water_volume",
    }

    dose: Annotated[N, Measure("concentration", "Chlorine to add: free chlorine plus demand.")]
    chlorine_feed: Annotated[N, Measure("small_mass", "Chlorine fed in a day of continuous flow.")]
    feed_rate: Annotated[N, Measure("flow", "Feed rate of the solution while water runs.")]
    solution_strength: Annotated[N, Measure("concentration", "Available chlorine of the solution.")]
    pump_setting: Annotated[N | None, Measure("share", "Setting as a share of the pump's capacity.")]
    pump_speed: Annotated[N | None, Measure("share", "Speed to set at this stroke.")]
    product_volume: Annotated[N | None, Measure("small_volume", "Liquid product for a tank of solution.")]
    product_mass: Annotated[N | None, Measure("small_mass", "Granules or tablets for a tank of solution.")]
    water_volume: Annotated[N | None, Measure("volume", "Water for a tank of solution.")]
    daily_solution: Annotated[N | None, Measure("volume", "Solution used in a day.")]
    tank_duration: Annotated[N | None, Measure("time", "Time that a tank of solution lasts.")]
