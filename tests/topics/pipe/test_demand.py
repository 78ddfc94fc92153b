"""demand/peak: published tables, brute force, simulation, properties, refusals and warnings."""

import itertools
import json
from decimal import Decimal
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from contract_walk import own_leaves
from dosewright.core.hydraulics import demand as core
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run
from dosewright.tables import checks, table
from dosewright.tables.demand import demand_curves, fixtures
from dosewright.topics.pipe.contracts.demand import CurveName, FixtureName, FlushSystem

PEAK = "demand/peak"
GALLON_A_MINUTE = Decimal("0.003785411784") / 60
HOUSE = dict(find(PEAK).example)
KIND = st.tuples(st.integers(1, 3), st.floats(0.0, 1.0), st.floats(0.1, 30.0))


def peak(*kinds, **changes):
    return run(PEAK, {"fixtures": list(kinds), **changes})


def codes(given):
    return [warning.code for warning in given.warnings]


def refused(**request):
    with pytest.raises(RequestRefused) as refusal:
        run(PEAK, request)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}


@pytest.mark.parametrize("row", checks("demand"), ids=lambda row: row["id"])
def test_published_value(row):
    request = json.loads(row["inputs"])
    if row["unit"]:
        request["answer_units"] = {row["field"]: row["unit"]}
    value = getattr(run(row["target"], request), row["field"])
    assert value == pytest.approx(float(row["published"]), abs=float(row["tolerance"]), rel=0)


class TestTables:
    def test_names_in_the_contract_are_those_of_the_tables(self):
        assert get_args(FixtureName) == tuple(fixtures())
        assert set(itertools.product(get_args(CurveName), get_args(FlushSystem))) >= set(demand_curves())
        assert set(get_args(CurveName)) == {curve for curve, _ in demand_curves()}

    def test_si_columns_are_the_printed_figures(self):
        rows = [*table("demand_curves").rows, *table("fixtures").rows]
        for row in rows:
            if row["printed_flow"]:
                exact = Decimal(row["printed_flow"]) * GALLON_A_MINUTE
                assert float(row["flow"]) == pytest.approx(float(exact), rel=1e-15)

    def test_every_row_is_marked(self):
        for row in table("demand_curves").rows:
            assert row["source"], row
            assert row["status"] in {"found", "memory"}, row
        for row in table("fixtures").rows:
            for column, prefix in (("fixture_units", "units"), ("flow", "flow"), ("probability", "probability")):
                assert bool(row[column]) == bool(row[f"{prefix}_source"]), row
                assert row[f"{prefix}_status"] in ({"found", "memory"} if row[column] else {""}), row

    def test_curves_rise(self):
        for curve, system in demand_curves():
            rows = [r for r in table("demand_curves").rows if (r["curve"], r["system"]) == (curve, system)]
            units = [float(row["fixture_units"]) for row in rows]
            flows = [float(row["flow"]) for row in rows if row["flow"]]
            assert units == sorted(set(units))
            assert flows == sorted(flows)


class TestChance:
    @given(st.lists(KIND, min_size=1, max_size=3), st.floats(0.5, 0.9999))
    @settings(max_examples=60)
    def test_against_every_fixture_on_or_off(self, kinds, percentile):
        each = [(p, q) for count, p, q in kinds for _ in range(count)]
        states: dict[float, float] = {}
        for on in itertools.product((0, 1), repeat=len(each)):
            chance = np.prod([p if one else 1 - p for one, (p, _) in zip(on, each, strict=True)])
            flow = round(sum(q for one, (_, q) in zip(on, each, strict=True) if one), 9)
            states[flow] = states.get(flow, 0.0) + chance
        flows = sorted(states)
        reached = np.cumsum([states[flow] for flow in flows])
        if np.abs(reached - percentile).min() < 1e-9:
            return
        expected = flows[int(np.argmax(reached >= percentile))]
        given = core.chance_flow(*zip(*[(float(n), p, q) for n, p, q in kinds], strict=True), percentile)
        assert given.flow == pytest.approx(expected, abs=1e-8)
        assert given.probability == pytest.approx(reached[int(np.argmax(reached >= percentile))], abs=1e-7)
        assert given.mean_flow == pytest.approx(sum(n * p * q for n, p, q in kinds), rel=1e-12)

    @pytest.mark.parametrize(("count", "probability"), [(1, 0.5), (7, 0.2), (40, 0.013), (150, 0.3), (1000, 0.004)])
    def test_one_kind_is_the_binomial(self, count, probability):
        chances = core.in_use_probabilities(count, probability)
        assert chances == pytest.approx(binom.pmf(np.arange(count + 1), count, probability), rel=1e-10, abs=1e-300)
        assert chances.sum() == pytest.approx(1.0, rel=1e-12)
        for percentile in (0.5, 0.9, 0.99, 0.999):
            given = core.chance_flow([float(count)], [probability], [1.0], percentile)
            assert given.flow == binom.ppf(percentile, count, probability)

    def test_against_a_simulation(self):
        counts, shares, flows = [3, 2, 2, 1, 1], [0.02, 0.01, 0.045, 0.055, 0.3], [5.7, 11.4, 7.6, 13.2, 4.1]
        generator = np.random.default_rng(20)
        drawn = sum(q * generator.binomial(n, p, 400_000) for n, p, q in zip(counts, shares, flows, strict=True))
        for percentile in (0.9, 0.99):
            given = core.chance_flow([float(n) for n in counts], shares, flows, percentile)
            at_or_below = np.mean(drawn <= given.flow + 1e-9)
            below = np.mean(drawn < given.flow - 1e-9)
            error = 5 * np.sqrt(percentile * (1 - percentile) / drawn.size)
            assert at_or_below == pytest.approx(given.probability, abs=error)
            assert below < percentile + error
        assert drawn.mean() == pytest.approx(given.mean_flow, rel=0.01)

    @given(st.lists(KIND, min_size=1, max_size=4), st.floats(0.5, 0.999), st.data())
    @settings(max_examples=60)
    def test_directions(self, kinds, percentile, data):
        def at(kinds, percentile):
            return core.chance_flow(*zip(*[(float(n), p, q) for n, p, q in kinds], strict=True), percentile).flow

        here = at(kinds, percentile)
        index = data.draw(st.integers(0, len(kinds) - 1))
        count, p, q = kinds[index]
        slack = 1e-9 * (1.0 + here)
        for more in ((count + 1, p, q), (count, min(1.0, p + 0.1), q), (count, p, 1.1 * q)):
            assert at([*kinds[:index], more, *kinds[index + 1 :]], percentile) >= here - slack
        assert at(kinds, 0.5 * (1 + percentile)) >= here
        assert at(kinds[::-1], percentile) == pytest.approx(here, rel=1e-9, abs=1e-9)
        assert here <= sum(n * q for n, _, q in kinds) * (1 + 1e-12)

    def test_a_kind_split_in_two_entries_is_the_same(self):
        whole = core.chance_flow([4.0], [0.1], [2.0], 0.99)
        parts = core.chance_flow([1.0, 3.0], [0.1, 0.1], [2.0, 2.0], 0.99)
        assert parts.flow == whole.flow
        assert parts.probability == pytest.approx(whole.probability, rel=1e-14)

    def test_rows_do_not_affect_each_other(self):
        generator = np.random.default_rng(2)
        counts = generator.integers(1, 5, (3, 300)).astype(float)
        shares, flows = generator.uniform(0.0, 0.6, (3, 300)), generator.uniform(1.0, 20.0, (3, 300))
        percentiles = generator.uniform(0.5, 0.999, 300)
        together = core.chance_flow(list(counts), list(shares), list(flows), percentiles)
        for row in range(300):
            alone = core.chance_flow(
                counts[:, row].tolist(), shares[:, row].tolist(), flows[:, row].tolist(), float(percentiles[row])
            )
            assert alone == (together.flow[row], together.probability[row], together.mean_flow[row])

    def test_refusals(self):
        with pytest.raises(ValueError, match="combinations"):
            core.chance_flow([60.0] * 4, [0.1] * 4, [1.0] * 4, 0.99)
        with pytest.raises(ValueError, match="whole"):
            core.chance_flow([1.5], [0.1], [1.0], 0.99)
        with pytest.raises(ValueError, match="percentile"):
            core.chance_flow([1.0], [0.1], [1.0], 1.0)
        with pytest.raises(ValueError, match="within 0 to 1"):
            core.chance_flow([1.0], [1.1], [1.0], 0.9)


class TestPeak:
    def test_the_house_by_hand(self):
        given = run(PEAK, {**HOUSE, "units": "us"})
        units = 2 * 2.2 + 3 * 0.7 + 2 * 1.4 + 4 * 1.4
        assert given.fixture_units == pytest.approx(units, rel=1e-14)
        by_table = {one.curve: one.flow for one in given.curves}
        assert by_table["illinois_table_n"] == pytest.approx(10.4 + (units - 14) / 2 * 1.2, rel=1e-12)  # 14: 10.4
        assert given.fixture_unit_flow == max(by_table.values()) == by_table["ipc_e103_3"]
        assert given.simultaneous_flow == pytest.approx(2.5 + 1.75 + 4, rel=1e-14)
        assert given.all_fixtures_flow == pytest.approx(2 * 3 + 3 * 0.8 + 2 * 2.5 + 4 + 1.75 + 2.75 + 4, rel=1e-14)
        assert given.peak_flow == given.fixture_unit_flow
        assert given.supply_flow == pytest.approx(7 + 9 / 10, rel=1e-14)
        assert given.supply_limited_flow == given.peak_flow  # while the tank lasts
        assert given.draw_down_time == pytest.approx(9 / (given.peak_flow - 7), rel=1e-12)
        assert {"pump_below_peak", "supply_below_peak", "plumbing_code_not_named"} <= set(codes(given))
        dry = run(PEAK, {name: value for name, value in HOUSE.items() if name != "tank_draw_down"} | {"units": "us"})
        assert dry.supply_limited_flow == 7.0

    def test_a_strong_pump_is_no_limit(self):
        given = run(PEAK, {**HOUSE, "pump_flow": "25 gal/min"})
        assert given.supply_limited_flow == given.peak_flow
        assert given.draw_down_time is None
        assert not {"pump_below_peak", "supply_below_peak"} & set(codes(given))
        alone = run(PEAK, {name: value for name, value in HOUSE.items() if name == "fixtures"})
        assert (alone.supply_flow, alone.supply_limited_flow, alone.draw_down_time) == (None, None, None)

    @pytest.mark.parametrize("method", ["fixture_units", "probability", "simultaneous"])
    def test_chosen_method(self, method):
        given = run(PEAK, {**HOUSE, "method": method})
        field = {"fixture_units": "fixture_unit_flow"}.get(method, f"{method}_flow")
        assert given.peak_flow == getattr(given, field)

    def test_own_figures_replace_the_table(self):
        shower = peak({"fixture": "shower", "flow": "12 L/min", "probability": "100 %", "fixture_units": "3"})
        assert shower.probability_flow == pytest.approx(12, rel=1e-14)
        assert shower.fixture_units == 3
        assert not any("flow in use" in basis.method for basis in shower.basis)

    def test_a_kind_without_figures_adds_its_own_flow(self):
        alone = peak({"fixture": "shower", "count": "2"}, units="us")
        given = peak({"fixture": "hose_bibb"}, {"fixture": "shower", "count": "2"}, units="us")
        assert given.probability_flow == pytest.approx(alone.probability_flow + 5.0, rel=1e-12)
        assert given.fixture_unit_flow == pytest.approx(alone.fixture_unit_flow + 5.0, rel=1e-12)
        added = {w.field for w in given.warnings if w.code == "own_flow_added"}
        assert added == {"fixtures.0.probability", "fixtures.0.fixture_units"}

    def test_a_bathtub_alone_needs_its_flow(self):
        assert peak({"fixture": "bathtub"}, units="us").peak_flow >= 4.0

    def test_a_flush_valve_uses_its_column_in_every_system(self):
        given = peak({"fixture": "water_closet_valve"}, {"fixture": "lavatory"}, units="us")
        assert {one.system for one in given.curves} == {"flush_valve"}
        illinois = next(one for one in given.curves if one.curve == "illinois_table_n")
        assert illinois.flow is None
        assert "no column" in illinois.reason
        assert given.peak_flow >= 27.0

    def test_a_gap_in_a_table_gives_an_upper_bound(self):
        between = peak({"fixture": "lavatory", "count": "60"}, units="us")
        standard = next(one for one in between.curves if one.curve == "national_standard_b_5_4")
        assert standard.flow == pytest.approx(10.5 + 1.0 * (42 - 14), rel=1e-12)  # 14 to 120 was not read
        assert between.fixture_unit_flow == max(one.flow for one in between.curves)

    def test_units_of_another_code_are_not_used_in_a_chosen_table(self):
        faults = refused(fixtures=[{"fixture": "shower"}], curve="illinois_table_n")
        assert faults == {("/fixtures/0/fixture_units", "required")}
        own = peak({"fixture": "shower", "fixture_units": "8"}, curve="illinois_table_n", units="us")
        assert own.fixture_unit_flow == pytest.approx(6.5, rel=1e-12)
        open_code = peak({"fixture": "shower", "count": "3"})
        assert {"plumbing_code_not_named", "fixture_units_from_other_code"} <= set(codes(open_code))

    def test_above_the_end_of_a_table_it_is_refused_not_dropped(self):
        assert refused(fixtures=[{"fixture_units": "90", "flow": "4 L/min", "count": "1000"}]) == {
            ("/method", "method_without_flow")
        }

    def test_figures_from_memory_are_marked(self):
        given = run(PEAK, HOUSE)
        marked = [basis for basis in given.basis if "[from memory]" in basis.source]
        assert any("share of time" in basis.method for basis in marked)
        assert any("fixture units" in basis.method for basis in marked)

    def test_methods_that_differ_give_a_warning(self):
        given = peak({"fixture": "shower", "count": "6", "in_use": "6"})
        assert "methods_differ" in codes(given)

    def test_refusals(self):
        assert refused(fixtures=[{"count": "2"}]) == {("/fixtures/0/fixture", "required")}
        assert refused(fixtures=[{"fixture": "shower", "count": "1.5"}]) == {("/fixtures/0/count", "not_whole")}
        assert refused(fixtures=[{"fixture": "shower", "in_use": "2"}]) == {("/fixtures/0/in_use", "contradiction")}
        valve = [{"fixture": "shower", "fixture_units": "6"}]
        assert refused(fixtures=valve, system="flush_valve", curve="illinois_table_n") == {("/curve", "unknown_choice")}
        assert refused(fixtures=[{"fixture": "shower"}], tank_draw_down="9 gal") == {("/pump_flow", "required")}
        assert refused(fixtures=[{"fixture": "hose_bibb"}], method="probability") == {
            ("/method", "method_without_flow")
        }
        assert refused(fixtures=[{"flow": "4 L/min"}], method="fixture_units") == {("/method", "method_without_flow")}
        crowd = [{"fixture": name, "count": "90"} for name in ("shower", "lavatory", "bathtub")]
        assert refused(fixtures=crowd) == {("/fixtures", "too_many_combinations")}

    def test_batch_is_the_single_calls_bit_for_bit(self):
        generator = np.random.default_rng(3)
        counts = generator.integers(1, 6, 150).astype(float).tolist()
        flows = generator.uniform(4.0, 16.0, 150).tolist()
        shares = generator.uniform(1.0, 30.0, 150).tolist()
        pumps = generator.uniform(5.0, 60.0, 150).tolist()

        def asked(count, flow, share, pump):
            kinds = [
                {"fixture": "shower", "count": count, "flow": flow, "probability": share, "in_use": 1},
                {"fixture": "lavatory", "count": 3},
                {"fixture": "water_closet_tank", "count": count},
            ]
            return {"units": "metric", "fixtures": kinds, "pump_flow": pump, "tank_draw_down": 30}

        batch = run_batch(PEAK, asked(counts, flows, shares, pumps))
        assert not batch.errors
        for row, values in enumerate(zip(counts, flows, shares, pumps, strict=True)):
            one = run(PEAK, asked(*values))
            for name, column in batch.columns.items():
                value = own_leaves(one)[name]
                assert column[row] == value or (value is None and np.isnan(column[row])), name

    def test_invalid_rows_do_not_affect_the_others(self):
        kinds = [{"fixture": "shower", "count": ["2", "2.5", "3"]}]
        batch = run_batch(PEAK, {"fixtures": kinds})
        assert [(fault.code, fault.rows) for fault in batch.errors] == [("not_whole", [1])]
        assert np.isfinite(batch["peak_flow"]).tolist() == [True, False, True]
