"""A series: every way to write it, its place in an address, its faults."""

from __future__ import annotations

import numpy as np
import pytest

from dosewright.engine.fields import Measure, Series
from dosewright.engine.fields.field import Reading
from dosewright.engine.fields.series import SeriesField
from dosewright.quantities import Quantity

FIELD = SeriesField("times", None, Series(Measure("short_time", "Times.", above="0 s", at_most="1 h"), 1, 5))
SHARES = SeriesField("parts", None, Series(Measure("plain", "Parts.", at_least="0"), 1, 5))


def read(given, *, field=FIELD, profile=None, query=False):
    reading = Reading(query=query)
    reading.profile = profile
    return field.read(given, "/", reading), reading


@pytest.mark.parametrize(
    "given",
    [
        ["30 s", "1 min", "90 s"],
        "30 s, 1 min, 90 s",
        "30 s; 1 min; 90 s",
        "30, 60, 90 s",
        "30,60,90 s",
        {"value": [30, 60.0, 90], "unit": "s"},
        {"value": [0.5, 1, 1.5], "unit": "min"},
        Quantity([30.0, 60.0, 90.0], "s"),
        ["30, 60 s", "90 s"],
        [{"value": 0.5, "unit": "min"}, "60 s", {"value": 90, "unit": "s"}],
    ],
)
def test_every_way_to_write_it_means_the_same(given):
    values, reading = read(given)
    assert not reading.faults
    assert values == pytest.approx((30.0, 60.0, 90.0), rel=1e-15)


@pytest.mark.parametrize("given", [[30, 60, 90], (30.0, 60.0, 90.0), np.array([30.0, 60.0, 90.0]), "30,60,90"])
def test_bare_numbers_need_a_profile(given):
    assert read(given, profile="metric")[0] == (30.0, 60.0, 90.0)
    values, reading = read(given)
    assert values is None
    assert [fault.code for fault in reading.faults] == ["unit_missing"] * 3
    assert [fault.pointer for fault in reading.faults] == ["/times/0", "/times/1", "/times/2"]


def test_plain_numbers_need_none():
    assert read([1, 2, 3], field=SHARES)[0] == read("1,2,3", field=SHARES)[0] == (1.0, 2.0, 3.0)


@pytest.mark.parametrize(
    ("given", "asked"),
    [("30,60 s", "times=30,60%20s"), (["30 s", "1 min"], "times=30%20s,1%20min"), (["0.5 min"], "times=0.5%20min")],
)
def test_in_an_address_it_stands_as_it_can_be_read_again(given, asked):
    first, reading = read(given)
    assert reading.query_parameters == [asked]
    again, reading = read([asked.partition("=")[2].replace("%20", " ")], query=True)
    assert (again, reading.query_parameters) == (first, [asked])


@pytest.mark.parametrize(
    ("given", "pointer", "code"),
    [
        ([], "/times", "out_of_range"),
        ("1,2,3,4,5,6 s", "/times", "out_of_range"),
        (7, "/times", "wrong_type"),
        ({"value": [1.0]}, "/times", "quantity_form"),
        (["1 s", "0 s"], "/times/1", "out_of_range"),
        ("1 s,2 h", "/times/1", "out_of_range"),
        ("1 s,", "/times/1", None),
        (["1 s", None], "/times/1", None),
        (["1 s", [2.0]], "/times/1", None),
        ({"value": [1.0, float("nan")], "unit": "s"}, "/times/1", "number_not_finite"),
        ({"value": [[1.0], 2.0], "unit": "s"}, "/times/0", None),
    ],
)
def test_faults_name_their_place(given, pointer, code):
    values, reading = read(given)
    assert values is None
    (fault,) = reading.faults
    assert fault.pointer == pointer
    assert code is None or fault.code == code
