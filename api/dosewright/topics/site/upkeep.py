"""Upkeep schedule and the cost of a year."""

import datetime as dt
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from dosewright.core.light.lamp_ageing import exponential_ageing
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.engine.registry import Views, calculation
from dosewright.present.rounding import in_profile
from dosewright.quantities import KINDS, read
from dosewright.tables import table
from dosewright.topics.site import calendar
from dosewright.topics.site.contracts.upkeep import CarbonBed, Cartridge, UpkeepAnswer, UpkeepEvent, UpkeepRequest

__all__ = ["upkeep"]

_DAY = 86_400.0
_YEAR_DAYS = 365.25
_JOULES_PER_KILOWATT_HOUR = 3.6e6

_SCHEDULE = Basis(
    method="each task repeats after its interval in whole days, rounded down; the lamp by hours of operation or by "
    "days, a cartridge by volume, time or pressure drop, whichever comes first",
    source="common practice, no source; lamp hours and media volumes from the data sheets, as entered",
    validity="average water use; the makers' instructions come first",
)
_AGEING = Basis(
    method="lamp ageing factor = end factor ^ (hours of operation / lamp life); derated flow in proportion to it",
    source="exponential ageing to a stated end-of-life factor, common practice, no source",
    validity="low-pressure lamps up to the end of their life; every dose is in proportion to the lamp's output",
)
_LOADING = Basis(
    method="pressure drop of a cartridge increases in proportion to the volume passed",
    source="straight line through the two pressure drops entered; common practice, no source",
    validity="an estimate: cartridges clog faster towards their end",
)
_TEST_IT = "change the lamp earlier, or have a tracer test show how the chamber mixes the water."


class _Task(NamedTuple):
    """A task that repeats."""

    task: str
    meaning: str
    days: int
    due_by_measure: str
    price: float | None


@calculation(
    "site/upkeep",
    views=Views(calendar=calendar.as_calendar),
    request=UpkeepRequest,
    answer=UpkeepAnswer,
    summary="Upkeep calendar and yearly cost",
    example={
        "installed": "2026-05-04",
        "daily_use": "180 gal/d",
        "years": "2",
        "hardness": "5 gpg",
        "iron": "0.1 mg/L",
        "media": [
            {
                "kind": "cartridge",
                "purpose": "sediment",
                "rated_volume": "15000 gal",
                "interval": "180 d",
                "price": "14",
            },
            {"kind": "carbon_bed", "bed_volume": "28 L", "bed_volumes": "9000", "price": "160"},
        ],
        "derated_flow": "10.4 gal/min",
        "lamp_ageing_factor": "80 %",
        "peak_flow": "8 gal/min",
        "lamp_price": "95",
        "water_test_price": "40",
        "unit_power": "55 W",
        "energy_price": "0.18",
    },
    batch=False,
)
def upkeep(ask: UpkeepRequest[float], notes: Notes) -> UpkeepAnswer[float]:
    """Due dates of lamp, sleeve, cartridges, carbon and water test, with the derated flow on each date.

    Each interval starts on the day of installation, or on the last due date of the task in this schedule. The yearly
    cost includes everything with a price, and the energy if its power and price are entered.
    """
    notes.add_basis(_SCHEDULE, _AGEING)
    sleeve_days = _sleeve_days(ask, notes)
    lamp = _lamp(ask)
    tasks = [
        lamp,
        _Task("clean_sleeve", "Clean the quartz sleeve", sleeve_days, "days", None),
        _Task(
            "test_water", "Have the water tested", _whole_days(ask.water_test_interval), "days", ask.water_test_price
        ),
        *(_medium(item, ask, notes) for item in ask.media or ()),
    ]
    last = ask.installed + dt.timedelta(days=int(ask.years * _YEAR_DAYS))
    due = list(_due(ask.installed, last, tasks))
    factors = _ageing(ask, lamp, [(day - ask.installed).days for day, _ in due])
    events = [_event(ask, task, day, factor) for (day, task), factor in zip(due, factors, strict=True)]
    short = [event for event in events if event.covers_peak_flow is False]
    if short:
        message = (
            f"On {short[0].day} the aged lamp no longer covers the peak flow: {_flow(ask, short[0].derated_flow)} "
            f"derated, {_flow(ask, ask.peak_flow)} peak. Change the lamp earlier."
        )
        if ask.hydraulics_unknown:
            message = (
                f"On {short[0].day} the lower bound of the derated flow, {_flow(ask, short[0].derated_flow)}, is below "
                f"the peak flow of {_flow(ask, ask.peak_flow)}. {_TEST_IT}"
            )
        notes.warn("peak_flow_not_covered", "events", message)
    if ask.hydraulics_unknown and ask.peak_flow is not None:
        message = "The hydraulics are not known, so no event reports the peak flow as covered."
        notes.warn("hydraulics_not_named", "events", message)
    notes.caution("uvc_eyes_skin", "lamp_mercury", "mains_near_water", "pressure", "local_rules")
    energy = None if ask.unit_power is None else ask.unit_power * _YEAR_DAYS * ask.lamp_hours_per_day
    return UpkeepAnswer(
        events=events,
        sleeve_interval=sleeve_days * _DAY,
        lamp_due_by=lamp.due_by_measure,  # pyright: ignore[reportArgumentType] - one of the two names
        yearly_energy=energy,
        yearly_cost=_yearly_cost(ask, events, energy),
    )


@upkeep.check("derated_flow", "lamp_ageing_factor", "peak_flow")
def _flow_with_its_factor(ask: UpkeepRequest[float], notes: Notes) -> None:
    if (ask.derated_flow is None) != (ask.lamp_ageing_factor is None):
        missing = "lamp_ageing_factor" if ask.lamp_ageing_factor is None else "derated_flow"
        message = "derated_flow and lamp_ageing_factor belong together. Enter both or neither."
        notes.refuse("required", missing, message)
    if ask.peak_flow is not None and ask.derated_flow is None:
        message = "peak_flow is compared with derated_flow. Enter both or neither."
        notes.refuse("required", "derated_flow", message)


@upkeep.check("media")
def _media_can_fall_due(ask: UpkeepRequest[float], notes: Notes) -> None:
    for index, item in enumerate(ask.media or ()):
        with known_only():
            if isinstance(item, Cartridge):
                _cartridge_can_fall_due(item, f"media/{index}", notes)


def _cartridge_can_fall_due(item: Cartridge[float], at: str, notes: Notes) -> None:
    drops = (item.clean_pressure_drop, item.pressure_drop_now, item.pressure_drop_limit, item.volume_passed)
    by_drop = all(value is not None for value in drops)
    if not by_drop and any(value is not None for value in drops):
        message = (
            "A change by pressure drop requires clean_pressure_drop, pressure_drop_now, pressure_drop_limit and "
            "volume_passed."
        )
        notes.refuse("required", f"{at}/pressure_drop_now", message)
    elif item.rated_volume is None and item.interval is None and not by_drop:
        message = "Enter when the cartridge is changed: by rated_volume, by interval or by its pressure drops."
        notes.refuse("required", f"{at}/rated_volume", message)
    elif by_drop and not _rises(item):
        message = "clean_pressure_drop must be below pressure_drop_now and below pressure_drop_limit."
        notes.refuse("not_increasing", f"{at}/pressure_drop_now", message)


def _rises(item: Cartridge[float]) -> bool:
    clean, now, limit = item.clean_pressure_drop, item.pressure_drop_now, item.pressure_drop_limit
    return clean is not None and now is not None and limit is not None and clean < now and clean < limit


def _whole_days(seconds: float) -> int:
    return max(1, int(seconds / _DAY))


def _sleeve_days(ask: UpkeepRequest[float], notes: Notes) -> int:
    if ask.sleeve_interval is not None:
        return _whole_days(ask.sleeve_interval)
    cleaning = table("sleeve_cleaning")
    given = {"hardness": ask.hardness, "iron": ask.iron, "manganese": ask.manganese}
    shares: list[float] = []
    for name, value in given.items():
        kind = KINDS["hardness" if name == "hardness" else "concentration"]
        limit, unit = read(cleaning.about["limits"][name], kind, None)
        if value is not None:
            shares.append(value / unit.to_si(limit))
    missing = [name for name, value in given.items() if value is None]
    if missing:
        message = f"Not tested: {', '.join(missing)}. The sleeve can need cleaning more often than scheduled here."
        notes.warn("not_tested", "sleeve_interval", message)
    worst = max(shares, default=0.0)
    row = next(r for r in cleaning.rows if not r["worst_share_of_limit"] or worst <= float(r["worst_share_of_limit"]))
    basis = Basis(method=row["meaning"], source=row["source"], validity="a first schedule; check the sleeve and adjust")
    notes.add_basis(basis)
    if worst > 1.0:
        limits = ", ".join(f"{name} {limit}" for name, limit in cleaning.about["limits"].items())
        message = f"Hardness, iron or manganese is above the limit for UV units ({limits}). Treat the water first."
        notes.warn("fix_first", "sleeve_interval", message)
    return int(row["interval_days"])


def _lamp(ask: UpkeepRequest[float]) -> _Task:
    by_hours = int(ask.lamp_life / ask.lamp_hours_per_day)
    by_days = _whole_days(ask.lamp_interval)
    due_by_measure = "hours" if by_hours < by_days else "days"
    return _Task("change_lamp", "Change the lamp", max(1, min(by_hours, by_days)), due_by_measure, ask.lamp_price)


def _medium(item: Cartridge[float] | CarbonBed[float], ask: UpkeepRequest[float], notes: Notes) -> _Task:
    if isinstance(item, CarbonBed):
        days = max(1, int(item.bed_volume * item.bed_volumes / ask.daily_use / _DAY))
        return _Task("change_carbon", "Change the carbon bed", days, "bed_volumes", item.price)
    reasons: list[tuple[int, str]] = []
    if item.rated_volume is not None:
        reasons.append((max(1, int(item.rated_volume / ask.daily_use / _DAY)), "volume"))
    if item.interval is not None:
        reasons.append((_whole_days(item.interval), "days"))
    clean, now, limit = item.clean_pressure_drop, item.pressure_drop_now, item.pressure_drop_limit
    if clean is not None and now is not None and limit is not None and item.volume_passed is not None:
        notes.add_basis(_LOADING)
        volume = item.volume_passed * (limit - clean) / (now - clean)
        reasons.append((max(1, int(volume / ask.daily_use / _DAY)), "pressure_drop"))
    days, due_by_measure = min(reasons)
    task = {"sediment": "change_sediment", "carbon": "change_carbon", "other": "change_cartridge"}[item.purpose]
    name = "filter cartridge" if item.purpose == "other" else f"{item.purpose} cartridge"
    return _Task(task, f"Change the {name}", days, due_by_measure, item.price)


def _due(first: dt.date, last: dt.date, tasks: list[_Task]) -> Iterator[tuple[dt.date, _Task]]:
    found = [
        (first + dt.timedelta(days=task.days * times), order, task)
        for order, task in enumerate(tasks)
        for times in range(1, (last - first).days // task.days + 1)
    ]
    for day, _, task in sorted(found, key=lambda entry: entry[:2]):
        yield day, task


def _ageing(ask: UpkeepRequest[float], lamp: _Task, days: list[int]) -> list[float]:
    """Return the lamp ageing factor on days after the installation, in one call."""
    # On the day of a lamp change, the factor is that of the old lamp.
    lit = [since % lamp.days or lamp.days for since in days]
    burned = np.array(lit, dtype=np.float64) * ask.lamp_hours_per_day
    factors: Any = exponential_ageing(burned, ask.lamp_life, ask.lamp_end_factor)
    return factors.tolist()


def _flow(ask: UpkeepRequest[float], flow: float | None) -> str:
    return "–" if flow is None else in_profile("flow", flow, ask.units)


def _event(ask: UpkeepRequest[float], task: _Task, day: dt.date, factor: float) -> UpkeepEvent[float]:
    flow = covers = None
    if ask.derated_flow is not None and ask.lamp_ageing_factor is not None:
        flow = ask.derated_flow * factor / ask.lamp_ageing_factor
        covers = None if ask.peak_flow is None else flow >= ask.peak_flow
        if ask.hydraulics_unknown and covers:
            covers = None  # short circuits can be below the lower bound too
    return UpkeepEvent(
        day=day.isoformat(),
        task=task.task,  # pyright: ignore[reportArgumentType] - one of the names
        meaning=task.meaning,
        due_by_measure=task.due_by_measure,  # pyright: ignore[reportArgumentType] - one of the names
        lamp_ageing_factor=factor,
        derated_flow=flow,
        covers_peak_flow=covers,
        price=task.price,
    )


def _yearly_cost(ask: UpkeepRequest[float], events: list[UpkeepEvent[float]], energy: float | None) -> float | None:
    prices = [event.price for event in events if event.price is not None]
    costs = [sum(prices) / ask.years] if prices else []
    if energy is not None and ask.energy_price is not None:
        costs.append(energy / _JOULES_PER_KILOWATT_HOUR * ask.energy_price)
    return sum(costs) if costs else None
