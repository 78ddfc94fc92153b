"""Inputs that look safe and are not: the ultraviolet calculations warn of them or refuse them."""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any

import pytest

from assertions import codes, faults
from dosewright.core.light import dose
from dosewright.core.light.doses import dose_distribution, equivalent_dose, laminar_dose, tank_doses
from dosewright.core.light.survival import DoseResponse
from dosewright.engine.run import run
from dosewright.topics.uv.unit.chamber import field_by_model
from invented_chamber import CHAMBER

DOSE = {**CHAMBER, "flow": "20 L/min", "target_dose": "20 mJ/cm2"}
IDLE = {
    "chamber_bore": "80 mm",
    "sleeve_outer_diameter": "25 mm",
    "chamber_length": "780 mm",
    "lamp_power": "40 W",
    "air_temperature": "18 degC",
    "standing_time": "8 h",
}


def test_electrical_watts_entered_as_light_give_a_warning() -> None:
    # 40 W over 0.72 m is 0.56 W/cm; household high-output lamps give 0.38 W/cm at most.
    assert "output_like_electrical_power" in codes(run("uv/dose", {**DOSE, "uvc_output": "40 W"}))
    assert "output_like_electrical_power" not in codes(run("uv/dose", DOSE))


def test_a_wall_that_reflects_more_than_steel_gives_a_warning() -> None:
    assert "reflectance_above_steel" in codes(run("uv/dose", {**DOSE, "wall_reflectance": "60 %"}))
    assert "reflectance_above_steel" not in codes(run("uv/dose", {**DOSE, "wall_reflectance": "25 %"}))


@pytest.mark.parametrize(("uvt", "bore"), [("98 %", "60 mm"), ("60 %", "200 mm")])
def test_the_plain_line_warns_of_its_error_in_this_chamber(uvt: str, bore: str) -> None:
    request = {**DOSE, "uvt": uvt, "chamber_bore": bore}
    bent = run("uv/dose", request).mean_fluence_rate
    plain = run("uv/dose", {**request, "field_model": "line_source"})
    error = 100.0 * (plain.mean_fluence_rate / bent - 1.0)
    (message,) = (one.message for one in plain.warnings if one.code == "line_source_error")
    assert ("too high" if error > 0.0 else "too low") in message
    low, high = (float(size) for size in re.findall(r"([0-9.]+) to ([0-9.]+) %", message)[0])
    assert low <= abs(error) <= high == low + 2.0


def test_residence_times_of_another_flow_give_no_verdict() -> None:
    stay = run("uv/dose", DOSE).residence_time
    times: dict[str, Any] = {"hydraulics": "residence_times", "inactivation_rate": "0.02 m2/J"}
    times |= {"residence_shares": "0.5, 0.5", "target_dose": "1 mJ/cm2"}
    fits = run("uv/dose", {**DOSE, **times, "residence_times": f"{0.9 * stay!r}, {1.1 * stay!r} s"})
    assert fits.meets_target is True
    other = run("uv/dose", {**DOSE, **times, "residence_times": f"{1.8 * stay!r}, {2.2 * stay!r} s"})
    assert other.meets_target is None
    assert "no_verdict" in codes(other)


def test_water_above_the_limit_from_the_start_gives_a_warning() -> None:
    given = run("uv/idle-heating", {**IDLE, "water_temperature": "35 degC", "limit_temperature": "30 degC"})
    assert given.stays_below_limit is False
    assert given.time_to_limit == 0.0
    assert "starts_above_limit" in codes(given)


def test_too_few_draws_for_the_coverage_are_refused() -> None:
    spreads = [{"kind": "standard", "of": "uvt", "uncertainty": "1 %"}]
    request = {**DOSE, "spreads": spreads, "draws": "200", "coverage": "99.9 %"}
    assert faults("uv/uncertainty", request) == {("/draws", "too_few_draws")}
    assert run("uv/uncertainty", {**request, "draws": "4000"}).mean_dose.low > 0.0


@pytest.mark.parametrize("uvt", [0.02, 0.3, 0.85])
@pytest.mark.parametrize("bore", [0.05, 0.3])
def test_the_lowest_dose_includes_places_between_the_streamlines(uvt: float, bore: float) -> None:
    """Against 1,500 streamlines; the lowest of 64 nodes was up to 6 % too high in dark water and wide chambers."""
    optics = SimpleNamespace(sleeve_transmittance=0.9, sleeve_wall=0.0015, n_air=1.0003, n_quartz=1.5055)
    optics.n_water, optics.wall_reflectance, optics.opaque_ends = 1.3757, None, False
    field = field_by_model("refracted_line", optics, 0.7, 0.75, 0.025, bore)
    absorption = dose.absorption_coefficient(uvt, 0.01)
    fine, _ = dose_distribution.streamline_dose_flows(field, 1.0, absorption, 1500)
    (least,) = dose_distribution.least_dose_flow(field, 1.0, absorption)
    assert least == pytest.approx(float(fine.min()), rel=3e-5)
    assert least <= fine.min() * (1.0 + 1e-9)


@pytest.mark.parametrize("targets", [2.0, 20.0, 1000.0])
@pytest.mark.parametrize("tanks", [1.0, 4.0, 50.0])
def test_many_targets_in_tanks_have_the_stated_accuracy(targets: float, tanks: float) -> None:
    response = DoseResponse("multi_target", 0.05, targets=targets)
    for mean in (100.0, 1000.0, 3000.0):
        fine = equivalent_dose.reduction_equivalent_dose(dose_distribution.in_tanks(mean, tanks, 8192), response)
        red = tank_doses.reduction_equivalent_dose(mean, response, tanks)
        assert float(red) == pytest.approx(float(fine[0]), rel=1e-5)


@pytest.mark.parametrize("bore", [0.08, 0.2])
@pytest.mark.parametrize("uvt", [0.3, 0.9])
def test_more_reflection_never_lowers_the_red(bore: float, uvt: float) -> None:
    response = DoseResponse("first_order", 0.05)
    absorption = dose.absorption_coefficient(uvt, 0.01)
    reds = []
    for reflectance in (0.0, 1e-3, 0.05, 0.2, 0.3, 0.6, 0.9):
        optics = SimpleNamespace(sleeve_transmittance=0.9, sleeve_wall=0.0015, n_air=1.0003, n_quartz=1.5055)
        optics.n_water, optics.wall_reflectance, optics.opaque_ends = 1.3757, reflectance, False
        field = field_by_model("refracted_line", optics, 0.7, 0.75, 0.025, bore)
        reds.append(float(laminar_dose.laminar_dose(field, 15.0, absorption, 2e-4, response)[0]))
    assert reds == sorted(reds)


@pytest.mark.parametrize("organism", [{}, {"inactivation_rate": "0.12 cm2/mJ"}])
@pytest.mark.parametrize("uvts", [(75, 85, 95), tuple(range(70, 97))])
def test_a_curve_without_hydraulics_has_lower_bounds_and_no_head_room(
    organism: dict[str, str], uvts: tuple[int, ...]
) -> None:
    chamber = {name: value for name, value in DOSE.items() if name not in {"flow", "hydraulics", "water_temperature"}}
    base = {**chamber, **organism, "target_dose": "40 mJ/cm2", "peak_flow": "5 L/min", "units": "si"}
    extra = {"sleeve_fouling_factors": "70, 100 %", "lamp_hours": "0, 9000 h"}
    life = {"end_of_life": "9000 h", "end_of_life_factor": "80 %"}
    uvt_text = ", ".join(map(str, uvts)) + " %"
    curve = run("uv/derating-curve", {**base, "uvts": uvt_text, **extra, **life})
    assert "plan_by_lower_bound" in codes(curve)
    for point in [*curve.by_uvt, *curve.by_lamp_hours, *curve.by_fouling]:
        assert point.flow_margin is None
        assert 0.0 < point.flow_lower_bound < point.derated_flow
        conditions = {name: getattr(point, name) for name in ("uvt", "lamp_ageing_factor", "sleeve_fouling_factor")}
        plain = {name: value for name, value in base.items() if name != "peak_flow"}
        alone = run("uv/limits", {**plain, **conditions, "flow": "5 L/min"})
        assert point.flow_lower_bound == pytest.approx(alone.highest_flow_lower_bound, rel=1e-6)
    bounds = [point.flow_lower_bound for point in curve.by_uvt]
    assert bounds == sorted(bounds)
    named = run("uv/derating-curve", {**base, "uvts": uvt_text, "hydraulics": "plug_flow"})
    assert named.flow_lower_bound is None
    assert all(point.flow_margin is not None for point in named.by_uvt)
