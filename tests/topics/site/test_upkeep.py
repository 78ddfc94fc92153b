"""Upkeep: days by hand, whichever comes first, ageing, costs, errors."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run

PLAIN = {"installed": "2026-01-01", "daily_use": "100 L/d", "years": "1"}


def days(request: dict[str, object], task: str) -> list[str]:
    return [event.day for event in run("site/upkeep", request).events if event.task == task]


def test_the_lamp_is_changed_by_days_or_by_hours_whichever_comes_first() -> None:
    by_days = run("site/upkeep", {**PLAIN, "years": "2.1"})
    assert by_days.lamp_due_by == "days"
    assert [event.day for event in by_days.events if event.task == "change_lamp"] == ["2027-01-01", "2028-01-01"]
    by_hours = run("site/upkeep", {**PLAIN, "lamp_life": "4800 h"})  # 4800 h at 24 h a day: 200 days
    assert by_hours.lamp_due_by == "hours"
    assert [event.day for event in by_hours.events if event.task == "change_lamp"] == ["2026-07-20"]


def test_a_lamp_on_for_half_the_day_lasts_twice_as_long_by_hours() -> None:
    half = {**PLAIN, "lamp_life": "2400 h", "lamp_hours_per_day": "12 h"}
    assert days(half, "change_lamp") == ["2026-07-20"]


def test_a_cartridge_is_changed_by_what_comes_first() -> None:
    cartridge = {"kind": "cartridge", "purpose": "sediment", "rated_volume": "10000 L", "interval": "180 d"}
    by_volume = run("site/upkeep", {**PLAIN, "media": [cartridge]})  # 10,000 L at 100 L/d: 100 days
    assert [(e.day, e.due_by_measure) for e in by_volume.events if e.task == "change_sediment"] == [
        ("2026-04-11", "volume"),
        ("2026-07-20", "volume"),
        ("2026-10-28", "volume"),
    ]
    slow = run("site/upkeep", {**PLAIN, "media": [{**cartridge, "rated_volume": "40000 L"}]})
    assert [(e.day, e.due_by_measure) for e in slow.events if e.task == "change_sediment"] == [
        ("2026-06-30", "days"),
        ("2026-12-27", "days"),
    ]


def test_a_cartridge_by_its_pressure_drop() -> None:
    loaded = {
        "kind": "cartridge",
        "purpose": "sediment",
        "clean_pressure_drop": "2 psi",
        "pressure_drop_now": "4 psi",
        "pressure_drop_limit": "12 psi",
        "volume_passed": "1000 L",
    }
    # 2 psi in 1,000 L, so 10 psi in 5,000 L: 50 days at 100 L a day.
    assert days({**PLAIN, "media": [loaded]}, "change_sediment")[0] == "2026-02-20"


def test_carbon_by_bed_volumes() -> None:
    bed = {"kind": "carbon_bed", "bed_volume": "10 L", "bed_volumes": "1000"}
    assert days({**PLAIN, "media": [bed]}, "change_carbon") == ["2026-04-11", "2026-07-20", "2026-10-28"]


@pytest.mark.parametrize(
    ("iron", "interval"), [("0.1 mg/L", 365.0), ("0.15 mg/L", 365.0), ("0.2 mg/L", 180.0), ("0.31 mg/L", 90.0)]
)
def test_more_deposits_need_more_frequent_sleeve_cleaning(iron: str, interval: float) -> None:
    answer = run("site/upkeep", {**PLAIN, "iron": iron, "hardness": "1 gpg", "manganese": "0.01 mg/L"})
    assert answer.sleeve_interval == interval
    assert any(basis.source == "common practice, no source" for basis in answer.basis)
    assert ("fix_first" in {warning.code for warning in answer.warnings}) == (interval == 90.0)


def test_a_missing_test_gives_a_warning() -> None:
    answer = run("site/upkeep", {**PLAIN, "iron": "0.1 mg/L"})
    told = next(warning for warning in answer.warnings if warning.code == "not_tested")
    assert "hardness, manganese" in told.message


def test_the_lamp_ages_to_its_end_factor_at_the_end_of_its_life() -> None:
    aged = {**PLAIN, "lamp_life": "4800 h", "lamp_end_factor": "70 %", "derated_flow": "10 L/min"}
    answer = run("site/upkeep", {**aged, "lamp_ageing_factor": "70 %", "peak_flow": "9.9 L/min"})
    change = next(event for event in answer.events if event.task == "change_lamp")
    assert change.lamp_ageing_factor == pytest.approx(70.0, rel=1e-12)
    assert change.derated_flow == pytest.approx(10.0, rel=1e-12)
    assert change.covers_peak_flow is True
    short = run("site/upkeep", {**aged, "lamp_ageing_factor": "70 %", "peak_flow": "10.1 L/min"})
    assert "peak_flow_not_covered" in {warning.code for warning in short.warnings}


def test_the_yearly_cost_is_the_sum_of_everything_with_a_price() -> None:
    priced = {
        **PLAIN,
        "years": "2",
        "lamp_price": "90",  # changed once a year: on day 365, and on day 730, the last
        "water_test_price": "30",
        "unit_power": "50 W",
        "energy_price": "0.2",
    }
    answer = run("site/upkeep", priced)
    lamps = [event for event in answer.events if event.task == "change_lamp"]
    energy = 0.050 * 24 * 365.25
    assert answer.yearly_energy == pytest.approx(energy, rel=1e-12)
    assert answer.yearly_cost == pytest.approx((len(lamps) * 90 + len(lamps) * 30) / 2 + energy * 0.2, rel=1e-12)
    assert run("site/upkeep", PLAIN).yearly_cost is None


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"derated_flow": "10 L/min"}, "/lamp_ageing_factor"),
        ({"peak_flow": "10 L/min"}, "/derated_flow"),
        ({"media": [{"kind": "cartridge", "purpose": "other"}]}, "/media/0/rated_volume"),
        (
            {"media": [{"kind": "cartridge", "purpose": "other", "pressure_drop_now": "3 psi"}]},
            "/media/0/pressure_drop_now",
        ),
        ({"installed": "2026-02-30"}, "/installed"),
        ({"installed": "yesterday"}, "/installed"),
        ({"installed": 20260101}, "/installed"),
    ],
)
def test_refusals(change: dict[str, object], pointer: str) -> None:
    with pytest.raises(RequestRefused) as refused:
        run("site/upkeep", {**PLAIN, **change})
    assert pointer in {fault.pointer for fault in refused.value.faults}


@given(
    daily=st.floats(10.0, 5000.0),
    years=st.floats(0.5, 6.0),
    interval=st.integers(7, 700),
    installed=st.dates(dt.date(2000, 1, 1), dt.date(2090, 1, 1)),
)
def test_events_are_in_order_within_the_years_and_repeat(
    daily: float, years: float, interval: int, installed: dt.date
) -> None:
    bed = {"kind": "carbon_bed", "bed_volume": "30 L", "bed_volumes": "2000"}
    request = {
        "installed": installed,
        "daily_use": f"{daily!r} L/d",
        "years": years,
        "sleeve_interval": f"{interval} d",
        "media": [bed],
    }
    answer = run("site/upkeep", request)
    found = [dt.date.fromisoformat(event.day) for event in answer.events]
    assert found == sorted(found)
    assert all(installed < day <= installed + dt.timedelta(days=int(years * 365.25)) for day in found)
    cleanings = [dt.date.fromisoformat(day) for day in (e.day for e in answer.events if e.task == "clean_sleeve")]
    assert cleanings == [installed + dt.timedelta(days=interval * (n + 1)) for n in range(len(cleanings))]
    assert all(0.0 < event.lamp_ageing_factor <= 100.0 for event in answer.events)


def test_pressure_drops_that_do_not_rise_contradict_each_other() -> None:
    drops = {"clean_pressure_drop": "4 psi", "pressure_drop_now": "3 psi", "pressure_drop_limit": "10 psi"}
    cartridge = {"kind": "cartridge", "purpose": "sediment", "volume_passed": "4000 gal", **drops}
    with pytest.raises(RequestRefused) as refused:
        run("site/upkeep", {**PLAIN, "media": [cartridge]})
    assert [(one.pointer, one.code) for one in refused.value.faults] == [
        ("/media/0/pressure_drop_now", "not_increasing")
    ]
