"""Rows of a batch in a made-up calculation whose answers differ in form, are refused late, or come out infinite."""

# Annotations are read at run time here, so they are not put off.

import itertools
import math
from collections.abc import Iterator
from typing import Annotated, Any, Generic, Literal

import msgspec
import numpy as np
import pytest

from dosewright.core import arrays as core
from dosewright.engine import registry
from dosewright.engine.base import Answer, Basis, N, Q, Request
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields import Choice, Items, Measure, Text
from dosewright.engine.notes import Notes
from dosewright.engine.registry import calculation
from dosewright.engine.run import run
from dosewright.quantities import Numbers

PATH = "test/pieces"
# The form that comes second has fewer columns than the first, the third has more.
COUNTS = {"many": 3, "few": 1, "lots": 4}


class PiecesRequest(Request, Generic[Q]):
    """How many pieces of which size."""

    form: Annotated[Literal["many", "few", "lots"], Choice("How many.")]
    size: Annotated[Q, Measure("length", "Size of each.", above="0 m", at_most="100 m", example="1 m")]


class Piece(msgspec.Struct, Generic[N], kw_only=True):
    """One piece."""

    size: Annotated[N, Measure("length", "Its size.")]
    name: Annotated[str, Text("Its name.")]


class PiecesAnswer(Answer, Generic[N]):
    """All pieces."""

    inverse: Annotated[N, Measure("plain", "One over the distance from 2 m.")]
    spare: Annotated[N | None, Measure("length", "A spare one, where there are many.")]
    pieces: Annotated[list[Piece[N]], Items("The pieces.")]


@pytest.fixture(autouse=True)
def _registered() -> Iterator[None]:
    @calculation(
        PATH, request=PiecesRequest, answer=PiecesAnswer, summary="Pieces", example={"form": "few", "size": "1 m"}
    )
    def pieces(ask: PiecesRequest[Numbers], notes: Notes) -> PiecesAnswer[Numbers]:
        """Count pieces."""
        notes.add_basis(Basis(method=f"counting {ask.form}", source="made up", validity="here"))
        notes.refuse("too_big", "size", "Too big.", when=ask.size > 10.0)
        notes.warn("big", "size", "Big.", when=ask.size > 5.0)
        core.refuse_unless(np.not_equal(ask.size, 3.0), "size must not be 3 m")
        count = COUNTS[ask.form]
        return PiecesAnswer(
            inverse=np.divide(1.0, np.subtract(ask.size, 2.0)),
            spare=None if ask.form == "few" else 7.0,
            pieces=[Piece(size=ask.size, name=f"piece {number}") for number in range(count)],
        )

    yield
    registry._REGISTER.pop(PATH)


def row_of(form: str, size: float) -> dict[str, Any]:
    """Return what one row must hold, worked out by hand; nothing where it is refused."""
    if size > 10.0 or size in {2.0, 3.0}:
        return {}
    held: dict[str, Any] = {"inverse": 1.0 / (size - 2.0)}
    for number in range(COUNTS[form]):
        held |= {f"pieces.{number}.size": size, f"pieces.{number}.name": f"piece {number}"}
    return held if form == "few" else {**held, "spare": 7.0}


FORMS = list(COUNTS)
SIZES = [1.0, 2.0, 3.0, 6.0, 11.0]
ROWS = list(itertools.product(FORMS, SIZES))


@pytest.mark.parametrize(
    "order", [ROWS, ROWS[::-1], ROWS[::2] + ROWS[1::2], ROWS[:5], ROWS[5:10], ROWS[5:], [ROWS[4], ROWS[9]]]
)
def test_every_row_holds_its_own_and_nothing_else(order: list[tuple[str, float]]) -> None:
    batch = run_batch(PATH, {"form": [form for form, _ in order], "size": [size for _, size in order], "units": "si"})
    for row, (form, size) in enumerate(order):
        held = {
            name: column[row]
            for name, column in batch.columns.items()
            if column[row] is not None and not (isinstance(column[row], float) and math.isnan(column[row]))
        }
        assert held == row_of(form, size), (row, form, size)
    rows = range(len(order))
    outside = [row for row in rows if order[row][1] == 3.0]
    too_big = [row for row in rows if order[row][1] == 11.0]
    infinite = [row for row in rows if order[row][1] == 2.0]
    told = {fault.code: fault.rows for fault in batch.errors}
    assert told.get("too_big", []) == too_big
    assert told.get("result_not_finite", []) == infinite
    assert told.get("outside_model", []) == outside
    big = [row for row in rows if order[row][1] == 6.0]
    good = len(order) - len(too_big) - len(infinite) - len(outside)
    if big:
        (warning,) = batch.warnings
        assert warning.rows == (None if len(big) == good else big)
    else:
        assert batch.warnings == []
    answered = {form for form, size in order if row_of(form, size)}
    assert {basis.method for basis in batch.basis} == {f"counting {form}" for form in answered}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(("size", "code"), [(11.0, "too_big"), (2.0, "result_not_finite"), (3.0, "outside_model")])
def test_the_single_call_refuses_what_its_row_would(form: str, size: float, code: str) -> None:
    with pytest.raises(RequestRefused) as caught:
        run(PATH, {"form": form, "size": size, "units": "si"})
    assert [fault.code for fault in caught.value.faults] == [code]


def test_a_warning_of_all_good_rows_names_none() -> None:
    batch = run_batch(PATH, {"form": "few", "size": [6.0, 11.0, 7.0], "units": "si"})
    assert [warning.rows for warning in batch.warnings] == [None]


def test_one_row_that_cannot_be_computed_leaves_the_others() -> None:
    sizes = np.linspace(3.5, 9.5, 1000)
    sizes[[0, 400, 999]] = 3.0
    batch = run_batch(PATH, {"form": "few", "size": sizes, "units": "si"})
    (fault,) = batch.errors
    assert (fault.code, fault.rows) == ("outside_model", [0, 400, 999])
    good = np.delete(np.arange(1000), [0, 400, 999])
    assert batch["inverse"][good].tolist() == (1.0 / (sizes[good] - 2.0)).tolist()


def test_rows_that_cannot_be_computed_are_not_looked_for_without_end() -> None:
    batch = run_batch(PATH, {"form": "few", "size": np.full(100_000, 3.0), "units": "si"})
    (fault,) = batch.errors
    assert (fault.code, len(fault.rows or ())) == ("outside_model", 100_000)
