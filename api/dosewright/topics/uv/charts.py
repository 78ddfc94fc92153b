"""Charts of the ultraviolet topic."""

import math

import numpy as np
import numpy.typing as npt

from dosewright.engine.run import run
from dosewright.present.picture.chart import Area, Axis, Chart, Level, Line, Mark, Values, shown_unit, with_unit
from dosewright.present.picture.curve_points import answers_over, unit_for, unit_of
from dosewright.quantities import Unit
from dosewright.topics.uv.contracts.curves import CurvePoint, DeratingCurveAnswer
from dosewright.topics.uv.contracts.derated_flow import DeratedFlowAnswer
from dosewright.topics.uv.contracts.unit import DoseAnswer

__all__ = ["derated_flow", "derating_curve", "dose"]

_CALCULATED = "Calculated, not validated: no certificate and no treatment credit."
_POINTS = 61
_UVT = "UVT over 1 cm at 254 nm"
_WHY_LOWER = {
    "chamber": "No hydraulics were chosen. Laminar flow that never mixes would allow only",
    "one_rated_point": "The mixing of the water is unknown. Laminar flow that never mixes would allow only",
    "rated_points": "Nothing was measured between the rated points. The point in the next darker water guarantees only",
    "data_sheet": "The chamber and the mixing of the water are unknown. Unmixed flow in the thickest water layer would "
    "allow only",
}
_BOUNDS = {
    "chamber": ("upper bound: plug flow, mixed", "lower bound: laminar flow, unmixed"),
    "one_rated_point": ("scaled by the mean dose", "lower bound: laminar flow, unmixed"),
    "rated_points": ("linear between the rated points", "lower bound: next darker rated point"),
    "data_sheet": ("upper bound: thinnest water layer, mixed", "lower bound: thickest water layer, unmixed"),
}
_NARROWEST_VIEW = 0.15  # UVT range on each side of the entered and rated values [-]


def derated_flow(answer: DeratedFlowAnswer[float]) -> Chart:
    """Derated flow over UVT, with the entered UVT, the rated points and the peak flow."""
    flow_unit = unit_of(answer, "derated_flow", "flow")
    inputs = answer.inputs
    rated = inputs.get("rated_points", [])
    uvt = _view(inputs["uvt"], [point["uvt"] for point in rated])
    flow = flow_unit.from_si(answers_over("uv/derated-flow", inputs, "uvt", uvt, "derated_flow"))
    symbol, percent = flow_unit.symbol, 100.0 * inputs["uvt"]
    marks = [Mark(percent, answer.derated_flow, f"this water: {with_unit(answer.derated_flow, symbol)}")]
    for point in rated:
        dose_unit = unit_for(answer, "dose")
        rated_flow, rated_dose = flow_unit.from_si(point["rated_flow"]), dose_unit.from_si(point["dose"])
        label = f"rated: {with_unit(rated_flow, symbol)} at {with_unit(rated_dose, dose_unit.symbol)}"
        marks.append(Mark(100.0 * point["uvt"], rated_flow, label, "given"))
    levels: list[Level] = []
    texts = ""
    if inputs.get("peak_flow") is not None:
        peak = flow_unit.from_si(inputs["peak_flow"])
        levels.append(Level(peak, f"peak flow {with_unit(peak, symbol)}"))
        verdict = {True: "is covered", False: "is not covered", None: "is possibly covered"}
        texts = f" The peak flow of {with_unit(peak, symbol)} {verdict[answer.covers_peak_flow]}."
    lines = _bounds(answer, uvt, flow, flow_unit)
    if len(lines) > 1:
        lowest = with_unit(float(answer.flow_lower_bound or 0.0), symbol)
        texts += f" {_WHY_LOWER[answer.method]} {lowest}."
    return Chart(
        title="Derated flow over UVT",
        description=f"At a UVT of {with_unit(percent, '%')} the derated flow is "
        f"{with_unit(answer.derated_flow, symbol)}.{texts}{_ends_in_words(uvt, flow, symbol)}",
        x=Axis(_UVT, "%", low=100.0 * uvt[0], high=100.0 * uvt[-1]),
        y=Axis("flow", symbol, low=0.0),
        lines=tuple(lines),
        areas=(Area(100.0 * uvt, np.zeros_like(flow), lines[-1].y),),
        marks=tuple(marks),
        levels=tuple(levels),
        key=(_CALCULATED,),
    )


def _ends_in_words(uvt: Values, flow: Values, symbol: str) -> str:
    known = np.flatnonzero(np.isfinite(flow))
    if not known.size:
        return ""
    first, last = int(known[0]), int(known[-1])
    return (
        f" The curve runs from {with_unit(flow[first], symbol)} at {with_unit(100.0 * uvt[first], '%')} UVT "
        f"to {with_unit(flow[last], symbol)} at {with_unit(100.0 * uvt[last], '%')}."
    )


def _bounds(answer: DeratedFlowAnswer[float], uvt: Values, flow: Values, flow_unit: Unit) -> list[Line]:
    """Return the flow over UVT, and both of its bounds without hydraulics."""
    if answer.flow_lower_bound is None:
        return [Line(100.0 * uvt, flow, "flow that still delivers the target dose")]
    lower = flow_unit.from_si(answers_over("uv/derated-flow", answer.inputs, "uvt", uvt, "flow_lower_bound"))
    upper, least = _BOUNDS[answer.method]
    return [Line(100.0 * uvt, flow, upper), Line(100.0 * uvt, lower, least, "second")]


def _view(requested: float, rated: list[float]) -> Values:
    """Return the UVT axis: from well below the entered UVT and the rated points to clear water."""
    lowest = math.floor(20.0 * (min(requested, *rated, 0.85) - _NARROWEST_VIEW)) / 20.0
    return np.linspace(max(lowest, 0.01), 1.0, _POINTS)


def derating_curve(answer: DeratingCurveAnswer[float]) -> Chart:
    """Derated flow along the first requested curve: UVT, lamp hours or sleeve fouling."""
    requested: list[tuple[str, str, str, list[CurvePoint[float]]]] = [
        ("by_uvt", "uvt", _UVT, answer.by_uvt),
        ("by_lamp_hours", "lamp_hours", "lamp hours", answer.by_lamp_hours),
        ("by_fouling", "sleeve_fouling_factor", "sleeve fouling factor", answer.by_fouling),
    ]
    curve, field, title, points = next((one for one in requested if one[3]), requested[0])
    symbol, along = answer.units["derated_flow"], answer.units[f"{curve}.{field}"]
    x = np.array([getattr(point, field) for point in points], dtype=np.float64)
    flow_unit = unit_of(answer, "derated_flow", "flow")
    given_unit = unit_of(answer, f"{curve}.derated_flow", "flow")
    flow = flow_unit.from_si(given_unit.to_si(np.array([point.derated_flow for point in points], dtype=np.float64)))
    lines = [Line(x, flow, "flow that still delivers the target dose", dots=True)]
    texts = ""
    if answer.flow_lower_bound is not None:
        given = np.array([point.flow_lower_bound for point in points], dtype=np.float64)
        lower = flow_unit.from_si(given_unit.to_si(given))
        lines.append(Line(x, lower, "lower bound: laminar flow, unmixed", "second"))
        texts = f" No hydraulics: unmixed laminar flow would allow only {with_unit(answer.flow_lower_bound, symbol)}."
    peak = answer.inputs.get("peak_flow")
    levels = [Level(answer.derated_flow, f"as entered {with_unit(answer.derated_flow, symbol)}", role="found")]
    if peak is not None:
        levels.append(Level(flow_unit.from_si(peak), f"peak flow {with_unit(flow_unit.from_si(peak), symbol)}"))
    ends = (
        f"It runs from {with_unit(flow[0], symbol)} at {with_unit(x[0], along)} to {with_unit(flow[-1], symbol)} "
        f"at {with_unit(x[-1], along)}."
        if points
        else "No curve was requested."
    )
    return Chart(
        title=f"Derated flow over {title.split(' over ')[0].split(' of ')[0]}",
        description=f"At the entered conditions the derated flow is {with_unit(answer.derated_flow, symbol)}.{texts} "
        f"{ends}",
        x=Axis(title, along),
        y=Axis("flow", symbol, low=0.0),
        lines=tuple(lines),
        levels=tuple(levels),
        key=(_CALCULATED,),
    )


def dose(answer: DoseAnswer[float]) -> Chart:
    """Dose distribution where the hydraulics give one, else dose over flow; with mean dose, RED and target."""
    unit = unit_of(answer, "mean_dose", "dose")
    hydraulics = answer.inputs.get("hydraulics")
    if hydraulics == "tanks_in_series":
        return _gamma(answer, unit)
    if hydraulics in {"laminar", "residence_times"}:
        return _histogram(answer, unit)
    return _dose_over_flow(answer, unit)


def _described(answer: DoseAnswer[float], target: float, symbol: str) -> str:
    red = answer.reduction_equivalent_dose
    named = "RED unknown" if red is None else f"RED {with_unit(red, symbol)}"
    verdict = {True: "met", False: "missed", None: "not decided: no hydraulics were chosen"}[answer.meets_target]
    return (
        f"Mean dose {with_unit(answer.mean_dose, symbol)}, {named}, target {with_unit(target, symbol)}: "
        f"the target is {verdict}."
    )


def _gamma(answer: DoseAnswer[float], unit: Unit) -> Chart:
    """Dose density of equal mixed tanks in series: the gamma distribution of their residence times, scaled."""
    tanks, mean, symbol = float(answer.inputs["tanks"]), answer.mean_dose, unit.symbol
    target: float = unit.from_si(answer.inputs["target_dose"])
    highest = max(mean * (1.0 + 3.0 / math.sqrt(tanks)), 1.15 * target)
    doses = np.linspace(highest / 400.0, highest, 240)
    scaled = tanks * doses / mean
    density = np.exp(math.log(tanks / mean) + (tanks - 1.0) * np.log(scaled) - scaled - math.lgamma(tanks))
    below = np.where(doses <= target, density, np.nan)
    return Chart(
        title="Dose distribution, target and RED",
        description=(
            f"{_described(answer, target, symbol)} Some water stays for a shorter time than the mean, some for "
            f"a longer time: the distribution is that of {with_unit(tanks)} equal mixed tanks in series."
        ),
        x=Axis("dose", symbol, low=0.0, high=highest),
        y=Axis(f"share of the water per {shown_unit(symbol)}", "%", low=0.0),
        lines=(Line(doses, 100.0 * density, "dose received by the water"),),
        areas=(Area(doses, np.zeros_like(doses), 100.0 * below, "below the target"),),
        levels=_doses(answer, target, symbol),
        key=("The RED of the organism is below the mean dose: the water that passes fastest decides.", _CALCULATED),
    )


def _doses(answer: DoseAnswer[float], target: float, symbol: str) -> tuple[Level, ...]:
    red = answer.reduction_equivalent_dose
    found = [] if red is None else [Level(red, f"RED {with_unit(red, symbol)}", "x", "found")]
    mean = Level(answer.mean_dose, f"mean {with_unit(answer.mean_dose, symbol)}", "x", "found")
    return Level(target, f"target {with_unit(target, symbol)}", "x"), *found, mean


def _histogram(answer: DoseAnswer[float], unit: Unit) -> Chart:
    """Share of the water by dose, in bars. If the answer has no bars, the calculation is repeated for them."""
    symbol = unit.symbol
    target: float = unit.from_si(answer.inputs["target_dose"])
    requested: DoseAnswer[float] = run("uv/dose", {**answer.inputs, "distribution": True, "units": "si"})
    bars = [] if requested.dose_distribution is None else requested.dose_distribution.histogram
    starts = unit.from_si(np.array([bar.start for bar in bars]))
    # The last bar is open. It is drawn as wide as the others.
    edges: Values = np.array([0.0, answer.mean_dose])
    if len(bars) > 1:
        edges = np.concatenate([starts, [2.0 * starts[-1] - starts[-2]]])
    shares: Values = 100.0 * np.array([bar.share for bar in bars] if len(bars) > 1 else [1.0])
    x, y = np.repeat(edges, 2), np.concatenate([[0.0], np.repeat(shares, 2), [0.0]])
    missed = np.linspace(0.0, min(target, float(edges[-1])), 400)
    bar: npt.NDArray[np.intp] = np.clip(np.searchsorted(edges, missed, side="right") - 1, 0, len(shares) - 1)
    heights = np.where(missed < edges[0], 0.0, shares[bar])
    below = (
        ""
        if requested.dose_distribution is None
        else (
            f" {with_unit(100.0 * requested.dose_distribution.below_target, '%')} of the water receives less than the "
            "target dose."
        )
    )
    return Chart(
        title="Dose distribution, target and RED",
        description=f"{_described(answer, target, symbol)}{below}",
        x=Axis("dose", symbol, low=0.0, high=float(max(edges[-1], 1.15 * target))),
        y=Axis("share of the water", "%", low=0.0),
        lines=(Line(x, y, "share of the water by dose, last bar open"),),
        areas=(Area(missed, np.zeros_like(missed), heights, "below the target"),),
        levels=_doses(answer, target, symbol),
        key=(_CALCULATED,),
    )


def _dose_over_flow(answer: DoseAnswer[float], unit: Unit) -> Chart:
    inputs, symbol = answer.inputs, unit.symbol
    target = unit.from_si(inputs["target_dose"])
    flow_unit = unit_for(answer, "flow")
    requested: float = inputs["flow"]
    flows = np.linspace(0.4 * requested, 2.0 * requested, _POINTS)
    doses = unit.from_si(answers_over("uv/dose", inputs, "flow", flows, "mean_dose"))
    here = flow_unit.from_si(requested)
    named = inputs.get("hydraulics") == "plug_flow"
    name = "RED = mean dose in plug flow" if named else "mean dose, an upper bound of the RED"
    return Chart(
        title="Dose over flow, against the target",
        description=f"{_described(answer, target, symbol)} The dose falls as the flow rises: "
        f"{with_unit(doses[0], symbol)} at {with_unit(flow_unit.from_si(flows[0]), flow_unit.symbol)}, "
        f"{with_unit(doses[-1], symbol)} at {with_unit(flow_unit.from_si(flows[-1]), flow_unit.symbol)}.",
        x=Axis("flow", flow_unit.symbol, low=flow_unit.from_si(flows[0]), high=flow_unit.from_si(flows[-1])),
        y=Axis("dose", symbol, low=0.0),
        lines=(Line(flow_unit.from_si(flows), doses, name),),
        marks=(Mark(here, answer.mean_dose, f"this flow: {with_unit(answer.mean_dose, symbol)}"),),
        levels=(Level(target, f"target {with_unit(target, symbol)}"),),
        key=(_CALCULATED,),
    )
