"""Speciation, product strength and neutralising agents; the feed in columns too."""

from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes, faults
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.run import run
from dosewright.topics.chlorine.contracts.chemistry import AgentChoice
from dosewright.topics.chlorine.contracts.shock import NeutraliserName
from requests_chlorine import FEED

BLEACH = {"kind": "liquid", "sodium_hypochlorite": "6 %", "density": "1.08 kg/L"}


def cautions(given):
    return {caution.code for caution in given.cautions}


# Speciation.


@given(st.floats(5.0, 12.0), st.floats(5.0, 35.0), st.floats(0.01, 100.0), st.floats(0.0, 5000.0))
def test_both_forms_add_up_to_the_free_chlorine(ph, celsius, chlorine, solids):
    request = {"ph": f"{ph!r}", "water_temperature": f"{celsius!r} degC", "free_chlorine": f"{chlorine!r} mg/L"}
    for extra in ({}, {"total_dissolved_solids": f"{solids!r} mg/L"}):
        given_ = run("chlorine/speciation", request | extra)
        assert given_.hypochlorous_acid + given_.hypochlorite_ion == pytest.approx(chlorine, rel=1e-12)
        assert given_.hypochlorous_acid_share + given_.hypochlorite_ion_share == pytest.approx(100, rel=1e-12)


def test_hypochlorous_acid_falls_as_ph_temperature_or_salt_rise():
    def share(**changes):
        base = {"ph": "7.5", "water_temperature": "15 degC", "total_dissolved_solids": "300 mg/L"}
        return run("chlorine/speciation", base | changes).hypochlorous_acid_share

    for name, values in (
        ("ph", ["6", "7", "8", "9"]),
        ("water_temperature", ["5 degC", "15 degC", "25 degC", "35 degC"]),
        ("total_dissolved_solids", ["0 mg/L", "100 mg/L", "1000 mg/L", "5000 mg/L"]),
    ):
        shares = [share(**{name: value}) for value in values]
        assert shares == sorted(shares, reverse=True), name
        assert len(set(shares)) == len(shares), name


def test_both_relations_are_reported():
    request = {"ph": "7.5", "water_temperature": "20 degC"}
    morris = run("chlorine/speciation", request)
    wagman = run("chlorine/speciation", {**request, "relation": "wagman_1982"})
    assert morris.pka == wagman.other_pka
    assert wagman.pka == morris.other_pka
    assert morris.other_relation == "Wagman et al. (1982)"
    assert wagman.other_hypochlorous_acid_share == morris.hypochlorous_acid_share


def test_cold_water_needs_the_relation_that_covers_it():
    cold = {"ph": "7.5", "water_temperature": "3 degC"}
    assert faults("chlorine/speciation", cold) == {("/water_temperature", "outside_method")}
    given_ = run("chlorine/speciation", {**cold, "relation": "wagman_1982"})
    assert given_.other_pka is None
    assert given_.other_hypochlorous_acid_share is None


def test_missing_dissolved_solids_give_a_warning():
    dilute = {"ph": "7.2", "water_temperature": "12 degC"}
    assert "ionic_strength_not_included" in codes(run("chlorine/speciation", dilute))
    counted = run("chlorine/speciation", {**dilute, "total_dissolved_solids": "450 mg/L"})
    assert "ionic_strength_not_included" not in codes(counted)
    assert counted.pka < counted.dilute_pka
    none = run("chlorine/speciation", {**dilute, "total_dissolved_solids": "0 mg/L"})
    assert none.pka == none.dilute_pka


# Products.


@given(st.floats(1.0, 12.0), st.floats(1.0, 1.25))
def test_strengths_of_one_product_agree_on_every_basis(share, density):
    first = run(
        "chlorine/product",
        {"product": {"kind": "liquid", "sodium_hypochlorite": f"{share!r} %", "density": f"{density!r} kg/L"}},
    )
    assert first.sodium_hypochlorite == pytest.approx(share, rel=1e-12)
    assert first.available_chlorine == pytest.approx(share * 70.90 / 74.439, rel=1e-12)
    assert first.trade_strength == pytest.approx(first.available_chlorine * density, rel=1e-12)
    assert first.chlorine_concentration == pytest.approx(first.trade_strength * 10_000, rel=1e-12)
    for name in ("trade_strength", "available_chlorine"):
        again = run(
            "chlorine/product",
            {"product": {"kind": "liquid", name: f"{getattr(first, name)!r} %", "density": f"{density!r} kg/L"}},
        )
        for field in ("chlorine_concentration", "trade_strength", "available_chlorine", "sodium_hypochlorite"):
            assert getattr(again, field) == pytest.approx(getattr(first, field), rel=1e-12), (name, field)


def test_a_trade_percentage_gets_a_density_within_the_published_range():
    def of(trade):
        return run("chlorine/product", {"product": {"kind": "liquid", "trade_strength": trade}})

    known = of("12 %")
    assert known.density == pytest.approx(1.157, rel=1e-9)
    assert "density_assumed" in codes(known)
    assert of("12.5 %").sodium_hypochlorite == pytest.approx(11.34, rel=0.01)
    strong = of("15 %")
    assert strong.density is None
    assert strong.sodium_hypochlorite is None
    assert "density_unknown" in codes(strong)


def test_granules_as_calcium_hypochlorite():
    given_ = run("chlorine/product", {"product": {"kind": "listed", "name": "calcium_hypochlorite_65"}})
    assert given_.available_chlorine == pytest.approx(65)
    assert given_.calcium_hypochlorite == pytest.approx(65 / 0.9918, rel=1e-3)
    assert given_.trade_strength is None
    assert "chlorine_granules" in cautions(given_)


@given(st.floats(1.0, 20.0), st.floats(0.0, 800.0), st.floats(0.0, 60.0))
def test_storage_loses_chlorine_to_chlorate_and_chloride_alone(trade, days, celsius):
    given_ = run(
        "chlorine/product",
        {
            "product": {"kind": "liquid", "trade_strength": f"{trade!r} %", "density": "1.1 kg/L"},
            "storage_time": f"{days!r} d",
            "storage_temperature": f"{celsius!r} degC",
            "answer_units": {"stored.chlorate": "g/L", "stored.chlorine_concentration": "g/L"},
        },
    )
    kept = given_.stored.chlorine_concentration / 70.90
    formed = given_.stored.chlorate / 83.447
    assert kept + 3 * formed == pytest.approx(trade * 10 / 70.90, rel=1e-12)
    assert given_.stored.remaining_strength == pytest.approx(given_.stored.trade_strength / trade * 100, rel=1e-12)


def test_storage_needs_both_time_and_temperature_and_a_liquid():
    liquid = {"product": {"kind": "liquid", "trade_strength": "12 %"}}
    assert faults("chlorine/product", {**liquid, "storage_time": "9 d"}) == {("/storage_temperature", "required")}
    assert faults("chlorine/product", {**liquid, "storage_temperature": "9 degC"}) == {("/storage_time", "required")}
    stay = {"storage_time": "9 d", "storage_temperature": "20 degC"}
    granules = {"product": {"kind": "granules", "available_chlorine": "65 %"}}
    assert faults("chlorine/product", {**granules, **stay}) == {("/storage_time", "not_for_granules")}
    strong = {"product": {"kind": "liquid", "trade_strength": "22 %"}}
    assert faults("chlorine/product", {**strong, **stay}) == {("/product", "outside_method")}


def test_an_old_product_gives_a_warning():
    request = {
        "product": {"kind": "listed", "name": "sodium_hypochlorite_12_5_trade"},
        "storage_time": "365 d",
        "storage_temperature": "30 degC",
    }
    given_ = run("chlorine/product", request)
    assert given_.stored.remaining_strength < 50
    assert {"product_old", "decay_from_memory"} <= codes(given_)
    assert "strength_decreases" not in codes(given_)


def test_every_danger_of_a_product_has_its_caution():
    wanted = {
        "chlorine_acid",
        "chlorine_ammonia",
        "chlorine_other_hypochlorites",
        "chlorine_organics",
        "chlorine_cyanurates",
        "chlorine_handling",
        "chlorine_ventilation",
        "chlorine_storage",
    }
    assert wanted <= cautions(run("chlorine/product", {"product": BLEACH}))
    assert wanted <= cautions(run("chlorine/feed", FEED))


# Neutralising.


def test_agent_names_are_those_of_the_table_and_all():
    assert get_args(AgentChoice) == ("all", *get_args(NeutraliserName))


def test_all_agents_are_compared():
    given_ = run("chlorine/neutralise", {"volume": "1 m3", "chlorine": "100 mg/L"})
    agents = list(dict.fromkeys(row.agent for row in given_.amounts))
    assert len(agents) == len(get_args(NeutraliserName)) == 9
    for agent in agents:
        ways = {row.method for row in given_.amounts if row.agent == agent}
        assert "stoichiometry" in ways
        assert ways & {"handbook", "surplus"}, agent
    for row in given_.amounts:
        assert row.mass == pytest.approx(100 * row.ratio, rel=1e-12)
        assert row.status in {"found", "memory", "computed"}
    assert {"sulfite_asthma", "hydrogen_peroxide", "reducing_agents", "aquaria"} <= cautions(given_)
    assert {"neutraliser_uncertain", "handbook_below_reaction", "peroxide_strength"} <= codes(given_)


@given(st.floats(1e-3, 1e3), st.floats(0.1, 200.0), st.floats(1.0, 100.0), st.floats(1.1, 20.0))
def test_amounts_are_linear_in_volume_and_chlorine_and_inverse_in_purity(volume, chlorine, purity, factor):
    def masses(v, c, p):
        request = {"volume": f"{v!r} m3", "chlorine": f"{c!r} mg/L", "purity": f"{p!r} %"}
        return [row.mass for row in run("chlorine/neutralise", request).amounts]

    one = masses(volume, chlorine, purity)
    assert masses(volume * factor, chlorine, purity) == pytest.approx([factor * mass for mass in one], rel=1e-11)
    assert masses(volume, chlorine * factor, purity) == pytest.approx([factor * mass for mass in one], rel=1e-11)
    assert masses(volume, chlorine, purity / factor) == pytest.approx([factor * mass for mass in one], rel=1e-11)


def test_peroxide_has_a_surplus_since_it_has_no_handbook_amount():
    given_ = run("chlorine/neutralise", {"volume": "1 m3", "chlorine": "10 mg/L", "agent": "hydrogen_peroxide"})
    reaction, surplus = given_.amounts
    assert (reaction.method, surplus.method) == ("stoichiometry", "surplus")
    assert surplus.mass == pytest.approx(1.1 * reaction.mass, rel=1e-12)
    assert "no_handbook_amount" in codes(given_)
    other = run("chlorine/neutralise", {"volume": "1 m3", "chlorine": "10 mg/L", "agent": "ascorbic_acid"})
    assert "no_handbook_amount" not in codes(other)


def test_electrons_of_each_reaction_balance():
    # Each Cl2 takes two electrons; sulfur goes from its mean state in the agent to that of its product.
    electrons = {
        "sodium sulfite": {"to sulfate": 2},
        "sodium bisulfite": {"to sulfate": 2},
        "sodium metabisulfite": {"to sulfate": 4},
        "sodium thiosulfate pentahydrate": {"to sulfate": 8, "to sulfate and sulfur": 2, "to tetrathionate": 1},
        "ascorbic acid": {"to dehydroascorbic acid": 2},
        "hydrogen peroxide": {"to oxygen": 2},
    }
    molar = {
        "sodium sulfite": 126.037,
        "sodium bisulfite": 104.055,
        "sodium metabisulfite": 190.095,
        "sodium thiosulfate pentahydrate": 248.172,
        "ascorbic acid": 176.124,
        "hydrogen peroxide": 34.014,
    }
    given_ = run("chlorine/neutralise", {"volume": "1 m3", "chlorine": "70.90 mg/L"})
    seen = 0
    for row in given_.amounts:
        if row.method == "stoichiometry" and row.agent in electrons:
            assert row.mass / molar[row.agent] * electrons[row.agent][row.detail] == pytest.approx(2.0, rel=1e-9)
            seen += 1
    assert seen == 8


# All four, in columns.

SPREAD = np.random.default_rng(11)


def field_of(value, path):
    for part in path.split("."):
        value = None if value is None else value[int(part)] if part.isdigit() else getattr(value, part)
    return value


CASES = [
    (
        "chlorine/speciation",
        {"relation": "wagman_1982", "units": "metric"},
        {
            "ph": SPREAD.uniform(5, 10, 40),
            "water_temperature": SPREAD.uniform(0, 50, 40),
            "free_chlorine": SPREAD.uniform(0.1, 5, 40),
            "total_dissolved_solids": SPREAD.uniform(0, 3000, 40),
        },
        None,
    ),
    (
        "chlorine/product",
        {"units": "metric"},
        {"storage_time": SPREAD.uniform(0, 500_000, 40), "storage_temperature": SPREAD.uniform(0, 60, 40)},
        ("product", {"kind": "liquid"}, "trade_strength", SPREAD.uniform(5, 20, 40)),
    ),
    (
        "chlorine/neutralise",
        {"units": "metric"},
        {
            "volume": SPREAD.uniform(1, 5000, 40),
            "chlorine": SPREAD.uniform(0.1, 200, 40),
            "purity": SPREAD.uniform(3, 100, 40),
        },
        None,
    ),
    (
        "chlorine/feed",
        {"units": "metric", "tank_volume": 100, "daily_volume": 900},
        {
            "flow": SPREAD.uniform(5, 100, 40),
            "free_chlorine": SPREAD.uniform(0.1, 6, 40),
            "chlorine_demand": SPREAD.uniform(0, 5, 40),
            "solution_strength": SPREAD.uniform(500, 20_000, 40),
            "pump_capacity": SPREAD.uniform(0.005, 0.2, 40),
        },
        ("product", {"kind": "liquid"}, "trade_strength", SPREAD.uniform(5, 20, 40)),
    ),
]


@pytest.mark.parametrize(("path", "fixed", "columns", "inner"), CASES, ids=[case[0] for case in CASES])
def test_a_batch_gives_what_single_requests_give_bit_for_bit(path, fixed, columns, inner):
    def request(pick):
        made = {**fixed, **{name: pick(column) for name, column in columns.items()}}
        if inner:
            name, item, field, column = inner
            made[name] = {**item, field: pick(column)}
        return made

    together = run_batch(path, request(lambda column: column.tolist()))
    assert together.errors == []
    for row in range(40):
        alone = run(path, request(lambda column, row=row: float(column[row])))
        for name, column in together.columns.items():
            value = field_of(alone, name)
            if value is None:
                assert column[row] is None or np.isnan(column[row]), name
            else:
                assert column[row] == value, name
        assert {w.code for w in together.warnings if w.rows is None or row in w.rows} == codes(alone)


@settings(max_examples=40)
@given(
    st.floats(2.0, 11.0), st.floats(1.0, 1.2), st.floats(100.0, 50_000.0), st.floats(60.0, 500.0), st.floats(0.0, 20.0)
)
def test_chlorine_is_conserved_from_the_label_to_the_neutraliser(share, density, litres, wanted, demand):
    """Label to product volume, dose, both stages, discharge and neutraliser: the same moles of chlorine throughout."""
    product = {"kind": "liquid", "sodium_hypochlorite": f"{share!r} %", "density": f"{density!r} kg/L"}
    well = {"kind": "cistern", "volume": f"{litres!r} L"}
    house = {"kind": "plain_volume", "volume": f"{0.4 * litres!r} L"}
    shock = run(
        "chlorine/shock",
        {
            "vessels": [well, house],
            "product": product,
            "free_chlorine": f"{wanted!r} mg/L",
            "chlorine_demand": f"{demand!r} mg/L",
            "neutraliser": "sodium_sulfite",
        },
    )
    moles = shock.product_volume / 1000 * density * share / 100 / 74.439e-3
    assert shock.volume * shock.dose / 1e6 / 70.90e-3 == pytest.approx(moles, rel=1e-12)
    assert shock.available_chlorine_mass / 70.90 == pytest.approx(moles, rel=1e-12)
    assert sum(stage.product_volume for stage in shock.stages) == pytest.approx(shock.product_volume, rel=1e-12)
    assert shock.discharge.chlorine_mass / 70.90 == pytest.approx(moles, rel=1e-12)
    # One mole of sulfite for one of chlorine.
    assert shock.neutraliser.maximum_stoichiometric_mass / 126.037 == pytest.approx(moles, rel=1e-12)
    strength = run("chlorine/product", {"product": product, "answer_units": {"chlorine_concentration": "g/L"}})
    assert shock.product_volume / 1000 * strength.chlorine_concentration / 70.90 == pytest.approx(moles, rel=1e-12)
    agents = run(
        "chlorine/neutralise",
        {"volume": f"{shock.volume!r} L", "chlorine": f"{shock.dose!r} mg/L", "agent": "sodium_sulfite"},
    )
    assert agents.amounts[0].mass == pytest.approx(shock.neutraliser.maximum_stoichiometric_mass, rel=1e-12)
