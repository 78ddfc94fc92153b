"""uv/inactivation, uv/transmittance and uv/idle-heating: published digits, definitions, limits."""

from __future__ import annotations

import re

import numpy as np
import pytest
from scipy import integrate

from assertions import codes
from dosewright.core.water_and_air import standing_water
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables import table

# Half logs 0.5 to 4, mJ/cm2: UV dose table of 40 CFR 141.720(d)(1) as the USEPA guidance manual (2006) prints it.
CREDIT = {
    "cryptosporidium": [1.6, 2.5, 3.9, 5.8, 8.5, 12, 15, 22],
    "giardia_lamblia": [1.5, 2.1, 3.0, 5.2, 7.7, 11, 15, 22],
    "virus": [39, 58, 79, 100, 121, 143, 163, 186],
}


def inactivation(**request):
    return run("uv/inactivation", request)


def faults(path, **request):
    with pytest.raises(RequestRefused) as refusal:
        run(path, request)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}


@pytest.mark.parametrize("organism", sorted(CREDIT))
def test_the_regulatory_table_both_ways(organism):
    for step, amount in enumerate(CREDIT[organism], 1):
        wanted = inactivation(credit_organism=organism, required_credit=str(0.5 * step))
        assert wanted.credit_dose == pytest.approx(amount, rel=1e-12)
        for dose, credit in ((amount, 0.5 * step), (amount * 0.999, 0.5 * (step - 1))):
            told = inactivation(credit_organism=organism, dose=f"{dose!r} mJ/cm2", dose_kind="validated_dose")
            assert told.credit == credit
            assert "credit_conditions" in codes(told)


def test_no_credit_for_a_calculated_dose():
    for kind in ("mean_dose", "reduction_equivalent_dose"):
        told = inactivation(credit_organism="virus", dose="500 mJ/cm2", dose_kind=kind)
        assert told.credit is None
        assert "no_credit_without_validation" in codes(told)
    assert faults("uv/inactivation", credit_organism="virus", required_credit="1.2") == {
        ("/required_credit", "between_rows")
    }


@pytest.mark.parametrize(
    ("organism", "dose", "log"),
    [
        ("adenovirus_5", 40, 1.8),  # Saunders, thesis abstract, found
        ("adenovirus_5", 120, 3.5),
        ("adenovirus_41", 100, 1.1),
        ("adenovirus_40_one_log", 30, 1.0),  # Meng and Gerba (1996), abstract, found
        ("rotavirus_sa11_table", 29, 3.0),  # Opasnet page, found
        ("adenovirus_40_groundwater", 103, 2.0),  # Thurston-Enriquez et al. (2003), abstract, found
        ("feline_calicivirus_groundwater", 13, 2.0),
        ("poliovirus_effluent", 27.51, 4.0),  # Tree, Adams and Lees (2005), abstract, found
        ("hepatitis_a_nuanualsuwan", 36.5, 1.0),  # Photochemistry and Photobiology 76(4), 2002, abstract, found
        ("ms2_coliphage", 40, 2.2),  # 0.055 per mJ/cm2, Hijnen et al. (2006), from memory
    ],
)
def test_dose_responses_both_ways(organism, dose, log):
    told = inactivation(organism=organism, dose=f"{dose} mJ/cm2", required_log_inactivation=str(log))
    assert told.log_inactivation == pytest.approx(log, rel=1e-9)
    assert told.required_dose == pytest.approx(dose, rel=1e-9)


def test_outside_the_data_nothing_is_calculated():
    told = inactivation(organism="adenovirus_5", dose="121 mJ/cm2", required_log_inactivation="3.6")
    assert told.log_inactivation is None
    assert told.required_dose is None
    assert told.data_dose_maximum == 120.0
    assert told.data_log_maximum == 3.5
    assert told.data_status == "found"
    assert "outside_data" in codes(told)
    assert "below_data" in codes(inactivation(organism="adenovirus_5", dose="20 mJ/cm2"))
    assert "value_from_memory" in codes(inactivation(organism="escherichia_coli", dose="5 mJ/cm2"))
    assert "mean_dose_not_red" in codes(
        inactivation(organism="escherichia_coli", dose="5 mJ/cm2", dose_kind="mean_dose")
    )


def test_missing_fields_are_reported():
    path = "uv/inactivation"
    assert faults(path, dose="5 mJ/cm2") == {("/organism", "required")}
    assert faults(path, organism="escherichia_coli") == {("/dose", "required")}
    assert faults(path, credit_organism="virus", required_log_inactivation="2") == {("/organism", "required")}
    assert faults(path, organism="escherichia_coli", required_credit="2") == {("/credit_organism", "required")}


def test_a_constant_from_memory_states_how_much_more_dose_another_study_needed():
    told = 0
    for row in table("uv_organisms").rows:
        for times, logs, other in re.findall(
            r"needed ([0-9.]+) times this dose for (one|two) logs? \((\w+)\)", row["caution"]
        ):
            (found,) = [one for one in table("uv_organisms").rows if one["name"] == other]
            assert float(found["log_inactivation"]) == {"one": 1.0, "two": 2.0}[logs]
            here = float(found["log_inactivation"]) / float(row["rate"])
            assert float(times) == pytest.approx(float(found["dose"]) / here, abs=0.05)
            told += 1
    assert told == 6


def test_each_organism_states_its_source():
    for row in table("uv_organisms").rows:
        assert row["source"]
        assert row["status"] in {"found", "memory"}
        assert (row["form"] == "constant") == bool(row["rate"])
    for name in {row["name"] for row in table("uv_organisms").rows}:
        points = [row for row in table("uv_organisms").rows if row["name"] == name and row["form"] == "points"]
        doses = [float(row["dose"]) for row in points]
        logs = [float(row["log_inactivation"]) for row in points]
        assert doses == sorted(set(doses))
        assert logs == sorted(set(logs))


def test_transmittance_by_definition():
    told = run("uv/transmittance", {"transmittance": "75 %", "path_length": "4 cm", "other_path_length": "4 cm"})
    assert told.uvt == pytest.approx(100.0 * 0.75**0.25, rel=1e-12)
    assert told.transmittance == pytest.approx(75.0, rel=1e-12)
    assert told.absorbance == pytest.approx(-np.log10(0.75), rel=1e-12)
    assert told.absorption_coefficient == pytest.approx(np.log(10.0) * told.absorbance_per_centimetre, rel=1e-12)
    assert "path_not_one_centimetre" in codes(told)
    for request in (
        {"absorbance": str(told.absorbance), "path_length": "4 cm"},
        {"absorption_coefficient": f"{told.absorption_coefficient!r} 1/cm"},
    ):
        assert run("uv/transmittance", request).uvt == pytest.approx(told.uvt, rel=1e-12)


@pytest.mark.parametrize(
    ("uvt", "absorbance", "coefficient"), [(95, 0.02228, 0.05129), (85, 0.07058, 0.16252), (70, 0.15490, 0.35667)]
)
def test_printed_absorbances(uvt, absorbance, coefficient):
    """Five decimals of -log10 and -ln, by any table of logarithms."""
    told = run("uv/transmittance", {"transmittance": f"{uvt} %"})
    assert told.absorbance_per_centimetre == pytest.approx(absorbance, abs=5e-6)
    assert told.absorption_coefficient == pytest.approx(coefficient, abs=5e-6)


def test_transmittance_needs_one_measure():
    assert faults("uv/transmittance") == {("/transmittance", "required")}
    assert faults("uv/transmittance", transmittance="90 %", absorbance="0.1") == {("/absorbance", "more_than_one")}
    assert "insufficient_light" in codes(run("uv/transmittance", {"transmittance": "0.75 %"}))


HEAT = {
    "chamber_bore": "80 mm",
    "sleeve_outer_diameter": "25 mm",
    "chamber_length": "780 mm",
    "lamp_power": "40 W",
    "water_temperature": "10 degC",
    "air_temperature": "20 degC",
}


def test_a_litre_and_40_watts_without_loss():
    """34.4 K in the first hour (calculated for this project from 4,180 J/(kg.K))."""
    rise = standing_water.temperature_after(3600.0, 283.15, 40.0, 0.0, 293.15, 4180.0) - 283.15
    assert rise == pytest.approx(34.4, abs=0.06)
    assert standing_water.final_temperature(40.0, 0.0, 293.15) == np.inf
    assert standing_water.time_to_temperature(293.15, 283.15, 40.0, 0.0, 293.15, 4180.0) == pytest.approx(1045.0)


def test_heating_by_a_solver_of_differential_equations():
    power, loss, air, capacity = 40.0, 1.7, 291.0, 21_000.0
    solved = integrate.solve_ivp(
        lambda _, t: (power - loss * (t - air)) / capacity, (0.0, 20_000.0), [282.0], rtol=1e-10, atol=1e-10
    )
    found = standing_water.temperature_after(20_000.0, 282.0, power, loss, air, capacity)
    assert found == pytest.approx(solved.y[0][-1], rel=1e-9)
    time = standing_water.time_to_temperature(300.0, 282.0, power, loss, air, capacity)
    assert standing_water.temperature_after(time, 282.0, power, loss, air, capacity) == pytest.approx(300.0, rel=1e-12)
    assert np.isnan(standing_water.time_to_temperature(320.0, 282.0, power, loss, air, capacity))
    assert standing_water.time_to_temperature(281.0, 282.0, power, loss, air, capacity) == 0.0


def test_trickle_keeps_the_balance():
    flow = standing_water.trickle_flow(303.15, 283.15, 40.0, 1.5, 293.15, 4.18e6)
    assert flow * 4.18e6 * 20.0 + 1.5 * 10.0 == pytest.approx(40.0)
    assert standing_water.trickle_flow(323.15, 283.15, 40.0, 1.5, 293.15, 4.18e6) == 0.0
    assert np.isnan(standing_water.trickle_flow(283.15, 283.15, 40.0, 1.5, 293.15, 4.18e6))


def test_idle_heating():
    told = run("uv/idle-heating", {**HEAT, "limit_temperature": "30 degC", "standing_time": "8 h"})
    assert told.stays_below_limit is False
    assert 0.0 < told.time_to_limit < 8 * 60
    assert told.trickle_flow > 0.0
    assert told.temperature_after < told.final_temperature
    assert "pressure_drop_above_limit" in codes(told)
    again = run("uv/idle-heating", {**HEAT, "standing_time": f"{told.time_to_limit!r} min"})
    assert again.temperature_after == pytest.approx(30.0, rel=1e-9)
    assert again.time_to_limit is None
    lossless = run("uv/idle-heating", {**HEAT, "heat_transfer_coefficient": "0 W/(m2.K)", "standing_time": "5 d"})
    assert lossless.final_temperature is None
    assert "would_boil" in codes(lossless)
    rise = 40.0 * 3600.0 / (4180.0 * 0.9997 * lossless.volume)
    assert lossless.first_hour_rise == pytest.approx(rise, rel=1e-3)
    assert faults("uv/idle-heating", **{**HEAT, "sleeve_outer_diameter": "80 mm"}) == {
        ("/sleeve_outer_diameter", "chamber_impossible")
    }


def test_rows_equal_single_calls():
    powers = [10.0, 40.0, 90.0]
    rows = run_batch(
        "uv/idle-heating", {**HEAT, "limit_temperature": "35 degC", "lamp_power": {"value": powers, "unit": "W"}}
    )
    for row, power in enumerate(powers):
        one = run("uv/idle-heating", {**HEAT, "limit_temperature": "35 degC", "lamp_power": f"{power} W"})
        for name in ("temperature_after", "final_temperature", "trickle_flow", "time_to_limit"):
            value, found = getattr(one, name), rows[name][row]
            assert found == value or (value is None and found != found)
