"""Peak flow of a house from its fixtures, by three methods side by side."""

from collections.abc import Callable, Sequence
from functools import reduce
from math import prod
from typing import Any, get_args

import numpy as np

from dosewright.core.hydraulics import demand as core
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.engine.registry import calculation
from dosewright.quantities import Numbers
from dosewright.tables.demand import Sourced, demand_curve, demand_curves, fixtures
from dosewright.topics.pipe.contracts.demand import CurveFlow, CurveName, Fixtures, FlushSystem, PeakAnswer, PeakRequest
from dosewright.topics.pipe.run.pipe_choice import add_basis_once

__all__ = ["CURVES", "peak"]

_FAR_APART = 2.0
_VALVE = "water_closet_valve"
_CODE_OF_UNITS = "ipc_e103_3"  # the code of the fixture units in the table of fixtures
CURVES: tuple[CurveName, ...] = get_args(CurveName)

_CHANCE = Basis(
    method="probability of use: every combination of fixtures in use, with its exact binomial probability",
    source="Hunter 1940, NBS BMS 65, extended to any mix of fixtures (convolution of binomials)",
    validity="independent uses at the shares entered, in the busiest time; any number of fixtures, best for few",
)
_SUM = Basis(
    method="plain sum of the flows of the fixtures chosen to run at once",
    source="definition; the choice as entered",
    validity="depends on the choice",
)
_SUPPLY = Basis(
    method="supply: pump flow + tank draw-down / duration of the peak",
    source="volume balance; a duration of 10 min is common practice, no source",
    validity="tank full at the start of the peak, pump at its flow throughout",
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
    """Calculate the peak flow of a house from its fixtures, to choose pump, filters and UV unit.

    Three methods, each where its figures are known: fixture units and a published descendant of Hunter's curve; the
    exact distribution of simultaneous use at a chosen percentile; and the plain sum of the fixtures chosen to run at
    once. The result is never below the largest single fixture. A kind without figures is added with its full flow.
    Pump flow and tank draw-down limit what can be drawn.
    """
    largest = _largest_fixture(ask)
    units, by_units, curves = _by_units(ask, notes)
    chance, by_chance = _by_chance(ask, notes)
    by_sum = _by_sum(ask, notes)
    every = _sum_of(ask, "flow", lambda one: one.count)
    found = {"fixture_units": by_units, "probability": by_chance, "simultaneous": by_sum}
    flow = _chosen(ask, found, largest, notes)
    supply, limited, time = _supply(ask, flow, notes)
    notes.caution("local_rules")
    return PeakAnswer(
        peak_flow=flow,
        fixture_units=units,
        fixture_unit_flow=by_units,
        curves=curves,
        largest_fixture_flow=largest,
        probability_flow=by_chance,
        probability_reached=None if chance is None else chance.probability,
        mean_flow=None if chance is None else chance.mean_flow,
        simultaneous_flow=by_sum,
        all_fixtures_flow=every,
        supply_flow=supply,
        supply_limited_flow=limited,
        draw_down_time=time,
    )


def _figure(one: Fixtures[Numbers], name: str) -> tuple[Numbers | None, str | None]:
    """Return a figure of a fixture, and its source if it is from the table."""
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


def _warn_sources(ask: PeakRequest[Numbers], name: str, what: str, notes: Notes) -> None:
    by_source: dict[str, list[str]] = {}
    for one in ask.fixtures:
        source = _figure(one, name)[1]
        if source is not None and one.fixture is not None:
            titles = by_source.setdefault(source, [])
            if fixtures()[one.fixture].title not in titles:
                titles.append(fixtures()[one.fixture].title)
    for source, titles in by_source.items():
        add_basis_once(
            notes, Basis(method=f"{what} from the table of fixtures", source=source, validity=", ".join(titles))
        )


def _largest_fixture(ask: PeakRequest[Numbers]) -> Numbers | None:
    known = [flow for one in ask.fixtures if (flow := _figure(one, "flow")[0]) is not None]
    return reduce(np.maximum, known) if known else None


def _own_flows(ask: PeakRequest[Numbers], name: str, result: str, notes: Notes) -> Numbers:
    """Add up the flows of the kinds without a figure, with a warning: they are assumed to run at the peak."""
    total: Numbers = 0.0
    for index, one in enumerate(ask.fixtures):
        if _figure(one, name)[0] is not None:
            continue
        words = name.replace("_", " ")
        flow = _figure(one, "flow")[0]
        if flow is None:
            message = f"Enter the {words} of this kind, or its flow. Without either, {result} would be too small."
            notes.refuse("required", f"fixtures/{index}/flow", message)
            continue
        message = (
            f"No {words} is published here for this kind. All of these fixtures are assumed to run, and "
            f"added to {result}."
        )
        notes.warn("own_flow_added", f"fixtures.{index}.{name}", message)
        total = total + one.count * flow
    return total


def _by_units(
    ask: PeakRequest[Numbers], notes: Notes
) -> tuple[Numbers | None, Numbers | None, list[CurveFlow[Numbers]]]:
    counted = [(one.count, value) for one in ask.fixtures if (value := _figure(one, "fixture_units")[0]) is not None]
    if not counted:
        return None, None, []
    units = reduce(lambda a, b: a + b, [count * value for count, value in counted])
    extra = _own_flows(ask, "fixture_units", "the flow by fixture units", notes)
    valves = ask.system == "flush_valve" or any(one.fixture == _VALVE for one in ask.fixtures)
    curves = [_by_curve(ask, name, units, extra, valves=valves) for name in CURVES]
    named = [one for one in curves if ask.curve in {None, one.curve}]
    usable = [one.flow for one in named if one.flow is not None]
    flow = reduce(np.fmax, usable) if usable else None
    _warn_curves(ask, named, units, flow, notes)
    return units, flow, curves


def _by_curve(
    ask: PeakRequest[Numbers], name: CurveName, units: Numbers, extra: Numbers, *, valves: bool
) -> CurveFlow[Numbers]:
    system: FlushSystem = "flush_valve" if valves else "flush_tank"
    listed = any(one.fixture_units is None and _figure(one, "fixture_units")[0] is not None for one in ask.fixtures)
    same_code = name == _CODE_OF_UNITS or not listed
    if (name, system) not in demand_curves():
        reason = f"This table has no column for a {system.replace('_', ' ')}."
        return CurveFlow(curve=name, system=system, flow=None, same_code=same_code, reason=reason)
    curve = demand_curve(name, system)
    flow = core.curve_flow(units, curve.fixture_units, curve.flow) + extra
    return CurveFlow(curve=name, system=system, flow=flow, same_code=same_code, reason=None)


def _warn_curves(
    ask: PeakRequest[Numbers], named: list[CurveFlow[Numbers]], units: Numbers, flow: Numbers | None, notes: Notes
) -> None:
    for one in named:
        if one.flow is None:
            if ask.curve is not None:
                notes.warn("curve_not_usable", "curve", f"{one.reason} It gives no flow here.")
            continue
        curve = demand_curve(one.curve, one.system)
        low, high = curve.fixture_units[0], curve.fixture_units[-1]
        method = f"fixture units to flow, {one.system.replace('_', ' ')}: linear between the points of {one.curve}"
        validity = (
            f"{low:g} to {high:g} fixture units; made for buildings with many fixtures, and overestimates for few"
        )
        add_basis_once(
            notes, Basis(method=method, source=f"{curve.source}; after Hunter 1940, NBS BMS 65", validity=validity)
        )
        message = f"{one.curve} ends at {high:g} fixture units. Above it this table gives no flow."
        notes.warn("outside_curve", "fixture_unit_flow", message, when=units > high)
        message = f"{one.curve} starts at {low:g} fixture units. Below it the flow of its first row is used."
        notes.warn("below_curve", "fixture_unit_flow", message, when=units < low)
        if not one.same_code:
            message = (
                f"The fixture units are from the International Plumbing Code, but {one.curve} is from another "
                "code. Enter the fixture_units of that code to use it."
            )
            notes.warn("fixture_units_from_other_code", "curves", message)
    if ask.curve is None and flow is not None:
        message = (
            "No plumbing code was chosen, so the largest flow of the published tables is used. Choose yours in curve."
        )
        notes.warn("plumbing_code_not_named", "curve", message)
    _warn_sources(ask, "fixture_units", "fixture units", notes)


def _by_chance(ask: PeakRequest[Numbers], notes: Notes) -> tuple[core.ChanceFlow | None, Numbers | None]:
    known = [one for one in ask.fixtures if _has_chance(one)]
    if not known:
        return None, None
    add_basis_once(notes, _CHANCE)
    _warn_sources(ask, "probability", "share of time in use", notes)
    _warn_sources(ask, "flow", "flow in use", notes)
    extra = _own_flows(ask, "probability", "the flow by probability of use", notes)
    shares, flows = [_known(one, "probability") for one in known], [_known(one, "flow") for one in known]
    chance = core.chance_flow([one.count for one in known], shares, flows, ask.percentile)
    return chance, chance.flow + extra


def _has_chance(one: Fixtures[Numbers]) -> bool:
    return _figure(one, "probability")[0] is not None and _figure(one, "flow")[0] is not None


def _known(one: Fixtures[Numbers], name: str) -> Numbers:
    value = _figure(one, name)[0]
    if value is None:
        raise ValueError(name)
    return value


def _by_sum(ask: PeakRequest[Numbers], notes: Notes) -> Numbers | None:
    if all(one.in_use is None for one in ask.fixtures) or _figures(ask, "flow") is None:
        return None
    add_basis_once(notes, _SUM)
    _warn_sources(ask, "flow", "flow in use", notes)
    return _sum_of(ask, "flow", lambda one: 0.0 if one.in_use is None else one.in_use)


def _chosen(
    ask: PeakRequest[Numbers], found: dict[str, Numbers | None], largest: Numbers | None, notes: Notes
) -> Numbers:
    known = [flow for flow in found.values() if flow is not None]
    one = found.get(ask.method)
    if ask.method == "largest":
        # A flow above the end of every table is not a number. It is rejected below, never dropped from the maximum.
        one = reduce(np.maximum, known) if known else largest
    if one is None:
        message = "The chosen method has no flow. Enter the figures it needs for every kind."
        notes.refuse("method_without_flow", "method", message)
        return 1e-4
    missing = np.isnan(one)
    message = "The fixture units are above the end of the published table, so this method has no flow here."
    notes.refuse("method_without_flow", "method", message, when=missing)
    if len(known) > 1:
        ratio = reduce(np.fmax, known) / reduce(np.fmin, known)
        message = "The methods differ by more than a factor of two. Check the validity of each before you choose one."
        notes.warn("methods_differ", "peak_flow", message, when=ratio > _FAR_APART)
    flow = np.where(missing, 1e-4, one)
    if largest is None:
        return flow[()]
    message = "The method gives less than the flow of the largest single fixture. That fixture's flow is used."
    notes.warn("largest_fixture_decides", "peak_flow", message, when=np.asarray(flow < largest)[()])
    return np.maximum(flow, largest)[()]


def _supply(
    ask: PeakRequest[Numbers], flow: Numbers, notes: Notes
) -> tuple[Numbers | None, Numbers | None, Numbers | None]:
    if ask.pump_flow is None:
        return None, None, None
    add_basis_once(notes, _SUPPLY)
    drawn = ask.tank_draw_down
    supply = ask.pump_flow if drawn is None else ask.pump_flow + drawn / ask.peak_duration
    message = "The pump gives less than the peak flow. Pressure falls once the tank is drawn down."
    notes.warn("pump_below_peak", "pump_flow", message, when=flow > ask.pump_flow)
    message = "Pump and tank together cannot keep up the peak flow for its duration."
    notes.warn("supply_below_peak", "supply_flow", message, when=flow > supply)
    time = None if drawn is None else core.draw_down_time(flow, ask.pump_flow, drawn)
    tank_duration = drawn is not None
    return supply, flow if tank_duration else np.minimum(flow, ask.pump_flow), time


@peak.check("fixtures")
def _clear_fixtures(ask: PeakRequest[Numbers], notes: Notes) -> None:
    for index, one in enumerate(ask.fixtures):
        with known_only():
            _clear_fixture(one, f"fixtures/{index}", notes)
    if any(_has_chance(one) for one in ask.fixtures):
        message = f"More than {core.MOST_COMBINATIONS} combinations in use. Combine kinds with similar flow and use."
        notes.refuse(
            "too_many_combinations",
            "fixtures",
            message,
            when=_too_many([one for one in ask.fixtures if _has_chance(one)]),
        )


def _clear_fixture(one: Fixtures[Numbers], at: str, notes: Notes) -> None:
    if one.fixture is None and one.flow is None:
        message = "Choose a fixture from the table, or enter its flow."
        notes.refuse("required", f"{at}/fixture", message, allowed=list(fixtures()))
    for name in ("count", "in_use"):
        value: Numbers | None = getattr(one, name)
        if value is not None:
            with known_only():
                message = "Enter a whole number."
                notes.refuse("not_whole", f"{at}/{name}", message, when=value % 1.0 != 0.0, allowed="1, 2, 3 …")
    if one.in_use is not None:
        message = "No more fixtures can run at once than there are."
        notes.refuse("contradiction", f"{at}/in_use", message, when=one.in_use > one.count)


def _too_many(kinds: Sequence[Fixtures[Numbers]]) -> Any:
    return prod([one.count + 1.0 for one in kinds]) > core.MOST_COMBINATIONS


@peak.check("curve", "system", "fixtures")
def _known_curve(ask: PeakRequest[Numbers], notes: Notes) -> None:
    if ask.curve is None:
        return
    with known_only():
        _refuse_without_column(ask, notes)
    if ask.curve == _CODE_OF_UNITS:
        return
    message = (
        "Enter the fixture units of the chosen table's code. The units in our table of fixtures are from another code."
    )
    for index, one in enumerate(ask.fixtures):
        with known_only():
            if one.fixture_units is None and _figure(one, "fixture_units")[0] is not None:
                notes.refuse("required", f"fixtures/{index}/fixture_units", message)


def _refuse_without_column(ask: PeakRequest[Numbers], notes: Notes) -> None:
    valves = any(one.fixture == _VALVE for one in ask.fixtures)
    system = "flush_valve" if valves else ask.system
    if (ask.curve, system) not in demand_curves():
        others = [curve for curve, column in demand_curves() if column == system]
        message = f"This table has no column for a {system.replace('_', ' ')}."
        notes.refuse("unknown_choice", "curve", message, allowed=others)


@peak.check("pump_flow", "tank_draw_down")
def _pump_with_tank(ask: PeakRequest[Numbers], notes: Notes) -> None:
    if ask.tank_draw_down is not None and ask.pump_flow is None:
        notes.refuse(
            "required", "pump_flow", "Enter the pump flow too: pump and tank are compared with the peak together."
        )
