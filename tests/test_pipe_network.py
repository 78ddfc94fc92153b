"""Networks of two branches solved by another engine: tests/reference/branches.csv names it, and how it was run."""

import csv
from pathlib import Path

import pytest

from dosewright.calculations.running import run

ROWS = list(
    csv.DictReader((Path(__file__).parent / "reference" / "branches.csv").read_text(encoding="utf-8").splitlines())
)
DENSITY, GRAVITY = 999.97, 9.80665  # water of 4 degC
# Head: the engine's constants have four figures; split: it stops when flows change by less than 1e-6.
HEAD, SPLIT = 1e-3, 5e-4


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_network(row):
    segments = []
    for place, branch in (("1", None), ("a", "a"), ("b", "b"), ("2", None)):
        pipe = {
            "kind": "pipe",
            "length": f"{row[f'length_{place}']} m",
            "bore": f"{row[f'bore_{place}']} mm",
            "hazen_williams_c": row[f"coefficient_{place}"],
        }
        fitting = {"kind": "fitting", "loss_coefficient": row[f"loss_{place}"]}
        segments += [{**one, **({"branch": branch} if branch else {})} for one in (pipe, fitting)]
    ask = {"flow": f"{row['flow']} L/s", "method": "hazen_williams", "water_temperature": "4 degC", "units": "si"}
    given = run("pipe/pressure-drop", {**ask, "segments": segments})
    assert given.pressure_drop / (DENSITY * GRAVITY) == pytest.approx(float(row["head"]), rel=HEAD)
    assert given.segments[2].flow * 1000 == pytest.approx(float(row["flow_a"]), rel=SPLIT)
    assert given.segments[4].flow * 1000 == pytest.approx(float(row["flow"]) - float(row["flow_a"]), rel=SPLIT)


def test_rows_name_their_source():
    assert len(ROWS) == 25
    for row in ROWS:
        assert row["source"]
        assert row["status"] == "computed"
