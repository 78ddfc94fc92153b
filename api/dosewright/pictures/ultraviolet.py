"""Pictures of the ultraviolet topic."""

import math

import numpy as np

from dosewright.contracts.uv import DeratedFlowAnswer, DoseAnswer
from dosewright.pictures.asking import asked_over, unit_for, unit_of
from dosewright.pictures.chart import Area, Axis, Chart, Level, Line, Mark, Values, shown_unit, spoken
from dosewright.quantities import Unit

__all__ = ["derated_flow", "dose"]

_POINTS = 61
_UVT = "UVT over 1 cm at 254 nm"
_NARROWEST_VIEW = 0.15  # of UVT to either side of what was asked or rated [-]


def derated_flow(answer: DeratedFlowAnswer[float]) -> Chart:
    """Derated flow over UVT, with the site's point, the rated points and the peak flow."""
    flow_unit = unit_of(answer, "derated_flow", "flow")
    inputs = answer.inputs
    rated = inputs.get("rated_points", [])
    uvt = _view(inputs["uvt"], [point["uvt"] for point in rated])
    flow = flow_unit.from_si(asked_over("uv/derated-flow", inputs, "uvt", uvt, "derated_flow"))
    symbol, percent = flow_unit.symbol, 100.0 * inputs["uvt"]
    marks = [Mark(percent, answer.derated_flow, f"this water: {spoken(answer.derated_flow, symbol)}")]
    for point in rated:
        dose_unit = unit_for(answer, "dose")
        rated_flow, rated_dose = flow_unit.from_si(point["rated_flow"]), dose_unit.from_si(point["dose"])
        said = f"rated: {spoken(rated_flow, symbol)} at {spoken(rated_dose, dose_unit.symbol)}"
        marks.append(Mark(100.0 * point["uvt"], rated_flow, said, "given"))
    levels: list[Level] = []
    told = ""
    if inputs.get("peak_flow") is not None:
        peak = flow_unit.from_si(inputs["peak_flow"])
        levels.append(Level(peak, f"peak flow {spoken(peak, symbol)}"))
        told = f" The peak flow of {spoken(peak, symbol)} is {'' if answer.covers_peak_flow else 'not '}covered."
    known = np.flatnonzero(np.isfinite(flow))
    ends = ""
    if known.size:
        first, last = int(known[0]), int(known[-1])
        ends = (
            f" The curve runs from {spoken(flow[first], symbol)} at {spoken(100.0 * uvt[first], '%')} UVT "
            f"to {spoken(flow[last], symbol)} at {spoken(100.0 * uvt[last], '%')}."
        )
    return Chart(
        title="Derated flow over UVT",
        description=f"At a UVT of {spoken(percent, '%')} the derated flow is "
        f"{spoken(answer.derated_flow, symbol)}.{told}{ends}",
        x=Axis(_UVT, "%", low=100.0 * uvt[0], high=100.0 * uvt[-1]),
        y=Axis("flow", symbol, low=0.0),
        lines=(Line(100.0 * uvt, flow, "flow that still delivers the target dose"),),
        areas=(Area(100.0 * uvt, np.zeros_like(flow), flow),),
        marks=tuple(marks),
        levels=tuple(levels),
        key=("Calculated, not validated: no certificate and no treatment credit.",),
    )


def _view(asked: float, rated: list[float]) -> Values:
    """Return the UVT of the curve: between two or more rated points, else from well below what was asked to clear."""
    if len(rated) > 1:
        return np.linspace(min(rated), max(rated), _POINTS)
    lowest = math.floor(20.0 * (min(asked, *rated, 0.85) - _NARROWEST_VIEW)) / 20.0
    return np.linspace(max(lowest, 0.01), 1.0, _POINTS)


def dose(answer: DoseAnswer[float]) -> Chart:
    """Dose distribution of mixed tanks, else dose over flow; with mean dose, RED and target."""
    unit = unit_of(answer, "mean_dose", "dose")
    if answer.inputs.get("hydraulics") == "tanks_in_series":
        return _distribution(answer, unit)
    return _dose_over_flow(answer, unit)


def _told(answer: DoseAnswer[float], target: float, symbol: str) -> str:
    red = answer.reduction_equivalent_dose
    named = "RED not known" if red is None else f"RED {spoken(red, symbol)}"
    verdict = {True: "met", False: "missed", None: "not decided: no hydraulics are named"}[answer.meets_target]
    return (
        f"Mean dose {spoken(answer.mean_dose, symbol)}, {named}, target {spoken(target, symbol)}: "
        f"the target is {verdict}."
    )


def _distribution(answer: DoseAnswer[float], unit: Unit) -> Chart:
    """Density of the dose that equal mixed tanks in series give: their gamma distribution of the stay, scaled."""
    tanks, mean, symbol = float(answer.inputs["tanks"]), answer.mean_dose, unit.symbol
    target = unit.from_si(answer.inputs["target_dose"])
    highest = max(mean * (1.0 + 3.0 / math.sqrt(tanks)), 1.15 * target)
    doses = np.linspace(highest / 400.0, highest, 240)
    scaled = tanks * doses / mean
    density = np.exp(math.log(tanks / mean) + (tanks - 1.0) * np.log(scaled) - scaled - math.lgamma(tanks))
    below = np.where(doses <= target, density, np.nan)
    levels = [Level(target, f"target {spoken(target, symbol)}", "x")]
    red = answer.reduction_equivalent_dose
    if red is not None:
        levels.append(Level(red, f"RED {spoken(red, symbol)}", "x", "found"))
    levels.append(Level(mean, f"mean {spoken(mean, symbol)}", "x", "found"))
    return Chart(
        title="Dose distribution, target and RED",
        description=f"{_told(answer, target, symbol)} Some water stays a shorter, some a longer time than the mean: "
        f"the distribution is that of {spoken(tanks)} equal mixed tanks in series.",
        x=Axis("dose", symbol, low=0.0, high=highest),
        y=Axis(f"share of the water per {shown_unit(symbol)}", "%", low=0.0),
        lines=(Line(doses, 100.0 * density, "dose that the water gets"),),
        areas=(Area(doses, np.zeros_like(doses), 100.0 * below, "below the target"),),
        levels=tuple(levels),
        key=(
            "The RED of the organism lies below the mean: water that rushes through decides.",
            "Calculated, not validated: no certificate and no treatment credit.",
        ),
    )


def _dose_over_flow(answer: DoseAnswer[float], unit: Unit) -> Chart:
    inputs, symbol = answer.inputs, unit.symbol
    target = unit.from_si(inputs["target_dose"])
    flow_unit = unit_for(answer, "flow")
    asked: float = inputs["flow"]
    flows = np.linspace(0.4 * asked, 2.0 * asked, _POINTS)
    doses = unit.from_si(asked_over("uv/dose", inputs, "flow", flows, "mean_dose"))
    here = flow_unit.from_si(asked)
    named = inputs.get("hydraulics") == "plug_flow"
    name = "RED = mean dose in plug flow" if named else "mean dose, an upper bound of the RED"
    return Chart(
        title="Dose over flow, against the target",
        description=f"{_told(answer, target, symbol)} The dose falls as the flow rises: "
        f"{spoken(doses[0], symbol)} at {spoken(flow_unit.from_si(flows[0]), flow_unit.symbol)}, "
        f"{spoken(doses[-1], symbol)} at {spoken(flow_unit.from_si(flows[-1]), flow_unit.symbol)}.",
        x=Axis("flow", flow_unit.symbol, low=flow_unit.from_si(flows[0]), high=flow_unit.from_si(flows[-1])),
        y=Axis("dose", symbol, low=0.0),
        lines=(Line(flow_unit.from_si(flows), doses, name),),
        marks=(Mark(here, answer.mean_dose, f"this flow: {spoken(answer.mean_dose, symbol)}"),),
        levels=(Level(target, f"target {spoken(target, symbol)}"),),
        key=("Calculated, not validated: no certificate and no treatment credit.",),
    )
