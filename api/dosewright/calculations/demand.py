"""Peak flow of a house from its fixtures, by three methods side by side."""

from collections.abc import Callable, Sequence
from functools import reduce
from math import prod
from typing import Any

import numpy as np

from dosewright.calculations.notes import Notes
from dosewright.calculations.pipe_choice import rest_once
from dosewright.calculations.registry import calculation
from dosewright.contracts.base import Basis
from dosewright.contracts.demand import Fixtures, PeakAnswer, PeakRequest
from dosewright.core import demand as core
from dosewright.quantities import Numbers
from dosewright.tables.demand import Sourced, demand_curve, demand_curves, fixtures

__all__ = ["peak"]

_FAR_APART = 2.0

_CHANCE = Basis(
    method="chance of use: every combination of fixtures in use, with its binomial probability, exactly",
    source="Hunter 1940, NBS BMS 65, extended to any mix of fixtures (convolution of binomials)",
    validity="independent uses at the shares stated, in the busiest time; any number of fixtures, best for few",
)
_SUM = Basis(
    method="plain sum of the flows of the uses chosen to run at once",
    source="definition; the choice as given",
    validity="as good as the choice",
)
_SUPPLY = Basis(
    method="supply: pump flow + tank draw-down / duration of the peak",
    source="volume balance; a duration of 10 min is common practice, no source",
    validity="tank full when the peak starts, pump at its flow throughout",
)


@calculation(
    "demand/peak",
    request=PeakRequest,
    answer=PeakAnswer,
    summary="Peak flow of a house from its fixtures, by three methods side by side",
    example={
        "fixtures": [
            {"fixture": "water_closet_tank", "count": "2"},
            {"fixture": "lavatory", "count": "3"},
            {"fixture": "shower", "count": "2", "in_use": "1"},
            {"fixture": "bathtub"},
            {"fixture": "kitchen_sink", "in_use": "1"},
            {"fixture": "dishwasher"},
            {"fixture": "clothes_washer", "in_use": "1"},
        ],
        "pump_flow": "7 gal/min",
        "tank_draw_down": "9 gal",
    },
)
def peak(ask: PeakRequest[Numbers], notes: Notes) -> PeakAnswer[Numbers]:
    """Peak flow of a house from its fixtures, for the choice of pump, filters and UV unit.

    Three methods, each where its figures are known: fixture units and a published descendant of Hunter's curve; the
    exact distribution of simultaneous use at a stated percentile; and the plain sum of the uses chosen to run at once.
    A pump and a tank's draw-down limit what can be drawn.
    """
    units, by_units = _by_units(ask, notes)
    chance = _by_chance(ask, notes)
    by_chance = None if chance is None else chance.flow
    by_sum = _by_sum(ask, notes)
    every = _sum_of(ask, "flow", lambda one: one.count)
    found = {"fixture_units": by_units, "probability": by_chance, "simultaneous": by_sum}
    flow = _chosen(ask, found, notes)
    supply, limited, time = _supply(ask, flow, notes)
    notes.caution("local_rules")
    return PeakAnswer(
        peak_flow=flow,
        fixture_units=units,
        fixture_unit_flow=by_units,
        probability_flow=by_chance,
        probability_reached=None if chance is None else chance.probability,
        mean_flow=None if chance is None else chance.mean_flow,
        simultaneous_flow=by_sum,
        all_fixtures_flow=every,
        supply_flow=supply,
        limited_flow=limited,
        draw_down_time=time,
    )


def _figure(one: Fixtures[Numbers], name: str) -> tuple[Numbers | None, str | None]:
    """Return a figure of a fixture, and the source of it where it is the table's."""
    given: Numbers | None = getattr(one, name)
    if given is not None:
        return given, None
    listed: Sourced | None = getattr(fixtures()[one.fixture], name) if one.fixture else None
    return (None, None) if listed is None else (listed.value, listed.source)


def _figures(ask: PeakRequest[Numbers], name: str) -> list[Numbers] | None:
    found = [_figure(one, name)[0] for one in ask.fixtures]
    known = [value for value in found if value is not None]
    return known if len(known) == len(found) else None


def _sum_of(ask: PeakRequest[Numbers], name: str, times: Callable[[Fixtures[Numbers]], Numbers]) -> Numbers | None:
    figures = _figures(ask, name)
    if figures is None:
        return None
    return reduce(lambda a, b: a + b, [times(one) * value for one, value in zip(ask.fixtures, figures, strict=True)])


def _tell_sources(ask: PeakRequest[Numbers], name: str, what: str, notes: Notes) -> None:
    by_source: dict[str, list[str]] = {}
    for one in ask.fixtures:
        source = _figure(one, name)[1]
        if source is not None and one.fixture is not None:
            titles = by_source.setdefault(source, [])
            if fixtures()[one.fixture].title not in titles:
                titles.append(fixtures()[one.fixture].title)
    for source, titles in by_source.items():
        rest_once(notes, Basis(method=f"{what} of the table of fixtures", source=source, validity=", ".join(titles)))


def _missing(ask: PeakRequest[Numbers], name: str, code: str, field: str, notes: Notes) -> None:
    for index, one in enumerate(ask.fixtures):
        if _figure(one, name)[0] is None:
            message = f"No {name} is published here for this kind, so that {field} is left out: give one."
            notes.warn(code, f"fixtures.{index}.{name}", message)


def _by_units(ask: PeakRequest[Numbers], notes: Notes) -> tuple[Numbers | None, Numbers | None]:
    units = _sum_of(ask, "fixture_units", lambda one: one.count)
    if units is None:
        _missing(ask, "fixture_units", "no_fixture_units", "fixture_unit_flow", notes)
        return None, None
    curve = demand_curve(ask.curve, ask.system)
    flow = core.curve_flow(units, curve.fixture_units, curve.flow)
    low, high = curve.fixture_units[0], curve.fixture_units[-1]
    message = (
        f"The published table reaches from {low:g} to {high:g} fixture units and was not read throughout: outside it "
        "there is no flow by fixture units."
    )
    notes.warn("outside_curve", "fixture_unit_flow", message, when=np.isnan(flow))
    system = ask.system.replace("_", " ")
    method = f"fixture units to flow, {system}: straight between the points of the published table"
    validity = f"{low:g} to {high:g} fixture units; made for buildings with many fixtures, and high for few"
    rest_once(notes, Basis(method=method, source=f"{curve.source}; after Hunter 1940, NBS BMS 65", validity=validity))
    _tell_sources(ask, "fixture_units", "fixture units", notes)
    return units, flow


def _by_chance(ask: PeakRequest[Numbers], notes: Notes) -> core.ChanceFlow | None:
    flows, shares = _figures(ask, "flow"), _figures(ask, "probability")
    if flows is None or shares is None:
        _missing(ask, "probability", "no_probability", "probability_flow", notes)
        return None
    rest_once(notes, _CHANCE)
    _tell_sources(ask, "probability", "share of time in use", notes)
    _tell_sources(ask, "flow", "flow in use", notes)
    return core.chance_flow([one.count for one in ask.fixtures], shares, flows, ask.percentile)


def _by_sum(ask: PeakRequest[Numbers], notes: Notes) -> Numbers | None:
    if all(one.in_use is None for one in ask.fixtures) or _figures(ask, "flow") is None:
        return None
    rest_once(notes, _SUM)
    _tell_sources(ask, "flow", "flow in use", notes)
    return _sum_of(ask, "flow", lambda one: 0.0 if one.in_use is None else one.in_use)


def _chosen(ask: PeakRequest[Numbers], found: dict[str, Numbers | None], notes: Notes) -> Numbers:
    known = [flow for flow in found.values() if flow is not None]
    one = found.get(ask.method)
    if ask.method == "largest":
        one = reduce(np.fmax, known) if known else None
    if one is None:
        message = "The method asked for has no flow: give the figures it needs for every kind."
        notes.refuse("method_without_flow", "method", message)
        return 1e-4
    missing = np.isnan(one)
    message = "The method asked for has no flow here: the fixture units lie outside the published table."
    notes.refuse("method_without_flow", "method", message, when=missing)
    if len(known) > 1:
        ratio = reduce(np.fmax, known) / reduce(np.fmin, known)
        message = "The methods differ by more than a factor of two: look at what each is valid for before choosing."
        notes.warn("methods_differ", "peak_flow", message, when=ratio > _FAR_APART)
    return np.where(missing, 1e-4, one)[()]


def _supply(
    ask: PeakRequest[Numbers], flow: Numbers, notes: Notes
) -> tuple[Numbers | None, Numbers | None, Numbers | None]:
    if ask.pump_flow is None:
        return None, None, None
    rest_once(notes, _SUPPLY)
    drawn = ask.tank_draw_down
    supply = ask.pump_flow if drawn is None else ask.pump_flow + drawn / ask.peak_duration
    message = "The pump gives less than the peak flow: pressure falls once the tank is drawn down."
    notes.warn("pump_below_peak", "pump_flow", message, when=flow > ask.pump_flow)
    message = "Pump and tank together do not keep the peak up for its duration."
    notes.warn("supply_below_peak", "supply_flow", message, when=flow > supply)
    time = None if drawn is None else core.draw_down_time(flow, ask.pump_flow, drawn)
    return supply, np.minimum(flow, supply), time


@peak.check("fixtures")
def _clear_fixtures(ask: PeakRequest[Numbers], notes: Notes) -> None:
    for index, one in enumerate(ask.fixtures):
        at = f"fixtures/{index}"
        if one.fixture is None and one.flow is None:
            message = "Name a fixture of the table, or give its flow."
            notes.refuse("required", f"{at}/fixture", message, allowed=list(fixtures()))
        for name in ("count", "in_use"):
            value: Numbers | None = getattr(one, name)
            if value is not None:
                message = "Give a whole number."
                notes.refuse("out_of_range", f"{at}/{name}", message, when=value % 1.0 != 0.0, allowed="1, 2, 3 …")
        if one.in_use is not None:
            message = "No more can run at once than there are."
            notes.refuse("out_of_range", f"{at}/in_use", message, when=one.in_use > one.count)
    if _figures(ask, "probability") is not None:
        message = f"More than {core.MOST_COMBINATIONS} combinations in use: put kinds of like flow and use together."
        notes.refuse("too_many_combinations", "fixtures", message, when=_too_many(ask.fixtures))


def _too_many(kinds: Sequence[Fixtures[Numbers]]) -> Any:
    return prod([one.count + 1.0 for one in kinds]) > core.MOST_COMBINATIONS


@peak.check("curve", "system")
def _known_curve(ask: PeakRequest[Numbers], notes: Notes) -> None:
    if (ask.curve, ask.system) not in demand_curves():
        others = [curve for curve, system in demand_curves() if system == ask.system]
        message = f"This table has no column for {ask.system}."
        notes.refuse("unknown_choice", "curve", message, allowed=others)


@peak.check("pump_flow", "tank_draw_down")
def _pump_with_tank(ask: PeakRequest[Numbers], notes: Notes) -> None:
    if ask.tank_draw_down is not None and ask.pump_flow is None:
        notes.refuse("required", "pump_flow", "A tank's draw-down is held against the peak beside the pump's flow.")
