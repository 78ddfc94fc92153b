"""What the water does to the chlorine in chlorine/shock: demand, pH with the chlorine in it, vinegar, aged product."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from phreeqpython import PhreeqPython

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables import table

# An invented cistern.
WHOLE = {
    "vessels": [{"kind": "cistern", "volume": "2000 L"}],
    "product": {"kind": "liquid", "trade_strength": "10 %"},
    "free_chlorine": "100 mg/L",
    "chlorine_demand": "2 mg/L",
    "water_temperature": "12 degC",
}
WATER = {"raw_ph": "7.2", "alkalinity": "200 mg/L"}


def ask(**changes):
    return run("chlorine/shock", {**WHOLE, **changes})


def faults(**changes):
    with pytest.raises(RequestRefused) as refusal:
        ask(**changes)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}


SEVERITIES = {"H": 1.008, "N": 14.007, "O": 15.999, "S": 32.06, "Cl": 35.45, "Mn": 54.938, "Fe": 55.845}


def sides(reaction):
    for side in reaction.split(" -> "):
        atoms, charge = {}, 0
        for term in side.split(" + "):
            number, formula, sign = re.fullmatch(r"(?:(\d+) )?([A-Za-z0-9]+)(\(\d*[+-]\))?", term).groups()
            count = int(number or 1)
            for element, times in re.findall(r"([A-Z][a-z]?)(\d*)", formula):
                atoms[element] = atoms.get(element, 0) + count * int(times or 1)
            if sign:
                size, polarity = re.fullmatch(r"\((\d*)([+-])\)", sign).groups()
                charge += count * int(size or 1) * (1 if polarity == "+" else -1)
        yield atoms, charge


@pytest.mark.parametrize("row", table("chlorine_demand").rows, ids=lambda row: row["name"])
def test_each_demand_follows_from_a_balanced_reaction(row):
    (left, charge), (right, charge_after) = sides(row["reaction"])
    assert left == right
    assert charge == charge_after
    first, chlorine = re.match(r"(?:(\d+) )?(\w+)", row["reaction"]), re.search(r"(?:(\d+) )?Cl2", row["reaction"])
    element = {"iron": "Fe", "manganese": "Mn", "ammonia": "N"}.get(row["name"])
    mass = SEVERITIES[element] if element else 2 * SEVERITIES["H"] + SEVERITIES["S"]
    ratio = int(chlorine.group(1) or 1) * 70.90 / (int(first.group(1) or 1) * mass)
    assert ratio == pytest.approx(float(row["stoichiometric_ratio"]), abs=1.5e-3)
    assert float(row["ratio"]) >= ratio * 0.9995


def test_dissolved_substances_add_to_the_demand():
    given_ = ask(iron="1 mg/L", manganese="0.2 mg/L", sulfide="0.5 mg/L", ammonia="0.3 mg/L")
    by_hand = 2 + 0.635 + 0.2 * 1.291 + 0.5 * 8.32 + 0.3 * 10
    assert given_.chlorine_demand == pytest.approx(by_hand, rel=1e-12)
    assert given_.dose == pytest.approx(100 + by_hand, rel=1e-12)
    assert given_.available_chlorine_mass == pytest.approx(2 * (100 + by_hand), rel=1e-12)
    for amount in given_.measures:
        assert amount.free_chlorine == pytest.approx(amount.dose - by_hand, rel=1e-9)
    assert ask().chlorine_demand == pytest.approx(2, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"ammonia": "0.5 mg/L"}, "breakpoint"),
        ({"ammonia": "40 mg/L"}, "breakpoint_not_passed"),
        ({"iron": "0.5 mg/L"}, "metals_precipitate"),
        ({"manganese": "0.5 mg/L"}, "metals_precipitate"),
        ({"chlorine_demand": "0 mg/L"}, "demand_not_included"),
        ({**WATER, "ph_target": "9"}, "acid_not_needed"),
        ({"raw_ph": "7.2", "alkalinity": "86 mg/L", "ph_target": "6.5"}, "acid_exceeds_alkalinity"),
        ({**WATER, "alkalinity": "15 mg/L"}, "ph_high"),
    ],
)
def test_each_warning_appears_only_when_it_applies(changes, code):
    assert code in codes(ask(**changes))
    assert code not in codes(ask(raw_ph="6.9", alkalinity="400 mg/L", ph_target="7"))


def test_demand_by_substance_is_included():
    assert "demand_not_included" not in codes(ask(chlorine_demand="0 mg/L", iron="1 mg/L"))


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"raw_ph": "7"}, {("/alkalinity", "required")}),
        ({"alkalinity": "100 mg/L"}, {("/raw_ph", "required")}),
        ({"ph_target": "7"}, {("/raw_ph", "required")}),
        ({"raw_ph": "10", "alkalinity": "1 mg/L"}, {("/raw_ph", "contradiction")}),
        ({"ph_target": "5.5", **WATER}, {("/ph_target", "out_of_range")}),
        ({"storage_time": "9 d"}, {("/storage_temperature", "required")}),
        (
            {"storage_time": "9 d", "storage_temperature": "9 degC",
             "product": {"kind": "granules", "available_chlorine": "65 %"}},
            {("/storage_time", "not_for_granules")},
        ),
    ],
)  # fmt: skip
def test_errors_point_at_the_field(changes, expected):
    assert faults(**changes) == expected


def test_ph_after_the_chlorine_agrees_with_phreeqc():
    """The same water in PHREEQC with its own constants and activities: dilute, so that they hardly matter."""
    engine = PhreeqPython(database="phreeqc.dat")
    engine.ip.run_string("""
        SOLUTION_MASTER_SPECIES
          Hy HyO- 1 51.45 35.45
        SOLUTION_SPECIES
          HyO- = HyO-
            log_k 0
          HyO- + H+ = HHyO
            -analytical_expression -10.0686 0.0253 3000.0
        SOLUTION 1
          temp 12
          pH 7.2
          units mmol/kgw
          Alkalinity 1.0
          Na 1.0 charge
        END
        USE solution 1
        REACTION 1
          NaHyO 1
          0.35e-3 moles
        SELECTED_OUTPUT
          -reset false
          -high_precision true
          -pH true
        END""")
    expected = engine.ip.get_selected_output_array()[-1][0]
    dose = 0.35 * 70.90
    given_ = ask(rule="none", raw_ph="7.2", alkalinity=f"{50.043!r} mg/L", free_chlorine=f"{dose - 2!r} mg/L")
    assert given_.dose == pytest.approx(dose, rel=1e-9)
    assert given_.chlorinated_ph == pytest.approx(expected, abs=0.03)


@settings(max_examples=50)
@given(st.floats(6.5, 8.5), st.floats(30.0, 500.0), st.floats(20.0, 400.0))
def test_chlorine_raises_ph_and_lowers_the_share_of_hypochlorous_acid(ph, alkalinity, dose):
    water = {"rule": "none", "raw_ph": f"{ph!r}", "alkalinity": f"{alkalinity!r} mg/L"}
    given_ = ask(**water, free_chlorine=f"{dose!r} mg/L")
    assert given_.chlorinated_ph > ph
    more = ask(**water, free_chlorine=f"{1.5 * dose!r} mg/L")
    assert more.chlorinated_ph > given_.chlorinated_ph
    assert more.hypochlorous_acid_share < given_.hypochlorous_acid_share


def test_a_measured_ph_comes_before_a_calculated_one():
    given_ = ask(**WATER, ph="7.9")
    assert given_.chlorinated_ph == 7.9
    worked_out = ask(**WATER)
    assert 7.2 < worked_out.chlorinated_ph < 8.5
    assert "ph_not_given" not in codes(worked_out)


def test_vinegar_by_hand():
    # Hypochlorite as much as it takes acid: with nearly no carbonate, 1.41 mmol/L of it half dissociated at its pKa.
    given_ = ask(raw_ph="7.2", alkalinity="200 mg/L", ph_target="7.2", chlorine_demand="0 mg/L", rule="none")
    moles = 100 / 70.90
    pka = 3000 / 285.15 - 10.0686 + 0.0253 * 285.15
    # The carbonates are where they were at pH 7.2, so the acid meets what of the hypochlorite becomes acid.
    acid = moles / (1 + 10 ** (7.2 - pka))
    litres = 2000 * acid / 1000 / (50 / 60.052) / (1 - 1 / (1 + 10 ** (7.2 - 4.756)))
    assert given_.vinegar_volume == pytest.approx(litres, rel=1e-9)
    assert given_.target_acid_share == pytest.approx(100 / (1 + 10 ** (7.2 - pka)), rel=1e-9)
    assert "vinegar" in [step.step for step in given_.steps]
    assert "chlorine_acid" in {caution.code for caution in given_.cautions}


def test_no_share_is_calculated_outside_the_valid_temperatures():
    cold = ask(**WATER, water_temperature="3 degC")
    assert cold.chlorinated_ph is None
    assert cold.vinegar_volume is None
    assert cold.hypochlorous_acid_share is None
    assert "speciation_out_of_range" in codes(cold)


def test_an_aged_product_is_dosed_by_its_remaining_strength():
    fresh, aged = ask(), ask(storage_time="120 d", storage_temperature="25 degC")
    alone = run(
        "chlorine/product",
        {"product": WHOLE["product"], "storage_time": "120 d", "storage_temperature": "25 degC"},
    )
    assert aged.remaining_strength == alone.stored.remaining_strength
    assert aged.trade_strength == pytest.approx(alone.stored.trade_strength, rel=1e-12)
    assert aged.product_volume == pytest.approx(fresh.product_volume / (aged.remaining_strength / 100), rel=1e-12)
    assert fresh.remaining_strength is None
    assert aged.available_chlorine_mass == fresh.available_chlorine_mass


def test_a_batch_gives_what_single_requests_give_bit_for_bit():
    rows = 40
    spread = np.random.default_rng(12)
    columns = {
        "free_chlorine": spread.uniform(60, 200, rows),
        "iron": spread.uniform(0, 5, rows),
        "ammonia": spread.uniform(0, 2, rows),
        "raw_ph": spread.uniform(6.3, 8.6, rows),
        "alkalinity": spread.uniform(300, 500, rows),
        "ph_target": spread.uniform(6.6, 8.5, rows),
        "water_temperature": spread.uniform(5, 35, rows),
        "storage_time": spread.uniform(0, 300_000, rows),
    }

    def request(pick):
        return {
            "units": "metric",
            "vessels": [
                {"kind": "drilled_casing", "diameter": 150, "water_column": 30},
                {"kind": "pressure_tank", "volume": 100, "precharge": 200, "system_pressure": 400},
                {"kind": "gravel_pack", "borehole_diameter": 300, "screen_outer_diameter": 150, "length": 5},
            ],
            "product": {"kind": "liquid", "trade_strength": 12},
            "storage_temperature": 22,
            **{name: pick(column) for name, column in columns.items()},
        }

    def field_of(value, path):
        for part in path.split("."):
            value = None if value is None else value[int(part)] if part.isdigit() else getattr(value, part)
        return value

    together = run_batch("chlorine/shock", request(lambda column: column.tolist()))
    assert together.errors == []
    for row in range(rows):
        alone = run("chlorine/shock", request(lambda column, row=row: float(column[row])))
        for name, column in together.columns.items():
            value = field_of(alone, name)
            if value is None:
                assert column[row] is None or np.isnan(column[row]), name
            else:
                assert column[row] == value, name
        assert {w.code for w in together.warnings if w.rows is None or row in w.rows} == codes(alone)
