"""Intervals of dose and derated flow from uncertain inputs."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from dosewright.core import spread
from dosewright.core.arrays import Array
from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import dose
from dosewright.core.light.doses.laminar_draws import laminar_draws
from dosewright.core.light.field import Field
from dosewright.engine.base import Basis
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv.contracts.curves import (
    DoseInterval,
    FlowInterval,
    RangeSpread,
    StandardSpread,
    UncertaintyAnswer,
    UncertaintyRequest,
)
from dosewright.topics.uv.derating_curve import check_chamber_fields
from dosewright.topics.uv.unit.chamber import (
    CAUTIONS,
    add_basis_of_field_model,
    field_of,
    lamp_power,
    most_through_sleeve,
    warn_lamp,
)
from dosewright.topics.uv.unit.hydraulics import hydraulics_of, response_of, warn_organism
from dosewright.topics.uv.unit.target_flow import (
    credited_dose,
    mean_dose_needed,
    red_in_tanks,
    warn_where_capped,
)

__all__ = ["uncertainty"]

Ask = UncertaintyRequest[Numbers]

_SHARES = frozenset({"uvt", "lamp_ageing_factor", "sleeve_fouling_factor", "sleeve_transmittance"})
_BEYOND_EACH_END = 2.0  # draws; with fewer, the end of an interval is a single draw
_ORDER = ("uvt", "uvc_output", "lamp_ageing_factor", "sleeve_fouling_factor", "sleeve_transmittance", "flow")

_SPOKEN = {"uvc_output": (1.0, "W"), "flow": (60_000.0, "L/min")}
_EXTREME = (np.array(-4.0), np.array(4.0))  # standard uncertainties; hardly any draw is further away

_ROUNDING = 1e-12

_METHOD = Basis(
    method=(
        "Monte Carlo with the chosen seed and the same draws for every row. standard: log-normal, for shares "
        "logit-normal, so that none passes 0 or 100 %. range: uniform. The interval is that of the ordered "
        "draws"
    ),
    source="propagation of distributions as in JCGM 101:2008, from memory",
    validity="inputs independent of each other; does not include the error of the field model or of the hydraulics",
)


@calculation(
    "uv/uncertainty",
    request=UncertaintyRequest,
    answer=UncertaintyAnswer,
    summary="Intervals of dose and derated flow from uncertain inputs",
    example={
        "chamber_bore": "80 mm",
        "sleeve_outer_diameter": "25 mm",
        "arc_length": "720 mm",
        "chamber_length": "780 mm",
        "uvc_output": "17 W",
        "lamp_ageing_factor": "80 %",
        "sleeve_fouling_factor": "85 %",
        "uvt": "88 %",
        "flow": "20 L/min",
        "target_dose": "40 mJ/cm2",
        "hydraulics": "plug_flow",
        "spreads": [
            {"kind": "standard", "of": "uvt", "uncertainty": "1 %"},
            {"kind": "standard", "of": "uvc_output", "uncertainty": "5 %"},
            {"kind": "range", "of": "sleeve_fouling_factor", "low": "85 %", "high": "110 %"},
        ],
        "draws": "2000",
    },
)
def uncertainty(ask: Ask, notes: Notes) -> UncertaintyAnswer[Numbers]:
    """Draw the uncertain inputs many times and calculate the dose and flow of each draw.

    The same seed gives the same answer. Linear propagation of the mean dose checks the draws. If the two are far
    apart, the inputs scatter too widely for linear propagation.
    """
    add_basis_of_field_model(ask, notes, "mean_dose")
    warn_lamp(ask.uvc_output, ask.arc_length, notes)
    notes.add_basis(_METHOD)
    hydraulics_of(ask, notes, "mean_dose")
    warn_organism(ask, notes)
    notes.caution(*CAUTIONS)
    given = {name: getattr(ask, name) for name in _ORDER}
    rows = max(int(np.size(value)) for value in _all_values(ask))
    parts = [_for_row(ask, given, row) for row in range(rows)]
    columns = [np.array(values) for values in zip(*parts, strict=True)]
    found = columns if rows > 1 or any(isinstance(value, np.ndarray) for value in _all_values(ask)) else parts[0]
    met, linear, mean, red, flow, capped = found[0], found[1], found[2:7], found[7:12], found[12:17], found[17]
    lost = np.isnan(red[0]) | np.isnan(red[1]) | np.isnan(flow[0]) | np.isnan(flow[1])
    notes.refuse(
        "red_undefined",
        "dose_response",
        "In some draws the RED has no value: no flow gives the target, or the only surviving organisms are those "
        "that no dose inactivates. Enter a smaller spread, or a response without a floor.",
        when=lost,
    )
    warn_where_capped(ask, capped, 1.0, "reduction_equivalent_dose", notes)
    message = (
        "The draws differ from linear propagation by more than one fifth. The inputs scatter too widely "
        "for linear propagation."
    )
    apart = abs(mean[2] / mean[0] - linear) > 0.2 * linear
    notes.warn("not_linear", "linear_relative_uncertainty", message, when=apart)
    return UncertaintyAnswer(
        mean_dose=DoseInterval(**_named(mean)),
        reduction_equivalent_dose=DoseInterval(**_named(red)) if ask.hydraulics is not None else None,
        derated_flow=FlowInterval(**_named(flow)),
        target_met_share=met if ask.hydraulics is not None else None,
        linear_relative_uncertainty=linear,
    )


check_chamber_fields(uncertainty)


def _named(values: Any) -> dict[str, Any]:
    return dict(zip(("value", "mean", "standard_uncertainty", "low", "high"), values, strict=True))


def _all_values(value: Any) -> list[Any]:
    """Return every number of a request, including those of its items."""
    if isinstance(value, (float, np.ndarray)):
        return [value]
    if isinstance(value, list):
        return [number for item in value for number in _all_values(item)]  # pyright: ignore[reportUnknownVariableType]
    names = getattr(value, "__struct_fields__", ())
    return [number for name in names for number in _all_values(getattr(value, name))]


def _row(value: Any, row: int) -> Any:
    """Return one row of a request, or of any value in it."""
    if isinstance(value, np.ndarray):
        return float(value[row])  # pyright: ignore[reportUnknownArgumentType]
    if isinstance(value, list):
        return [_row(item, row) for item in value]  # pyright: ignore[reportUnknownVariableType]
    names = getattr(value, "__struct_fields__", None)
    if names is None:
        return value
    return type(value)(**{name: _row(getattr(value, name), row) for name in names})


def _for_row(ask: Ask, given: dict[str, Any], row: int) -> list[float]:
    one: Any = _row(ask, row)
    count, seed = int(one.draws), int(one.seed)
    values: dict[str, Any] = {name: getattr(one, name) for name in given}
    drawn: dict[str, Any] = dict(values)
    relative: dict[str, float] = {}
    for index, name in enumerate(_ORDER):
        for item in one.spreads:
            if item.of != name:
                continue
            # One random stream per input, so that another uncertain input does not change its draws.
            random = np.random.default_rng([seed, index])
            if item.__struct_config__.tag == "standard":
                normal = random.standard_normal(count)
                if name in _SHARES:
                    most = _most(one, name)
                    drawn[name] = most * spread.logit_normal(values[name] / most, item.uncertainty, normal)
                else:
                    drawn[name] = spread.log_normal(values[name], item.uncertainty, normal)
                relative[name] = float(item.uncertainty)
            else:
                drawn[name] = values[name] * (item.low + (item.high - item.low) * random.random(count))
                if name in _SHARES:
                    drawn[name] = np.minimum(drawn[name], _most(one, name))  # rounding can put one above
                width = float(cast("float", item.high) - cast("float", item.low))
                relative[name] = width / float(np.sqrt(12.0))
    doses, red, flows = _doses(one, drawn)
    value = _doses(one, values)
    required = one.target_dose
    decisive: Array = np.broadcast_to(doses if red is None else red, (count,))
    summary = [float(np.count_nonzero(decisive >= required)) / count, _linear(one, values, relative)]
    tail = 0.5 * (1.0 - one.coverage)
    for all_of_it, single in zip((doses, doses if red is None else red, flows), value, strict=True):
        at_value = value[0] if single is None else single
        summary += [float(at_value), *spread.summary(np.broadcast_to(all_of_it, (count,)), tail)]
    shares = () if red is None else (red / doses, flows * required / (doses * drawn["flow"]))
    return [*summary, max((float(np.max(share)) for share in shares), default=0.0)]  # of the value for the mean dose


def _most(ask: Any, name: str) -> Any:
    """Highest possible share of an input. A sleeve passes no more than its faces transmit."""
    return most_through_sleeve(ask) if name == "sleeve_transmittance" else 1.0


def _doses(one: Any, values: dict[str, Any]) -> tuple[Any, Any, Any]:
    """Return mean dose, RED or None, and derated flow."""
    field, power, absorption = _light(one, values)
    # Power and flow are factors of every dose. The light of unit power is computed once for each water and sleeve.
    unit = field.average(1.0, absorption)
    mean = power * unit * field.volume / values["flow"]
    response = response_of(one)
    if one.hydraulics == "laminar" and response is not None:
        many = laminar_draws(field, power, absorption, values["flow"], one.target_dose, response)
        most = power * unit * field.volume / one.target_dose
        return mean, credited_dose(many.reduction_equivalent_dose, mean), credited_dose(many.flow, most)
    if one.hydraulics == "tanks_in_series" and response is not None:
        needed = mean_dose_needed(one, one.target_dose)
        return mean, credited_dose(red_in_tanks(mean, response, one.tanks), mean), power * unit * field.volume / needed
    return mean, (mean if one.hydraulics else None), power * unit * field.volume / one.target_dose


def _light(one: Any, values: dict[str, Any]) -> tuple[Field, Any, Any]:
    """Return field, lamp power and absorption of a request with other values of its uncertain inputs."""
    fields = {name: getattr(one, name) for name in one.__struct_fields__}
    other: Any = SimpleNamespace(**{**fields, **values})
    field = field_of(other, one.arc_length, one.chamber_length, one.sleeve_outer_diameter, one.chamber_bore)
    return field, lamp_power(other), dose.absorption_coefficient(other.uvt, CENTIMETRE)


def _linear(one: Any, values: dict[str, Any], relative: dict[str, float]) -> float:
    """Relative standard uncertainty of the mean dose by linear propagation."""
    square = 0.0
    for name, size in relative.items():
        step = 1e-4
        moved = {**values, name: values[name] * (1.0 - step)}
        slope = float(np.log(_doses_mean(one, values) / _doses_mean(one, moved)) / -np.log1p(-step))
        square += (slope * size) ** 2
    return float(np.sqrt(square))


def _doses_mean(one: Any, values: dict[str, Any]) -> float:
    field, power, absorption = _light(one, values)
    return float(field.average(power, absorption) / values["flow"])


@uncertainty.check("spreads", "field_model", "n_air", "n_quartz", *_ORDER)
def _possible_spreads(ask: Ask, notes: Notes) -> None:
    seen: set[str] = set()
    for index, item in enumerate(ask.spreads):
        field = f"spreads/{index}"
        with known_only():
            if item.of in seen:
                notes.refuse("repeated", f"{field}/of", f"{item.of} has two spreads. Enter one per input.")
            seen.add(item.of)
            value = getattr(ask, item.of)
            lowest, highest = _bounds(ask, item.of)
            if isinstance(item, RangeSpread):
                _refuse_range(item, value, lowest, highest, field, notes)
            else:
                _refuse_standard(item, value, lowest, highest, field, notes)


def _bounds(ask: Ask, name: str) -> tuple[Numbers, Numbers]:
    """Lowest and highest possible value of an input: its field's bounds, or what a sleeve's faces transmit."""
    found = next(field for field in reader_for(UncertaintyRequest).fields if field.name == name)
    measure = cast("MeasureField", found).measure
    lowest = measure.bound(measure.at_least or measure.above) or 0.0
    highest = measure.bound(measure.at_most) or np.inf
    return lowest, np.minimum(highest, _most(ask, name)) if name in _SHARES else highest


def _refuse_range(
    item: RangeSpread[Numbers], value: Numbers, lowest: Numbers, highest: Numbers, field: str, notes: Notes
) -> None:
    low, high = item.low * value, item.high * value
    message = (
        f"{item.of} would be drawn down to {_reported(low, item.of, 'a value outside its limit')}. Its lower limit is "
        f"{_reported(lowest, item.of, 'the bound of its field')}."
    )
    allowed = f"at least {_reported(lowest / value, 'share', 'the bound divided by the value')}"
    below = low < lowest * (1.0 - _ROUNDING)
    notes.refuse("below_all", f"{field}/low", message, when=below, allowed=allowed)
    message = (
        f"{item.of} would be drawn up to {_reported(high, item.of, 'a value outside its limit')}. Its upper limit is "
        f"{_reported(highest, item.of, 'the bound of its field')}{_why(item.of)}."
    )
    allowed = f"at most {_reported(highest / value, 'share', 'the bound divided by the value')}"
    above = high > highest * (1.0 + _ROUNDING)
    notes.refuse("above_all", f"{field}/high", message, when=above, allowed=allowed)


def _refuse_standard(
    item: StandardSpread[Numbers], value: Numbers, lowest: Numbers, highest: Numbers, field: str, notes: Notes
) -> None:
    """Refuse a standard uncertainty without room: twice itself up to 100 % for a share, else four times itself."""
    pointer = f"{field}/uncertainty"
    near: Any = False
    if item.of in _SHARES:
        room = np.maximum(0.5 * (highest / value - 1.0), 0.0)
        near = item.uncertainty > room
        message = (
            f"{item.of} is {_reported(value, item.of, 'near its limit')}, and its upper limit is "
            f"{_reported(highest, item.of, 'the bound of its field')}{_why(item.of)}. "
            "That is too close for an even scatter with this standard uncertainty. Enter a range instead."
        )
        allowed = f"at most {_reported(room, 'share', 'half of the distance to the bound, divided by the value')}"
        notes.refuse("too_close_to_all", pointer, message, when=near, allowed=allowed)
        share = np.minimum(value / highest, 1.0 - 1e-9)
        with np.errstate(over="ignore"):
            least, most = highest * spread.logit_normal(share, item.uncertainty, _EXTREME[0]), highest
    else:
        least, most = (spread.log_normal(value, item.uncertainty, extreme) for extreme in _EXTREME)
    for reached, bound, beyond, word in (
        (least, lowest, least < lowest, "least"),
        (most, highest, most > highest, "most"),
    ):
        message = (
            f"{item.of} would be drawn as far as {_reported(reached, item.of, 'a value outside its limit')}, four "
            f"standard uncertainties away. It must be at {word} {_reported(bound, item.of, 'the bound of its field')}. "
            f"Enter a range instead."
        )
        allowed = f"one that keeps it at {word} {_reported(bound, item.of, 'the bound of its field')}"
        notes.refuse("too_close_to_bound", pointer, message, when=beyond & np.logical_not(near), allowed=allowed)


def _why(name: str) -> str:
    return ", the most that the sleeve's faces transmit" if name == "sleeve_transmittance" else ""


def _reported(value: Numbers, name: str, rows: str) -> str:
    """Return a value in the caller's words; for a batch, a text that fits all rows."""
    if np.ndim(value):
        return rows
    scale, unit = (100.0, "%") if name in _SHARES or name == "share" else _SPOKEN[name]
    return f"{float(value) * scale:.6g} {unit}"


@uncertainty.check("draws", "coverage")
def _enough_draws(ask: Ask, notes: Notes) -> None:
    needed = np.ceil(_BEYOND_EACH_END / (0.5 * (1.0 - ask.coverage)) - 1e-6)
    few = np.asarray(ask.draws < needed)
    most = np.max(np.where(few, needed, 0.0))  # in a batch, the largest of all rows
    allowed = f"at least {most:.0f}{' in every row' if few.ndim else ''}"
    message = (
        f"Too few draws for this coverage. At least two must be outside each end of the interval. Enter {allowed}."
    )
    notes.refuse("too_few_draws", "draws", message, when=few[()], allowed=allowed)


@uncertainty.check("draws", "seed")
def _whole_numbers(ask: Ask, notes: Notes) -> None:
    for name in ("draws", "seed"):
        number = getattr(ask, name)
        with known_only():
            notes.refuse("not_whole", name, f"{name} must be a whole number.", when=number != np.floor(number))
