"""The output factor while warming up or in cold water: every calculation applies it once."""

from __future__ import annotations

import pytest

from dosewright.engine.run import run
from requests_uv_curves import CABIN

FLOW = {"flow": "12 L/min"}
SPREAD = {"spreads": [{"kind": "standard", "of": "uvc_output", "uncertainty": "2 %"}], "draws": "100"}


@pytest.mark.parametrize(
    ("path", "extra", "field"),
    [
        ("uv/dose", FLOW, "mean_dose"),
        ("uv/derated-flow", {}, "derated_flow"),
        ("uv/derating-curve", {}, "derated_flow"),
        ("uv/limits", FLOW, "highest_flow"),
        ("uv/field-models", {}, "mean_fluence_rate"),
        ("uv/fluence-map", {}, "mean_fluence_rate"),
        ("uv/uncertainty", {**FLOW, **SPREAD}, "mean_dose.value"),
    ],
)
@pytest.mark.parametrize("hydraulics", [{}, {"hydraulics": "laminar", "inactivation_rate": "0.1 cm2/mJ"}])
def test_it_multiplies_once(path, extra, field, hydraulics):
    passage = {} if path in {"uv/field-models", "uv/fluence-map"} else hydraulics

    def found(**changed):
        value = run(path, {**CABIN, **extra, **passage, **changed})
        for part in field.split("."):
            value = getattr(value, part)
        return value

    assert found(output_factor="60 %") == pytest.approx(0.6 * found(), rel=1e-8)


def test_it_is_a_step_of_a_rated_point():
    point = {
        "rated_flow": "45 L/min",
        "uvt": "95 %",
        "dose": "40 mJ/cm2",
        "lamp_ageing_factor": "80 %",
        "sleeve_fouling_factor": "100 %",
    }
    cold = run("uv/derated-flow", {**CABIN, "rated_points": [point], "output_factor": "70 %"})
    warm = run("uv/derated-flow", {**CABIN, "rated_points": [point]})
    assert cold.derated_flow == pytest.approx(0.7 * warm.derated_flow, rel=1e-12)
    assert [step.factor for step in cold.steps if step.name == "output"] == [0.7]


@pytest.mark.parametrize("path", ["uv/dose", "uv/derated-flow", "uv/limits", "uv/fluence-map"])
def test_basis_states_that_no_relation_to_water_temperature_is_built_in(path):
    flow = FLOW if path in {"uv/dose", "uv/limits"} else {}
    (lamp,) = [basis for basis in run(path, {**CABIN, **flow}).basis if basis.method.startswith("lamp output")]
    assert "no relation to water temperature or time since switching on is built in" in lamp.method
    assert "its maker's curve" in lamp.validity
    if flow and path == "uv/dose":
        warm, cold = (run(path, {**CABIN, **flow, "water_temperature": at}) for at in ("25 degC", "5 degC"))
        assert warm.mean_dose == cold.mean_dose
