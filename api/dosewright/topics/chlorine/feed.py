"""Continuous feed of hypochlorite: pump setting, solution to make up, and how long a tank lasts."""

from typing import NamedTuple

from dosewright.core.chlorine import chlorine
from dosewright.core.chlorine.feed import feed_rate, product_share
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import chlorine_limit
from dosewright.topics.chlorine.contracts.hypochlorite import FeedAnswer, FeedRequest, Granules
from dosewright.topics.chlorine.page import chlorine_page
from dosewright.topics.chlorine.treatment.hypochlorite import (
    GranuleStrength,
    LiquidStrength,
    check_product,
    spelled_out,
    strength_of,
    warn_product,
)
from dosewright.topics.chlorine.treatment.water import counted_demand, demand_of

__all__ = ["feed"]

Ask = FeedRequest[Numbers]

_DAY = 86400.0
_LOWEST_SETTING = 0.10

_FEED = Basis(
    method="feed rate = flow x (free chlorine + demand) / available chlorine of the solution",
    source="mass balance",
    validity="the feed pump runs only while water runs; its delivery is measured at its working pressure",
)
_MAKING = Basis(
    method="product for a tank = tank volume x solution strength / product strength, the rest water",
    source="mass balance",
    validity="assumes that volumes add up and that granules dissolve without adding volume",
)


class _Tank(NamedTuple):
    """Ingredients of a tank of solution."""

    product_volume: Numbers | None = None
    product_mass: Numbers | None = None
    water: Numbers | None = None


@calculation(
    "chlorine/feed",
    views=Views(page=chlorine_page),
    request=FeedRequest,
    answer=FeedAnswer,
    summary="Feed pump setting for continuous chlorination",
    example={
        "flow": "8 gal/min",
        "free_chlorine": "1.5 mg/L",
        "chlorine_demand": "2 mg/L",
        "product": {"kind": "listed", "name": "household_bleach_6"},
        "solution_strength": "5 g/L",
        "tank_volume": "35 gal",
        "pump_capacity": "30 gal/d",
        "stroke": "60 %",
        "daily_volume": "240 gal",
    },
)
def feed(ask: FeedRequest[Numbers], notes: Notes) -> FeedAnswer[Numbers]:
    """Feed rate and pump setting from flow, dose and solution strength, and the solution to make up.

    The setting is a share of the pump's capacity: stroke times speed. First measure the pump's delivery into a
    cylinder at its working pressure, then the free chlorine at a tap.
    """
    strength = strength_of(ask.product)
    warn_product(ask.product, notes)
    notes.add_basis(_FEED)
    demand = demand_of(ask, notes)
    message = (
        "No chlorine demand is included. Iron, manganese, sulfide, ammonia and organic matter use up chlorine. Measure "
        "the free chlorine at a tap and correct the feed."
    )
    notes.warn("demand_not_included", "chlorine_demand", message, when=demand <= 0.0)
    dose = ask.free_chlorine + demand
    solution = _solution(ask, strength)
    rate = feed_rate(ask.flow, dose, solution)
    setting = None if ask.pump_capacity is None else rate / ask.pump_capacity
    speed = None if setting is None else setting / ask.stroke
    daily = None if ask.daily_volume is None else feed_rate(ask.daily_volume, dose, solution)
    tank = _tank(ask, strength, solution, notes)
    _warn(ask, setting, speed, notes)
    _add_cautions(isinstance(strength, GranuleStrength), notes)
    return FeedAnswer(
        dose=dose,
        chlorine_feed=ask.flow * dose * _DAY,
        feed_rate=rate,
        solution_strength=solution,
        pump_setting=setting,
        pump_speed=speed,
        product_volume=tank.product_volume,
        product_mass=tank.product_mass,
        water_volume=tank.water,
        daily_solution=daily,
        tank_duration=None if ask.tank_volume is None or daily is None else ask.tank_volume / daily * _DAY,
    )


@feed.check("product")
def _(ask: Ask, notes: Notes) -> None:
    check_product(ask.product, notes)


@feed.check("free_chlorine", "chlorine_demand", "iron", "manganese", "sulfide", "ammonia")
def _(ask: Ask, notes: Notes) -> None:
    message = "Free chlorine and demand are both 0 mg/L: there is nothing to feed. Enter free_chlorine."
    notes.refuse("contradiction", "free_chlorine", message, when=ask.free_chlorine + counted_demand(ask) <= 0.0)


@feed.check("product", "solution_strength")
def _(ask: Ask, notes: Notes) -> None:
    if isinstance(spelled_out(ask.product), Granules) and ask.solution_strength is None:
        message = "Granules are fed as a solution. Enter solution_strength, its available chlorine."
        notes.refuse("required", "solution_strength", message)
        return
    if ask.solution_strength is None:
        return
    try:
        strength = strength_of(ask.product)
    except ValueError:
        return  # reported as a fault of the product
    if isinstance(strength, LiquidStrength):
        message = "The solution cannot be stronger than the product it is made from. Enter a lower solution_strength."
        notes.refuse("contradiction", "solution_strength", message, when=ask.solution_strength > strength.by_volume)


def _solution(ask: Ask, strength: LiquidStrength | GranuleStrength) -> Numbers:
    if ask.solution_strength is not None:
        return ask.solution_strength
    if isinstance(strength, LiquidStrength):
        return strength.by_volume
    raise LookupError("granules without a solution strength passed the checks")


def _tank(ask: Ask, strength: LiquidStrength | GranuleStrength, solution: Numbers, notes: Notes) -> _Tank:
    if ask.tank_volume is None:
        return _Tank()
    notes.add_basis(_MAKING)
    if isinstance(strength, GranuleStrength):
        mass = chlorine.product_quantity(ask.tank_volume, solution, strength.by_mass)
        return _Tank(product_mass=mass, water=ask.tank_volume)
    share = product_share(solution, strength.by_volume)
    return _Tank(product_volume=ask.tank_volume * share, water=ask.tank_volume * (1.0 - share))


def _warn(ask: Ask, setting: Numbers | None, speed: Numbers | None, notes: Notes) -> None:
    limit, source = chlorine_limit("maximum_residual")
    message = f"Free chlorine is above the {limit * 1000.0:g} mg/L allowed in drinking water ({source}). Lower it."
    notes.warn("above_drinking_limit", "free_chlorine", message, when=ask.free_chlorine > limit)
    if setting is None or speed is None:
        return
    message = "The pump is too small: it needs more than 100 % speed. Make the solution stronger, or use a larger pump."
    notes.warn("pump_too_small", "pump_speed", message, when=speed > 1.0)
    message = (
        "The pump is too large: below 10 % of its capacity its delivery is uncertain (common practice, no source). "
        "Make the solution weaker, or use a smaller pump."
    )
    notes.warn("pump_too_large", "pump_setting", message, when=setting < _LOWEST_SETTING)


def _add_cautions(granules: bool, notes: Notes) -> None:  # noqa: FBT001 - private, one caller
    notes.caution(
        "chlorine_mixing",
        "chlorine_acid",
        "chlorine_ammonia",
        "chlorine_other_hypochlorites",
        "chlorine_organics",
        "chlorine_cyanurates",
        "chlorine_handling",
        "chlorine_ventilation",
    )
    if granules:
        notes.caution("chlorine_granules")
    notes.caution(
        "chlorine_storage",
        "feed_interlock",
        "membrane_bypass",
        "dialysis",
        "aquaria",
        "mains_near_water",
        "pressure",
        "local_rules",
    )
