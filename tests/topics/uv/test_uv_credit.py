"""With a shoulder or a tail the RED can exceed the mean dose; at most the mean dose is credited."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from assertions import faults
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculations, find
from dosewright.engine.run import run
from dosewright.tables.ultraviolet import organism_response
from dosewright.topics.uv.unit.chamber import field_by_model
from invented_chamber import CHAMBER

SHOULDERS: list[dict[str, Any]] = [
    {"kind": "multi_target", "rate": "0.05 m2/J", "targets": "20"},
    {"kind": "shoulder", "rate": "0.05 m2/J", "shoulder_dose": "30 mJ/cm2"},
    {"kind": "two_groups", "rate": "0.05 m2/J", "resistant_fraction": "0.001", "resistant_rate": "0.001 m2/J"},
]
ORGANISMS = next(one for one in reader_for(find("uv/inactivation").request).fields if one.name == "organism").names
MIXED = [{"hydraulics": "laminar"}, {"hydraulics": "tanks_in_series", "tanks": "4"}]


@pytest.mark.parametrize("response", SHOULDERS, ids=lambda one: one["kind"])
@pytest.mark.parametrize("hydraulics", MIXED, ids=lambda one: one["hydraulics"])
@pytest.mark.parametrize("target", [15, 20, 22, 24, 40, 60])
def test_no_flow_is_above_that_of_the_mean_dose(response: Any, hydraulics: Any, target: int) -> None:
    request = {**CHAMBER, **hydraulics, "dose_response": response, "target_dose": f"{target} mJ/cm2"}
    plug = run("uv/derated-flow", {**CHAMBER, "hydraulics": "plug_flow", "target_dose": f"{target} mJ/cm2"})
    flow = run("uv/derated-flow", request).derated_flow
    assert 0.0 < flow <= plug.derated_flow * (1.0 + 1e-9)
    limits = run("uv/limits", {**request, "flow": "30 L/min"})
    assert limits.highest_flow == pytest.approx(flow, rel=1e-6)
    assert limits.meets_target is bool(limits.highest_flow >= 30.0)
    at_limit = run("uv/dose", {**request, "flow": f"{flow * 1.001!r} L/min"})
    assert at_limit.meets_target is False


@pytest.mark.parametrize("response", SHOULDERS, ids=lambda one: one["kind"])
def test_the_flow_falls_as_the_target_rises(response: Any) -> None:
    flows = [
        run(
            "uv/derated-flow",
            {**CHAMBER, "hydraulics": "laminar", "dose_response": response, "target_dose": f"{target} mJ/cm2"},
        ).derated_flow
        for target in (10, 15, 20, 22, 24, 30, 50)
    ]
    assert flows == sorted(flows, reverse=True)


TWENTY_TARGETS = {"kind": "multi_target", "rate": "0.05 m2/J", "targets": "20"}


@pytest.mark.parametrize("target", [20, 22, 24])
def test_twenty_targets_in_laminar_flow_by_a_fine_sum_over_streamlines(target: int) -> None:
    """Independent computation: 20,000 rings of equal width, survivors and mean counted here, the flow by halving."""
    answered = run(
        "uv/derated-flow",
        {**CHAMBER, "hydraulics": "laminar", "dose_response": TWENTY_TARGETS, "target_dose": f"{target} mJ/cm2"},
    )
    names = ("sleeve_transmittance", "sleeve_wall", "n_water", "n_quartz", "n_air")
    optics: Any = SimpleNamespace(**{name: answered.inputs[name] for name in names}, wall_reflectance=None)
    field = field_by_model("refracted_line", optics, 0.72, 0.78, 0.025, 0.08)
    edges = np.linspace(0.0125, 0.04, 20_001)
    radius = 0.5 * (edges[1:] + edges[:-1])
    # Laminar flow between two cylinders: 1 - x² + (1 - q²) ln x / ln(1/q), of the bore's radius (textbook).
    over, ratio = radius / 0.04, 0.0125 / 0.04
    speed = 1.0 - over**2 + (1.0 - ratio**2) * np.log(over) / np.log(1.0 / ratio)
    ring = np.pi * (edges[1:] ** 2 - edges[:-1] ** 2)
    speed /= np.sum(speed * ring)  # for a flow of 1 m³/s
    shares = speed * ring
    products = np.asarray(field.line(17.0 * 0.8 * 0.85, -100.0 * math.log(0.85), radius)) * 0.78 / speed

    def least_of_both(flow: float) -> float:
        doses = products / flow
        alive = float(np.sum(shares * -np.expm1(20.0 * np.log1p(-np.exp(-0.05 * doses)))))
        red = -math.log(-math.expm1(math.log1p(-alive) / 20.0)) / 0.05 if alive < 1.0 else 0.0
        return min(red, float(np.sum(shares * doses)))

    low, high = 1e-5, 1e-2
    for _ in range(60):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if least_of_both(middle) > 10.0 * target else (low, middle)
    assert answered.derated_flow == pytest.approx(60_000.0 * low, rel=1e-5)
    assert 40.0 < answered.derated_flow < 51.0


FLOORED = {"kind": "first_order", "rate": "2 cm2/mJ", "floor": "0.001"}


@pytest.mark.parametrize("form", [{}, {"kind": "multi_target", "targets": "20"}], ids=["first_order", "multi_target"])
@pytest.mark.parametrize("hydraulics", [{}, *MIXED], ids=["unnamed", "laminar", "tanks"])
@pytest.mark.parametrize(
    ("path", "more"),
    [
        ("uv/derated-flow", {}),
        ("uv/derating-curve", {"uvts": "60, 80, 99 %"}),
        ("uv/limits", {"flow": "20 L/min"}),
    ],
)
def test_a_target_at_the_floor_has_no_flow_and_is_refused(path: str, more: Any, hydraulics: Any, form: Any) -> None:
    """At 40 mJ/cm2 exp(-80) of them survive, with a floor of 0.001: the survival no longer depends on the dose."""
    request = {**CHAMBER, **more, **hydraulics, "target_dose": "40 mJ/cm2", "dose_response": {**FLOORED, **form}}
    assert faults(path, request) == {("/dose_response", "red_undefined")}


def test_a_red_at_the_floor_has_no_value_and_a_warning() -> None:
    request = {**CHAMBER, "flow": "20 L/min", "target_dose": "40 mJ/cm2", "dose_response": FLOORED}
    assert faults("uv/dose", {**request, "hydraulics": "laminar"}) == {("/dose_response", "red_undefined")}
    bare = run("uv/dose", request)
    assert (bare.red_lower_bound, bare.meets_target) == (None, None)
    assert ("red_undefined", "red_lower_bound") in {(warning.code, warning.field) for warning in bare.warnings}


@pytest.mark.parametrize(
    ("path", "more"), [("uv/limits", {"flow": "20 L/min"}), ("uv/derating-curve", {"uvts": "80 %"})]
)
def test_rows_at_the_floor_are_refused_and_the_others_calculated(path: str, more: Any) -> None:
    floored = {**FLOORED, "rate": ["0.3 cm2/mJ", "2 cm2/mJ"]}
    together = run_batch(path, {**CHAMBER, **more, "target_dose": "40 mJ/cm2", "dose_response": floored})
    assert {(fault.pointer, fault.code, *(fault.rows or ())) for fault in together.errors} == {
        ("/dose_response", "red_undefined", 1)
    }
    alone = run(
        path, {**CHAMBER, **more, "target_dose": "40 mJ/cm2", "dose_response": {**FLOORED, "rate": "0.3 cm2/mJ"}}
    )
    name = "highest_flow_lower_bound" if path == "uv/limits" else "flow_lower_bound"
    assert together[name][0] == getattr(alone, name)
    assert np.isnan(together[name][1])


def test_a_red_above_the_mean_dose_is_not_credited() -> None:
    request = {**CHAMBER, "hydraulics": "laminar", "flow": "600 L/min", "dose_response": SHOULDERS[0]}
    given = run("uv/dose", {**request, "target_dose": "1 mJ/cm2"})
    assert given.reduction_equivalent_dose > given.mean_dose
    assert "red_above_mean" in {warning.code for warning in given.warnings}
    between = run("uv/dose", {**request, "target_dose": f"{given.mean_dose * 1.001!r} mJ/cm2"})
    assert between.meets_target is False


@pytest.mark.parametrize("organism", ORGANISMS)
def test_every_organism_has_at_least_the_log_at_the_end_of_its_data(organism: str) -> None:
    given = run("uv/inactivation", {"organism": organism, "dose": "40 mJ/cm2"})
    assert given.log_lower_bound is not None
    if given.log_inactivation is None:
        assert given.log_lower_bound == given.data_log_maximum
        assert "outside_data" in {warning.code for warning in given.warnings}
    elif "below_data" in {warning.code for warning in given.warnings}:
        assert given.log_lower_bound == 0.0
    else:
        assert given.log_lower_bound == given.log_inactivation


@pytest.mark.parametrize("organism", ORGANISMS)
def test_below_the_lowest_published_dose_every_organism_has_a_warning(organism: str) -> None:
    """A straight line from zero dose is not a lower bound: a shoulder would make the inactivation less."""
    known = organism_response(organism)
    below = run("uv/inactivation", {"organism": organism, "dose": f"{0.099 * known.doses[1]!r} mJ/cm2"})
    need = {"organism": organism, "required_log_inactivation": repr(0.99 * known.logs[1])}
    code = "below_data" if known.rate is None else "lowest_dose_unknown"
    for answer, field in ((below, "log_inactivation"), (run("uv/inactivation", need), "required_dose")):
        assert (code, field) in {(warning.code, warning.field) for warning in answer.warnings}
    assert below.log_lower_bound == (0.0 if known.rate is None else below.log_inactivation)
    at_point = run("uv/inactivation", {"organism": organism, "dose": f"{0.1 * known.doses[1]!r} mJ/cm2"})
    assert "below_data" not in {warning.code for warning in at_point.warnings}
    assert at_point.log_lower_bound == pytest.approx(known.logs[1])


RATED = next(one for one in reader_for(find("uv/dose").request).fields if one.name == "organism").names
TAKES_AN_ORGANISM: dict[str, dict[str, Any]] = {
    "uv/dose": {"flow": "20 L/min"},
    "uv/derated-flow": {},
    "uv/derating-curve": {},
    "uv/limits": {"flow": "20 L/min"},
    "uv/uncertainty": {"flow": "20 L/min", "spreads": [{"kind": "standard", "of": "uvt", "uncertainty": "1 %"}]},
}


def test_every_calculation_with_an_organism_is_tested_below() -> None:
    takes = {
        path
        for path, entry in calculations().items()
        if path.startswith("uv/") and "organism" in {field.name for field in reader_for(entry.request).fields}
    }
    assert takes == {*TAKES_AN_ORGANISM, "uv/inactivation"}


@pytest.mark.parametrize("path", TAKES_AN_ORGANISM)
@pytest.mark.parametrize("organism", RATED)
def test_an_organism_with_a_rate_only_gives_a_warning_everywhere(path: str, organism: str) -> None:
    """The source has no lowest dose for any of them. The rate does not include a shoulder below it."""
    request = {**CHAMBER, "target_dose": "20 mJ/cm2", **TAKES_AN_ORGANISM[path]}
    assert organism_response(organism).rate is not None
    for hydraulics in ({}, *MIXED):
        given = run(path, {**request, **hydraulics, "organism": organism})
        warned = {warning.field for warning in given.warnings if warning.code == "lowest_dose_unknown"}
        logs = {"log_inactivation"} if path == "uv/dose" and hydraulics else set()
        assert warned == {"organism"} | logs
    own = run(path, {**request, "inactivation_rate": "0.12 cm2/mJ"})
    assert "lowest_dose_unknown" not in {warning.code for warning in own.warnings}


def test_without_hydraulics_the_limits_are_those_of_unmixed_flow() -> None:
    given = run("uv/limits", {**CHAMBER, "flow": "20 L/min", "target_dose": "20 mJ/cm2"})
    assert given.flow_margin is None
    assert given.optimistic_lowest_uvt < given.lowest_uvt
    assert given.optimistic_lowest_lamp_ageing_factor < given.lowest_lamp_ageing_factor
    assert given.optimistic_lowest_sleeve_fouling_factor < given.lowest_sleeve_fouling_factor
    named = run("uv/limits", {**CHAMBER, "flow": "20 L/min", "target_dose": "20 mJ/cm2", "hydraulics": "plug_flow"})
    assert named.lowest_uvt == given.optimistic_lowest_uvt
    assert named.optimistic_lowest_uvt is None
    assert named.flow_margin == pytest.approx(named.highest_flow - 20.0, rel=1e-12)


@pytest.mark.parametrize(
    ("flow", "limit"), [("0.01 L/min", "never_fails"), ("200 L/min", "at_value"), ("9000 L/min", "fails_immediately")]
)
def test_an_absent_limit_never_or_always_fails(flow: str, limit: str) -> None:
    given = run("uv/limits", {**CHAMBER, "flow": flow, "target_dose": "5 mJ/cm2", "hydraulics": "plug_flow"})
    assert given.uvt_limit == limit
    assert (given.lowest_uvt is None) is (limit != "at_value")
    assert given.lamp_ageing_limit == ("fails_immediately" if limit == "fails_immediately" else "at_value")
    assert given.sleeve_fouling_limit == given.lamp_ageing_limit


def test_without_hydraulics_no_share_of_draws_meets_the_target() -> None:
    spreads = [{"kind": "standard", "of": "uvt", "uncertainty": "1 %"}]
    request = {**CHAMBER, "flow": "20 L/min", "target_dose": "20 mJ/cm2", "spreads": spreads, "draws": 1000}
    assert run("uv/uncertainty", request).target_met_share is None
    assert run("uv/uncertainty", {**request, "hydraulics": "plug_flow"}).target_met_share == pytest.approx(100.0)
