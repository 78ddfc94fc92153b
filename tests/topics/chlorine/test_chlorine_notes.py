"""What chlorine/shock refuses, warns of and cautions against."""

import pytest

from assertions import codes
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run

# An invented homestead.
WHOLE = {
    "vessels": [
        {"kind": "drilled_casing", "diameter": "150 mm", "well_depth": "52 m", "water_level": "14 m"},
        {"kind": "water_heater", "volume": "190 L"},
    ],
    "product": {"kind": "liquid", "sodium_hypochlorite": "6 %", "density": "1.08 kg/L"},
    "free_chlorine": "100 mg/L",
    "chlorine_demand": "4 mg/L",
    "ph": "7.3",
    "water_temperature": "8 degC",
}


def ask(**changes):
    return run("chlorine/shock", {**WHOLE, **changes})


def faults(**changes):
    with pytest.raises(RequestRefused) as refusal:
        ask(**changes)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"vessels": []}, {("/vessels", "out_of_range")}),
        ({"vessels": [{"kind": "casing", "diameter": "6 in"}]}, {("/vessels/0/kind", "unknown_choice")}),
        (
            {"vessels": [{"kind": "drilled_casing", "diameter": "6 in"}]},
            {("/vessels/0/water_column", "required")},
        ),
        (
            {"vessels": [{"kind": "drilled_casing", "diameter": "6 in", "well_depth": "30 m"}]},
            {("/vessels/0/water_level", "required")},
        ),
        (
            {"vessels": [{"kind": "dug_well", "diameter": "1 m", "well_depth": "5 m", "water_level": "5 m"}]},
            {("/vessels/0/water_level", "contradiction")},
        ),
        (
            {"vessels": [{"kind": "dug_well", "diameter": "1 m", "water_column": "2 m", "water_level": "5 m"}]},
            {("/vessels/0/water_column", "too_many")},
        ),
        (
            {"vessels": [{"kind": "pipe", "length": "3 m", "bore": "20 mm", "material": "pex_sdr9"}]},
            {("/vessels/0/bore", "too_many")},
        ),
        ({"vessels": [{"kind": "pipe", "length": "3 m"}]}, {("/vessels/0/bore", "required")}),
        (
            {"vessels": [{"kind": "pipe", "length": "3 m", "material": "pex_sdr9"}]},
            {("/vessels/0/nominal_size", "required")},
        ),
        (
            {"vessels": [{"kind": "pipe", "length": "3 m", "nominal_size": "3/4"}]},
            {("/vessels/0/material", "required")},
        ),
        (
            {"vessels": [{"kind": "pipe", "length": "3 m", "material": "copper_type_l", "nominal_size": "3/8"}]},
            {("/vessels/0/nominal_size", "size_not_listed")},
        ),
        (
            {"vessels": [{"kind": "water_heater", "volume": "40 gal/min"}]},
            {("/vessels/0/volume", "unit_wrong_dimension")},
        ),
        ({"product": {"kind": "liquid"}}, {("/product/sodium_hypochlorite", "required")}),
        (
            {"product": {"kind": "liquid", "sodium_hypochlorite": "6 %", "trade_strength": "6 %"}},
            {("/product/trade_strength", "too_many")},
        ),
        ({"product": {"kind": "liquid", "sodium_hypochlorite": "12.5 %"}}, {("/product/density", "required")}),
        ({"product": {"kind": "granules"}}, {("/product/available_chlorine", "required")}),
        ({"product": {"kind": "listed", "name": "household_bleach"}}, {("/product/name", "unknown_choice")}),
        ({"rule": "mil_hdbk_1164", "free_chlorine": "99 mg/L"}, {("/free_chlorine", "below_rule")}),
        ({"rule": "none", "free_chlorine": None}, {("/free_chlorine", "required")}),
        ({"ph": "15"}, {("/ph", "out_of_range")}),
        ({"free_chlorin": "100 mg/L"}, {("/free_chlorin", "unknown_field")}),
        (
            {
                "product": {"kind": "liquid"},
                "vessels": [{"kind": "pipe", "length": "3 m"}],
                "free_chlorine": "9 mg/L",
                "rule": "ontario_903",
            },
            {
                ("/product/sodium_hypochlorite", "required"),
                ("/vessels/0/bore", "required"),
                ("/free_chlorine", "below_rule"),
            },
        ),
    ],
)
def test_errors_point_at_the_field(changes, expected):
    assert faults(**changes) == expected


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"ph": None}, "ph_not_given"),
        ({"ph": "8.2"}, "ph_high"),
        ({"ph": "5.5"}, "ph_low"),
        ({"water_temperature": "3 degC"}, "speciation_out_of_range"),
        ({"ph": "4.8"}, "speciation_out_of_range"),
        ({"chlorine_demand": "0 mg/L"}, "demand_not_included"),
        ({"product": {"kind": "liquid", "sodium_hypochlorite": "6 %"}}, "density_assumed"),
        ({"vessels": [{"kind": "pressure_tank", "volume": "40 gal"}]}, "tank_assumed_full"),
        ({"free_chlorine": "250 mg/L"}, "high_concentration"),
        ({"rule": "ontario_903", "free_chlorine": "205 mg/L"}, "over_rule_maximum"),
        ({"rule": "awwa_c654"}, "rule_from_memory"),
        ({"rule": "maryland_26_04_04_24"}, "hold_time_assumed"),
        ({"rule": "none"}, "hold_time_assumed"),
        ({"hold_time": "6 h"}, "hold_time_below_rule"),
        ({"rule": "montana_36_21_662"}, "end_concentration_unmeasured"),
        ({"rule": "montana_36_21_662", "residual": "20 mg/L"}, "end_concentration_missed"),
        ({"neutraliser": "sodium_thiosulfate"}, "neutraliser_uncertain"),
    ],
)
def test_each_warning_appears_only_when_it_applies(changes, code):
    assert code not in codes(ask())
    assert code in codes(ask(**changes))


def test_one_measure_over_the_maximum_is_enough_for_the_warning():
    # 1.97 mL of product: 2 mL and 1/2 teaspoon (2.46 mL) straddle the rule's 200 mg/L.
    given = ask(
        vessels=[{"kind": "plain_volume", "volume": "1 L"}],
        product={"kind": "liquid", "trade_strength": "10 %"},
        rule="ontario_903",
        free_chlorine="197 mg/L",
        chlorine_demand="0 mg/L",
    )
    doses = {amount.system: amount.dose for amount in given.measures}
    assert doses["metric"] == pytest.approx(200, rel=1e-9)
    assert doses["us_kitchen"] > 200
    assert "over_rule_maximum" in codes(given)


def test_cautions_are_in_every_answer():
    wanted = {
        "chlorine_mixing",
        "chlorine_acid",
        "chlorine_ammonia",
        "chlorine_other_hypochlorites",
        "chlorine_organics",
        "chlorine_cyanurates",
        "chlorine_handling",
        "chlorine_ventilation",
        "water_heater_hot",
        "well_gas_and_pressure",
        "chlorine_drinking",
        "carbon_filter_bypass",
        "membrane_bypass",
        "softener_resin",
        "residual_metals_taste",
        "dialysis",
        "aquaria",
        "septic_load",
        "surface_water_discharge",
        "reducing_agents",
        "mains_near_water",
        "well_authority",
        "local_rules",
    }
    liquid = {caution.code for caution in ask().cautions}
    granules = {caution.code for caution in ask(product={"kind": "listed", "name": "calcium_hypochlorite_65"}).cautions}
    assert liquid == wanted
    assert granules == wanted | {"chlorine_granules"}
    cold = ask(vessels=[{"kind": "plain_volume", "volume": "200 L"}])
    assert {caution.code for caution in cold.cautions} == wanted - {"water_heater_hot"}
