"""chlorine/shock : published values, properties, errors, warnings."""

import json
import re
from typing import get_args
from urllib.parse import parse_qsl, urlsplit

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from dosewright.quantities import KINDS
from dosewright.tables import checks
from dosewright.tables.chlorination import chlorination_rules, chlorine_limit, neutralisers, products
from dosewright.topics.chlorine.contracts.hold_rules import ChlorinationRuleName
from dosewright.topics.chlorine.contracts.shock import NeutraliserName, ProductName

PATH = "chlorine/shock"
BLEACH = {"kind": "liquid", "sodium_hypochlorite": "6 %", "density": "1.08 kg/L"}
# An invented homestead.
VESSELS = [
    {"kind": "drilled_casing", "diameter": "150 mm", "well_depth": "52 m", "water_level": "14 m"},
    {"kind": "dug_well", "diameter": "1.2 m", "water_column": "2.5 m"},
    {"kind": "pressure_tank", "volume": "160 L", "fill": "35 %"},
    {"kind": "water_heater", "volume": "190 L"},
    {"kind": "filter_housing", "volume": "1.6 L"},
    {"kind": "chamber", "chamber_bore": "89 mm", "sleeve_outer_diameter": "23 mm", "chamber_length": "900 mm"},
    {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "40 m"},
    {"kind": "pipe", "bore": "13 mm", "length": "25 m"},
    {"kind": "plain_volume", "volume": "75 L"},
]
WHOLE = {
    "vessels": VESSELS,
    "product": BLEACH,
    "free_chlorine": "100 mg/L",
    "chlorine_demand": "4 mg/L",
    "ph": "7.3",
    "water_temperature": "8 degC",
}


def ask(**changes):
    return run(PATH, {**WHOLE, **changes})


def field_of(given, path):
    for part in path.split("."):
        given = given[int(part)] if part.isdigit() else getattr(given, part)
    return given


@pytest.mark.parametrize("row", checks("chlorine"), ids=lambda row: row["id"])
def test_published_value(row):
    request = json.loads(row["inputs"])
    request["answer_units"] = {re.sub(r"\.\d+\.", ".", row["field"]): row["unit"]}
    value = field_of(run(row["target"], request), row["field"])
    assert abs(value - float(row["published"])) <= float(row["tolerance"])


def test_check_rows_name_source_status_and_basis():
    for row in checks("chlorine"):
        assert row["source"], row["id"]
        assert row["tolerance_basis"], row["id"]
        assert row["status"] in {"found", "memory", "computed"}, row["id"]


def test_names_in_the_contract_are_those_of_the_tables():
    assert get_args(ChlorinationRuleName) == (*chlorination_rules(), "none")
    assert get_args(ProductName) == tuple(products())
    assert get_args(NeutraliserName) == tuple(neutralisers())
    assert ask().inputs["flush_residual"] == chlorine_limit("maximum_residual")[0]


def test_each_vessel_by_hand():
    volumes = [vessel.volume for vessel in ask().vessels]
    quarter = np.pi / 4
    copper = 0.875 - 2 * 0.045  # in, ASTM B88 type L, 3/4
    assert volumes == pytest.approx(
        [
            quarter * 1.5**2 * 380,
            quarter * 12**2 * 25,
            160 * 0.35,
            190,
            1.6,
            quarter * (0.89**2 - 0.23**2) * 9,
            quarter * (copper * 0.254) ** 2 * 400,
            quarter * 0.13**2 * 250,
            75,
        ],
        rel=1e-12,
    )


def test_chlorine_added_is_target_plus_demand():
    given = ask()
    strength = 0.06 * 1.08e6 * 70.90 / 74.439  # mg/L
    assert given.volume == pytest.approx(sum(vessel.volume for vessel in given.vessels), rel=1e-14)
    assert given.dose == pytest.approx(104, rel=1e-14)
    assert given.product_volume / 1000 * strength == pytest.approx(given.volume * 104, rel=1e-12)
    assert given.product_mass == pytest.approx(given.product_volume * 1.08, rel=1e-12)
    assert given.available_chlorine_mass == pytest.approx(given.volume * 0.104, rel=1e-12)
    for amount in given.measures:
        assert amount.product_volume >= given.product_volume
        assert amount.dose == pytest.approx(amount.product_volume / 1000 * strength / given.volume, rel=1e-12)
        assert amount.free_chlorine == pytest.approx(amount.dose - 4, rel=1e-12)
        assert 100 <= amount.free_chlorine < 111


def test_strengths_by_weight_and_by_trade_percent_agree():
    by_weight = ask()
    by_trade = ask(product={"kind": "liquid", "trade_strength": f"{by_weight.trade_strength!r} %"})
    by_chlorine = ask(
        product={
            "kind": "liquid",
            "available_chlorine": f"{by_weight.available_chlorine!r} %",
            "density": "1.08 kg/L",
        }
    )
    for other in (by_trade, by_chlorine):
        assert other.product_volume == pytest.approx(by_weight.product_volume, rel=1e-12)
    assert by_trade.product_mass is None
    assert by_trade.available_chlorine is None
    assert "density_assumed" not in codes(by_trade)


def test_an_assumed_density_is_near_the_label_and_gives_a_warning():
    given = ask(product={"kind": "liquid", "sodium_hypochlorite": "6 %"})
    assert given.product_density == pytest.approx(1.081, rel=0.01)
    assert "density_assumed" in codes(given)
    assert ask(product={"kind": "listed", "name": "household_bleach_6"}).product_volume == given.product_volume


def in_si(given):
    """Every number of an answer in SI, by its path."""
    found = {}

    def walk(value, path):
        if isinstance(value, dict):
            for name, inner in value.items():
                walk(inner, f"{path}.{name}" if path else name)
        elif isinstance(value, list):
            for index, inner in enumerate(value):
                walk(inner, f"{path}.{index}")
        elif isinstance(value, float):
            symbol = given.units.get(re.sub(r"\.\d+", "", path), "")
            unit = next((kind.lookup[symbol] for kind in KINDS.values() if symbol in kind.lookup), None)
            found[path] = unit.to_si(value) if symbol and unit else value

    walk(msgspec.to_builtins(given) | {"inputs": {}, "units": {}}, "")
    return found


@pytest.mark.parametrize("profile", ["us", "si"])
def test_one_question_in_other_units_has_the_same_answer(profile):
    def bare(si, kind):
        return KINDS[kind].profiles[profile].from_si(si)

    request = {
        "units": profile,
        "vessels": [
            {"kind": "drilled_casing", "diameter": bare(0.15, "small_length"), "water_column": bare(38.0, "length")},
            {"kind": "water_heater", "volume": bare(0.19, "volume")},
        ],
        "product": {
            "kind": "liquid",
            "sodium_hypochlorite": bare(0.06, "share"),
            "density": bare(1080.0, "density"),
        },
        "free_chlorine": bare(0.1, "concentration"),
        "chlorine_demand": bare(0.004, "concentration"),
        "ph": 7.3,
        "water_temperature": bare(281.15, "temperature"),
        "residual": bare(0.06, "concentration"),
        "hold_time": bare(90000.0, "time"),
    }
    metric = ask(
        vessels=[
            {"kind": "drilled_casing", "diameter": "150 mm", "water_column": "38 m"},
            {"kind": "water_heater", "volume": "190 L"},
        ],
        residual="60 mg/L",
        hold_time="25 h",
    )
    other, expected = in_si(run(PATH, request)), in_si(metric)
    assert other.keys() == expected.keys()
    assert len(expected) > 40
    for path, value in expected.items():
        assert other[path] == pytest.approx(value, rel=1e-12), path


@given(st.floats(1.0, 1e4), st.floats(1.01, 50.0))
def test_amounts_are_linear_in_volume(litres, factor):
    def at(volume):
        return ask(vessels=[{"kind": "plain_volume", "volume": f"{volume!r} L"}], residual="40 mg/L")

    one, more = at(litres), at(litres * factor)
    for name in ("volume", "product_volume", "product_mass", "available_chlorine_mass", "flush_volume"):
        assert getattr(more, name) == pytest.approx(factor * getattr(one, name), rel=1e-11), name
    assert more.neutraliser.mass == pytest.approx(factor * one.neutraliser.mass, rel=1e-11)
    for name in ("dose", "hold_time", "ct_achieved", "hypochlorous_acid_share"):
        assert getattr(more, name) == getattr(one, name), name


@given(st.permutations(range(len(VESSELS))))
@settings(max_examples=25)
def test_the_order_of_the_vessels_changes_only_their_order(order):
    plain, turned = ask(), ask(vessels=[VESSELS[index] for index in order])
    assert [turned.vessels[place].volume for place in range(len(order))] == [plain.vessels[i].volume for i in order]
    assert turned.product_volume == pytest.approx(plain.product_volume, rel=1e-12)
    assert [amount.measure for amount in turned.measures] == [amount.measure for amount in plain.measures]
    assert codes(turned) == codes(plain)


def test_hypochlorous_acid_falls_as_ph_rises_and_more_dose_needs_more_product():
    shares = [ask(ph=f"{ph}").hypochlorous_acid_share for ph in (6, 6.5, 7, 7.5, 8, 8.5, 9)]
    assert shares == sorted(shares, reverse=True)
    amounts = [ask(free_chlorine=f"{dose} mg/L").product_volume for dose in (50, 100, 200, 400)]
    assert amounts == sorted(amounts)


def test_a_batch_gives_what_single_requests_give_bit_for_bit():
    rows = 60
    spread = np.random.default_rng(7)
    columns = {
        "diameter": spread.uniform(100, 300, rows),
        "level": spread.uniform(0, 40, rows),
        "fill": spread.uniform(20, 100, rows),
        "strength": spread.uniform(3, 10, rows),
        "free_chlorine": spread.uniform(100, 1200, rows),
        "ph": spread.uniform(4.5, 9, rows),
        "temperature": spread.uniform(1, 38, rows),
    }

    def request(pick):
        return {
            "units": "metric",
            "vessels": [
                {
                    "kind": "drilled_casing",
                    "diameter": pick("diameter"),
                    "well_depth": 60,
                    "water_level": pick("level"),
                },
                {"kind": "pressure_tank", "volume": 160, "fill": pick("fill")},
                {"kind": "pipe", "material": "pex_sdr9", "nominal_size": "3/4", "length": 40},
            ],
            "product": {"kind": "liquid", "sodium_hypochlorite": pick("strength")},
            "rule": "michigan_325_1661",
            "free_chlorine": pick("free_chlorine"),
            "chlorine_demand": 5,
            "ph": pick("ph"),
            "water_temperature": pick("temperature"),
            "neutraliser": "sodium_thiosulfate_pentahydrate",
        }

    together = run_batch(PATH, request(lambda name: columns[name].tolist()))
    assert together.errors == []
    withheld = 0
    for row in range(rows):
        alone = run(PATH, request(lambda name, row=row: float(columns[name][row])))
        for name, column in together.columns.items():
            value = field_of(alone, name)
            if value is None:
                withheld += name == "hypochlorous_acid_share"
                assert column[row] is None or np.isnan(column[row]), name
            else:
                assert column[row] == value, name
        told = {w.code for w in together.warnings if w.rows is None or row in w.rows}
        assert told == codes(alone)
    assert 0 < withheld < rows


def test_bad_rows_of_a_batch_are_kept_apart():
    together = run_batch(
        PATH,
        {
            **WHOLE,
            "vessels": [
                {
                    "kind": "chamber",
                    "chamber_bore": "80 mm",
                    "sleeve_outer_diameter": ["20 mm", "90 mm", "1 gal"],
                    "chamber_length": "1 m",
                }
            ],
            "free_chlorine": ["100 mg/L", "100 mg/L", "100 mg/L"],
        },
    )
    assert {(fault.pointer, fault.code, tuple(fault.rows)) for fault in together.errors} == {
        ("/vessels/0/sleeve_outer_diameter", "contradiction", (1,)),
        ("/vessels/0/sleeve_outer_diameter", "unit_wrong_dimension", (2,)),
    }
    assert np.isfinite(together["volume"]).tolist() == [True, False, False]


def test_repeating_the_question_gives_the_same_bytes():
    first = ask()
    address = urlsplit(first.question)
    query = {}
    for name, value in parse_qsl(address.query):
        query.setdefault(name, []).append(value)
    query = {name: values if name == "vessels" else values[0] for name, values in query.items()}
    again = answer(find(PATH), query, query=True)
    assert msgspec.json.encode(again) == msgspec.json.encode(first)


def test_ct_is_an_upper_bound_until_the_residual_is_measured():
    assert "ct_upper_bound" in codes(ask())
    assert ask().ct_achieved == pytest.approx(100 * 24 * 60, rel=1e-12)
    measured = ask(residual="60 mg/L")
    assert "ct_upper_bound" not in codes(measured)
    assert measured.ct_achieved == pytest.approx(60 * 24 * 60, rel=1e-12)
    assert measured.neutraliser.mass == pytest.approx(measured.volume * 0.060 * 2.5, rel=1e-12)
    assert ask(residual="3 mg/L").flush_volume == 0.0


def test_hold_time_of_a_stepped_rule_is_that_of_the_step_reached():
    def hours(dose):
        return ask(rule="michigan_325_1661", free_chlorine=dose, answer_units={"hold_time": "h"}).hold_time

    assert [hours(f"{dose} mg/L") for dose in (100, 249, 250, 499, 500, 1000, 4000)] == [10, 10, 4, 4, 2, 1, 1]
    assert hours("0.1 kg/m3") == 10


def test_there_is_always_a_hold_time():
    for rule in ("none", "maryland_26_04_04_24"):
        given = ask(rule=rule)
        assert given.hold_time == 24 * 60  # the longest of a rule read here
        assert "hold_time_assumed" in {warning.code for warning in given.warnings}


def test_no_county_is_the_default_for_everyone():
    given = ask(rule=None, free_chlorine=None)
    assert (given.free_chlorine, given.hold_time) == (100.0, 24 * 60)
    assert "no_local_rule" in {warning.code for warning in given.warnings}
    weak = ask(rule=None, free_chlorine="60 mg/L")
    assert weak.hold_time == 24 * 60
    assert "below_strictest_rule" in {warning.code for warning in weak.warnings}


def test_a_residual_above_the_dose_is_rejected():
    with pytest.raises(RequestRefused, match="residual"):
        ask(residual="500 mg/L")
    with pytest.raises(RequestRefused, match="flush_residual"):
        ask(flush_residual="5 mg/L")


def test_an_entered_hold_time_is_used_without_a_rule():
    assert ask(rule="none", hold_time="12 h").ct_achieved == pytest.approx(72_000, rel=1e-12)


def test_without_a_concentration_the_rule_gives_it():
    given = ask(rule="north_carolina_18c_1002", free_chlorine=None)
    assert given.free_chlorine == pytest.approx(100, rel=1e-14)
    assert given.hold_time == 1440


def test_thiosulfate_shows_the_range_of_its_reactions():
    given = ask(neutraliser="sodium_thiosulfate_pentahydrate").neutraliser
    chlorine = ask().available_chlorine_mass
    assert given.minimum_stoichiometric_mass / chlorine == pytest.approx(0.8751, abs=1e-4)
    assert given.mass / chlorine == pytest.approx(1.9, rel=1e-12)
    assert given.maximum_stoichiometric_mass / chlorine == pytest.approx(7.0006, abs=1e-3)


def test_peroxide_is_pure_without_a_handbook_amount_and_with_its_own_caution():
    answer = ask(neutraliser="hydrogen_peroxide")
    told = {warning.code: warning.message for warning in answer.warnings}
    assert "no_handbook_amount" in told
    assert "34 times" in told["peroxide_strength"]
    assert "hydrogen_peroxide" in {caution.code for caution in answer.cautions}
    assert answer.neutraliser.mass == pytest.approx(1.1 * answer.neutraliser.maximum_stoichiometric_mass, rel=1e-12)
    assert "sulfite_asthma" in {caution.code for caution in ask(neutraliser="sodium_bisulfite").cautions}


@pytest.mark.parametrize(
    ("rule", "concentration", "said"),
    [
        ("alberta_agdex_716_a10", "200 mg/L", "twice the water in a drilled casing"),
        ("alberta_health_50", "50 mg/L", "twice the water in a drilled casing"),
        ("mil_hdbk_1164", "100 mg/L", "gives 131"),
        ("michigan_325_1661", "100 mg/L", "gives 131"),
    ],
)
def test_a_rule_that_contradicts_itself_states_which_value_is_used(rule, concentration, said):
    answer = ask(rule=rule, free_chlorine=concentration)
    (told,) = (warning.message for warning in answer.warnings if warning.code == "rule_differs")
    assert said in told
    assert "here" in told.lower()


def test_other_rules_have_no_such_warning():
    assert "rule_differs" not in {warning.code for warning in ask(rule="san_bernardino_13_24_350").warnings}
