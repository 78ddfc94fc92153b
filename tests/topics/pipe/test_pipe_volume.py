"""pipe/volume: contents by hand, flush water and time, properties and refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.hydraulics import vessels
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run

VOLUME = "pipe/volume"
EXAMPLE = dict(find(VOLUME).example)


def held(*vessels, **changes):
    return run(VOLUME, {"vessels": list(vessels), **changes})


def test_by_hand():
    given = run(VOLUME, EXAMPLE)
    copper = np.pi / 4 * (0.785 * 0.0254) ** 2 * 60 * 0.3048 * 1000
    pex = np.pi / 4 * (0.485 * 0.0254) ** 2 * 25 * 0.3048 * 1000
    assert [one.volume for one in given.vessels] == pytest.approx([copper, 1.5, pex], rel=1e-12)
    assert given.volume == pytest.approx(copper + 1.5 + pex, rel=1e-12)
    assert given.flush_volume == pytest.approx(3 * given.volume, rel=1e-14)
    assert given.flush_time == pytest.approx(given.flush_volume / (2.5 * 3.785411784), rel=1e-12)
    assert given.transit_time == pytest.approx(given.flush_time / 3, rel=1e-12)
    assert given.remaining_if_mixed == pytest.approx(100 * np.exp(-3), rel=1e-13)


@pytest.mark.parametrize(
    ("size", "gallons"),
    # Gallons per 100 ft from the bore alone: 0.0408 d² gallons a foot, the trade's rule (common practice, no source).
    [("1/2", 0.545), ("3/4", 0.785), ("1", 1.025)],
)
def test_rule_of_the_trade(size, gallons):
    bore = gallons  # the table's bore in inches
    pipe = {"kind": "pipe", "length": "100 ft", "material": "copper_type_l", "nominal_size": size}
    assert held(pipe, units="us").volume == pytest.approx(100 * 0.0408 * bore**2, rel=1e-3)


@given(st.floats(5.0, 100.0), st.floats(0.1, 200.0), st.floats(0.1, 20.0))
def test_scaling(bore, length, exchanges):
    def at(bore, length, exchanges):
        pipe = {"kind": "pipe", "bore": f"{bore!r} mm", "length": f"{length!r} m"}
        return held(pipe, volume_changes=repr(exchanges), flow="10 L/min")

    here = at(bore, length, exchanges)
    assert at(2 * bore, length, exchanges).volume == pytest.approx(4 * here.volume, rel=1e-12)
    assert at(bore, 2 * length, exchanges).flush_time == pytest.approx(2 * here.flush_time, rel=1e-12)
    assert at(bore, length, 2 * exchanges).remaining_if_mixed < here.remaining_if_mixed
    assert at(bore, length, 2 * exchanges).transit_time == here.transit_time


def test_tanks_mix():
    tank = {"kind": "pressure_tank", "volume": "80 L", "fill": "40 %"}
    assert "tank_mixes" in {warning.code for warning in held(tank).warnings}
    assert held(tank, volume_changes="3").warnings == []  # no pipe, so no flow is required
    assert held(tank).volume == pytest.approx(32, rel=1e-14)
    assert held(tank).flush_time is None


def test_refusals():
    with pytest.raises(RequestRefused) as refusal:
        held({"kind": "pipe", "length": "3 m"})
    assert [(fault.pointer, fault.code) for fault in refusal.value.faults] == [("/vessels/0/bore", "required")]


def test_batch_is_the_single_calls_bit_for_bit():
    lengths, exchanges = np.linspace(0.5, 60.0, 70).tolist(), np.linspace(0.2, 9.0, 70).tolist()

    def asked(length, exchange):
        pipe = {"kind": "pipe", "length": length, "material": "pex_sdr9", "nominal_size": "3/4"}
        return {
            "vessels": [pipe, {"kind": "filter_housing", "volume": 1.5}],
            "volume_changes": exchange,
            "units": "metric",
        }

    batch = run_batch(VOLUME, asked(lengths, exchanges))
    for row, values in enumerate(zip(lengths, exchanges, strict=True)):
        one = run(VOLUME, asked(*values))
        for name in ("volume", "flush_volume", "remaining_if_mixed"):
            assert batch[name][row] == getattr(one, name)


def test_one_volume_of_laminar_flow_leaves_a_quarter_of_the_old_water():
    pipe = {"kind": "pipe", "length": "60 m", "bore": "40 mm"}
    slow = run("pipe/volume", {"vessels": [pipe], "flow": "3 L/min"})
    assert slow.remaining_if_laminar == pytest.approx(25.0, rel=1e-12)
    assert "laminar_flush" in {warning.code for warning in slow.warnings}
    fast = run("pipe/volume", {"vessels": [pipe], "flow": "30 L/min"})
    assert "laminar_flush" not in {warning.code for warning in fast.warnings}


@pytest.mark.parametrize(("volume_changes", "says"), [("1", True), ("3", True), ("4.9", True), ("5.1", False)])
def test_without_a_flow_the_flush_is_assumed_laminar(volume_changes, says):
    """A parabolic profile leaves 1 / (4 n) of the old water: below 5 % from five volumes on (Hagen-Poiseuille flow)."""
    pipe = {"kind": "pipe", "length": "60 m", "bore": "40 mm"}
    given = held(pipe, volume_changes=volume_changes)
    assert ("flow_not_given" in {warning.code for warning in given.warnings}) is says
    assert given.remaining_if_laminar == pytest.approx(25.0 / float(volume_changes), rel=1e-12)
    assert "flow_not_given" not in {w.code for w in held(pipe, volume_changes=volume_changes, flow="3 L/min").warnings}


@pytest.mark.parametrize("volume_changes", [0.2, 0.7, 1.0, 3.0])
def test_old_water_after_laminar_flow_against_streamlines(volume_changes):
    """Independent route: each streamline of the parabolic profile is new up to the distance of its water."""
    radius = (np.arange(200_000) + 0.5) / 200_000
    come = np.minimum(2.0 * (1.0 - radius**2) * volume_changes, 1.0)
    left = 1.0 - np.sum(come * 2.0 * radius) / len(radius)
    assert vessels.left_in_laminar_pipe(volume_changes) == pytest.approx(left, abs=1e-5)
