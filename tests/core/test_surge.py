"""Water hammer: wave speed and surge against published values, closed forms and limits; its use in pipe/velocity."""

import iapws
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.hydraulics import surge
from dosewright.core.water_and_air import water
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables import table
from dosewright.tables.pipes import pipe_materials

PSI = 6894.757293168362
ASK = {
    "flow": "9 gal/min",
    "material": "copper_type_l",
    "nominal_size": "3/4",
    "length": "40 ft",
    "static_pressure": "60 psi",
}


@pytest.mark.parametrize("celsius", [0.01, 5, 10, 20, 40, 60, 80, 95, 99.6])
def test_speed_of_sound_is_that_of_water(celsius):
    expected = iapws.IAPWS95(T=273.15 + celsius, P=0.101325).w
    assert surge.sound_speed(273.15 + celsius) == pytest.approx(expected, rel=1e-4)


# A maker's table of surges in crosslinked polyethylene pipe at 20 degC: modulus 67,425 psi, and by SDR the wave speed
# in m/s and the rise in psi when 1 m/s is stopped. Its figures are cut, not rounded, and its speed of sound and bulk
# modulus contradict each other: 2 %.
@pytest.mark.parametrize(
    ("ratio", "speed", "rise"),
    [(17, 172, 25), (13.5, 196, 29), (11, 221, 33), (9, 250, 37), (7.3, 286, 42), (6, 327, 48)],
)
def test_published_wave_speed_and_surge(ratio, speed, rise):
    wave = surge.wave_speed(surge.sound_speed(293.15), water.density(293.15), ratio - 2, 1.0, 67425 * PSI)
    assert wave == pytest.approx(speed, rel=0.02)
    assert surge.joukowsky_surge(water.density(293.15), wave, 1.0) / PSI == pytest.approx(rise, rel=0.035)


def test_rule_of_thumb():
    # A stop of 1 ft/s in steel pipe raises the pressure by about 60 psi: rule of thumb (common practice, no source).
    wave = surge.wave_speed(1450.0, 999.7, 0.02664, 0.00338, 207e9)
    assert surge.joukowsky_surge(999.7, wave, 0.3048) / PSI == pytest.approx(60, rel=0.06)


def test_limits():
    assert surge.wave_speed(1450.0, 1000.0, 0.02, 0.001, 1e20) == pytest.approx(1450, rel=1e-9)
    soft = surge.wave_speed(1450.0, 1000.0, 0.02, 0.001, 1e3)
    assert soft == pytest.approx(np.sqrt(1e3 * 0.001 / (1000.0 * 0.02)), rel=1e-5)
    for wrong in ((0.0, 0.001, 1e9), (0.02, 0.0, 1e9), (0.02, 0.001, 0.0)):
        with pytest.raises(ValueError, match="above zero"):
            surge.wave_speed(1450.0, 1000.0, *wrong)
    for cold in (273.0, 374.0):
        with pytest.raises(ValueError, match="temperature"):
            surge.sound_speed(cold)
    with pytest.raises(ValueError, match="wave speed"):
        surge.reflection_time(1.0, 0.0)


@given(st.floats(1e-4, 10.0), st.floats(1e-3, 1.0))
def test_slow_closing_never_adds(closing, reflection):
    rise = surge.closing_surge(1e6, reflection, closing)
    assert 0.0 < rise <= 1e6
    assert (rise == 1e6) == (closing <= reflection)
    assert surge.closing_surge(1e6, reflection, 2 * closing) <= rise


class TestVelocityAnswer:
    def test_by_hand(self):
        given = run("pipe/velocity", {**ASK, "units": "si"})
        density = water.density(283.15)
        wall = 0.045 * 0.0254
        sound = surge.sound_speed(283.15)
        wave = sound / np.sqrt(1 + density * sound**2 * given.bore / (17e6 * PSI * wall))
        assert given.wave_speed == pytest.approx(wave, rel=1e-12)
        assert given.surge_pressure == pytest.approx(density * wave * given.velocity, rel=1e-12)
        assert given.reflection_time == pytest.approx(2 * 40 * 0.3048 / wave, rel=1e-12)
        assert given.peak_pressure == pytest.approx(60 * PSI + given.surge_pressure, rel=1e-12)
        assert given.closing_surge_pressure is None

    def test_quick_and_slow_valves(self):
        quick = run("pipe/velocity", {**ASK, "closing_time": "0.005 s", "pressure_rating": "300 psi"})
        assert quick.closing_surge_pressure == quick.surge_pressure
        assert {"quick_closing_valve", "surge_above_rating"} <= {warning.code for warning in quick.warnings}
        slow = run("pipe/velocity", {**ASK, "closing_time": "1 s", "pressure_rating": "300 psi"})
        assert slow.closing_surge_pressure == pytest.approx(slow.surge_pressure * slow.reflection_time, rel=1e-12)
        assert {warning.code for warning in slow.warnings} == {"noise"}

    def test_soft_pipe_has_less_surge(self):
        rises = [
            run("pipe/velocity", {**ASK, "material": material}).surge_pressure
            / run("pipe/velocity", {**ASK, "material": material}).velocity
            for material in ("steel_schedule_40", "copper_type_l", "pvc_schedule_40", "pex_sdr9")
        ]
        assert rises == sorted(rises, reverse=True)

    def test_a_bore_needs_wall_and_modulus(self):
        bare = {"flow": "9 gal/min", "bore": "20 mm"}
        assert run("pipe/velocity", bare).wave_speed is None
        assert run("pipe/velocity", {**bare, "wall": "1 mm"}).surge_pressure is None
        full = run("pipe/velocity", {**bare, "wall": "1 mm", "elastic_modulus": "117000 MPa"})
        assert full.wave_speed is not None
        assert run("pipe/velocity", {**bare, "wall": "1 mm", "material": "pex_sdr9"}).wave_speed < full.wave_speed

    @pytest.mark.parametrize(
        ("changes", "fault"),
        [
            ({"wall": "1 mm"}, ("/wall", "conflicting_inputs")),
            ({"static_pressure": None, "pressure_rating": "300 psi"}, ("/static_pressure", "required")),
            ({"length": None, "closing_time": "1 s"}, ("/length", "required")),
        ],
    )
    def test_refusals(self, changes, fault):
        with pytest.raises(RequestRefused) as refusal:
            run("pipe/velocity", {name: value for name, value in {**ASK, **changes}.items() if value is not None})
        assert [(one.pointer, one.code) for one in refusal.value.faults] == [fault]

    def test_batch_is_the_single_calls_bit_for_bit(self):
        flows, times = np.linspace(0.5, 90.0, 80).tolist(), np.geomspace(1e-3, 3.0, 80).tolist()
        rest = {"material": "pex_sdr9", "nominal_size": "3/4", "length": 12, "static_pressure": 400, "units": "metric"}
        batch = run_batch("pipe/velocity", {**rest, "flow": flows, "closing_time": times})
        for row, (flow, time) in enumerate(zip(flows, times, strict=True)):
            one = run("pipe/velocity", {**rest, "flow": flow, "closing_time": time})
            for name in ("wave_speed", "surge_pressure", "closing_surge_pressure", "peak_pressure"):
                assert batch[name][row] == getattr(one, name)


def test_tables_contain_the_printed_figures():
    for row in table("pipe_elasticity").rows:
        assert float(row["elastic_modulus"]) == pytest.approx(float(row["printed_modulus"]) * PSI, rel=1e-12)
        assert row["source"], row
        assert row["status"] in {"found", "memory", "computed"}, row
    metres = {"ft/s": 0.3048, "m/s": 1.0}
    for row in table("velocity_effects").rows:
        printed = float(row["printed_velocity"]) * metres[row["printed_unit"]]
        assert float(row["velocity"]) == pytest.approx(printed, rel=1e-12)
    assert float(table("velocity_effects").rows[0]["highest_bore"]) == pytest.approx(
        pipe_materials()["steel_schedule_40"].sizes["2"].bore, rel=1e-3
    )
