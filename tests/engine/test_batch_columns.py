"""Columns of a batch answer: equal to single answers bit for bit, whatever the order of rows, groups and faults."""

import numpy as np
import pytest

from dosewright.engine.batch.columns import Columns, span_of
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.notes import Labels, label
from dosewright.engine.run import run
from dosewright.engine.writing import units_for
from dosewright.quantities import quantity
from dosewright.topics.pipe.contracts.velocity import VelocityAnswer

NAMES = ("laminar", "transition", "turbulent")


def answer(velocity, regime, *, bore=0.02, within=True, size=None):
    return VelocityAnswer(
        velocity=velocity,
        bore=bore,
        reynolds_number=1.0,
        regime=regime,
        velocity_limit=2.0,
        within_limit=within,
        smallest_bore=0.01,
        smallest_nominal_size=size,
        wave_speed=None,
        surge_pressure=None,
        reflection_time=None,
        closing_surge_pressure=None,
        peak_pressure=None,
    )


def columns(rows):
    return Columns(rows, units_for(VelocityAnswer, "metric", None).units)


def test_consecutive_rows_are_a_slice():
    assert span_of(np.arange(3, 9)) == slice(3, 9)
    assert isinstance(span_of(np.array([3, 5, 6])), np.ndarray)
    assert isinstance(span_of(np.array([], dtype=np.intp)), np.ndarray)


def test_chunks_may_come_in_any_order():
    kept = columns(6)
    for rows, speeds, codes in (([4, 1], [4.0, 1.0], [2, 0]), ([0, 2, 3, 5], [0.5, 2.0, 3.0, 5.0], [1, 1, 0, 2])):
        chunk = np.array(rows)
        given = answer(np.array(speeds), label(np.array(codes), NAMES), within=np.array(codes) > 0)
        assert kept.keep(given, chunk, np.zeros(len(rows), dtype=bool)) == []
    finished = kept.finished(np.zeros(6, dtype=bool))
    assert finished["velocity"].tolist() == [0.5, 1.0, 2.0, 3.0, 4.0, 5.0]
    assert finished["regime"] == ["transition", "laminar", "transition", "laminar", "turbulent", "turbulent"]
    assert finished["within_limit"] == [True, False, True, False, True, True]
    assert finished["bore"].tolist() == [20.0] * 6
    assert finished["smallest_nominal_size"] == [None] * 6


def test_what_was_the_same_may_differ_later():
    kept = columns(3)
    none = np.zeros(1, dtype=bool)
    for row, (bore, size) in enumerate([(0.02, "3/4"), (0.02, "3/4"), (0.03, "1")]):
        kept.keep(answer(1.0, "laminar", bore=bore, size=size), np.array([row]), none)
    finished = kept.finished(np.zeros(3, dtype=bool))
    assert finished["bore"].tolist() == [20.0, 20.0, 30.0]
    assert finished["smallest_nominal_size"] == ["3/4", "3/4", "1"]
    assert finished["regime"] == ["laminar"] * 3


def test_rows_at_fault_are_blank():
    kept = columns(4)
    refused = np.array([False, True, False, False])
    given = answer(np.array([1.0, 2.0, np.inf, 4.0]), Labels(np.array([0, 1, 2, 2]), NAMES))
    assert [(name, rows.tolist()) for name, rows in kept.keep(given, np.arange(4), refused)] == [("velocity", [2])]
    finished = kept.finished(refused)
    assert np.isnan(finished["velocity"]).tolist() == [False, True, True, False]
    assert np.isnan(finished["bore"]).tolist() == [False, True, False, False]
    assert finished["regime"] == ["laminar", None, "turbulent", "turbulent"]
    assert finished["within_limit"] == [True, None, True, True]


@pytest.mark.parametrize("shares", [[0.98, 0.01, 0.01], [0.4, 0.3, 0.3], [1.0, 0.0, 0.0], [0.0, 0.02, 0.98]])
def test_texts_of_many_rows(shares):
    codes = np.random.default_rng(3).choice(3, size=5000, p=shares)
    kept = columns(5000)
    kept.keep(answer(1.0, label(codes, NAMES)), np.arange(5000), np.zeros(5000, dtype=bool))
    assert kept.finished(np.zeros(5000, dtype=bool))["regime"] == [NAMES[code] for code in codes]


def test_batch_is_the_single_calls_row_by_row():
    flows = [0.2, 3.0, 9.0, -1.0, 40.0, 9.0]
    materials = ["copper_type_l", "pex_sdr9", "copper_type_l", "pex_sdr9", "pvc_schedule_40", "pex_sdr9"]
    sizes = ["1/2", "3/4", "3/4", "3/4", "4", "3/8"]
    request = {"flow": flows, "material": materials, "nominal_size": sizes, "units": "us"}
    batch = run_batch("pipe/velocity", request)
    assert [fault.rows for fault in batch.errors] == [[3]]
    for row, (flow, material, size) in enumerate(zip(flows, materials, sizes, strict=True)):
        if row == 3:
            assert np.isnan(batch["velocity"][row])
            continue
        one = run("pipe/velocity", {"flow": flow, "material": material, "nominal_size": size, "units": "us"})
        for name, column in batch.columns.items():
            single = getattr(one, name)
            assert (
                np.isnan(column[row]) if single is None and isinstance(column, np.ndarray) else column[row] == single
            ), name


def test_a_refused_combination_of_names_concerns_its_rows_only():
    request = {
        "flow": "9 gal/min",
        "material": ["copper_type_l", "pex_sdr9", "copper_type_l"],
        "nominal_size": ["3/4", "3/8", "3/8"],
    }
    batch = run_batch("pipe/velocity", request)
    assert [(fault.pointer, fault.rows) for fault in batch.errors] == [("/nominal_size", [2])]
    assert np.isfinite(batch["velocity"]).tolist() == [True, True, False]
    single = {**request, "material": "copper_type_l", "nominal_size": "3/8"}
    with pytest.raises(RequestRefused):
        run_batch("pipe/velocity", single)


def test_rows_with_one_misspelling_cost_one_search_for_a_near_name(monkeypatch: pytest.MonkeyPatch) -> None:
    searched: list[str] = []

    def nearest(name: str, _: object) -> str:
        searched.append(name)
        return "gal/min"

    monkeypatch.setattr(quantity, "nearest", nearest)
    answer = run_batch("pipe/velocity", {"flow": [f"{row} gal/minn" for row in range(1, 1001)], "bore": "20 mm"})
    (fault,) = answer.errors
    assert fault.rows == list(range(1000))
    assert fault.message.endswith("Did you mean 'gal/min'?")
    assert searched == ["gal/minn"]


def test_what_is_no_number_in_a_column_is_named_with_its_row():
    column = {"value": [6, "x", -9, None, 1e9], "unit": "gal/min"}
    with pytest.raises(RequestRefused) as refused:
        run_batch("pipe/velocity", {"flow": column, "bore": "20 mm"})
    (fault,) = refused.value.faults
    assert (fault.pointer, fault.given, fault.rows) == ("/flow", "x", [1])
    assert "Row 1 is text." in fault.message


@pytest.mark.parametrize("units", [{"units": "us"}, {}])
def test_null_in_a_column_is_a_row_without_a_value(units):
    flow = ["6 gal/min", None] if not units else [6, "7", None]
    batch = run_batch("pipe/velocity", {"flow": flow, "bore": "20 mm", **units})
    (fault,) = batch.errors
    assert (fault.code, fault.message, fault.rows) == ("number_not_finite", "The value is missing.", [len(flow) - 1])


@pytest.mark.parametrize(
    ("flow", "given"),
    [
        ([], "an empty list"),
        ({"value": [], "unit": "L/min"}, "an empty list"),
        (b"\x00", "binary data"),
        ({"value": [1.0, b"x"], "unit": "L/min"}, "binary data"),
    ],
)
def test_what_was_sent_in_place_of_a_column_is_named_in_words(flow, given):
    with pytest.raises(RequestRefused) as refused:
        run_batch("pipe/velocity", {"flow": flow, "bore": "20 mm"})
    assert [(fault.pointer, fault.given) for fault in refused.value.faults] == [("/flow", given)]
