"""Samples after a chlorination: two clear ones in a row, far enough apart and without chlorine."""

from itertools import pairwise
from typing import Any

import numpy as np

from dosewright.core.constants import ROUNDING
from dosewright.engine.base import Basis
from dosewright.engine.fields.unread import known_only
from dosewright.engine.notes import Notes, label
from dosewright.engine.registry import Views, calculation
from dosewright.quantities import Numbers
from dosewright.tables.chlorination import retest_rule
from dosewright.topics.chlorine.contracts.retest import CountedSample, RetestAnswer, RetestRequest
from dosewright.topics.chlorine.page import chlorine_page

__all__ = ["retest"]

Ask = RetestRequest[Numbers]

_COUNTS = ("clear", "not_clear", "too_early", "too_soon", "chlorinated", "chlorine_not_measured")
_VERDICTS = ("cleared", "sample_again", "disinfect_again", "do_not_use")
_NOT_CLEAR = 1
_NOT_MEASURED = 5
# What a sample says of the water until it is cleared: the verdict's place among the names.

_RULE = Basis(
    method="cleared by so many clear samples in a row; one that is not clear sends back to the start, one too early, "
    "too soon or with chlorine in it does not count",
    source="two in a row 24 h apart: COMAR 26.04.04.30 D(1)(a); a week after the flushing: Allegany County Health "
    "Department; chlorine in a sample: common practice, no source",
    validity="where these rules hold; the local authority's come first",
)


@calculation(
    "chlorine/retest",
    views=Views(page=chlorine_page),
    request=RetestRequest,
    answer=RetestAnswer,
    summary="Whether samples after a chlorination clear the water",
    example={
        "samples": [
            {"taken_after": "3 d", "coliform": "absent", "total_chlorine": "0.3 mg/L"},
            {"taken_after": "8 d", "coliform": "absent", "total_chlorine": "0 mg/L"},
            {"taken_after": "10 d", "coliform": "absent", "total_chlorine": "0 mg/L"},
        ],
        "first_sample_after": "7 d",
        "samples_apart": "24 h",
        "clear_samples": "2",
    },
)
def retest(ask: RetestRequest[Numbers], notes: Notes) -> RetestAnswer[Numbers]:
    """Count the clear samples in a row after a chlorination, and say what follows.

    Coliform bacteria once more mean that the cause is still there: a flaw of the well, its cap or its surroundings is
    found and mended before the next chlorination.
    """
    row: Any = 0.0 * ask.clear_samples
    counted_at: Any = -np.inf
    told: list[CountedSample[Numbers]] = []
    for sample in ask.samples:
        code = _code(ask, sample, counted_at)
        row = np.where(code == _NOT_CLEAR, 0.0, row + 1.0 * (code == 0))[()]
        counted_at = np.where(code == 0, sample.taken_after, np.where(code == _NOT_CLEAR, -np.inf, counted_at))[()]
        told.append(CountedSample(counts=label(code, _COUNTS), clear_in_a_row=row))
    raw = _worst(ask.raw_coliform, ask.raw_e_coli)
    if raw > 1:  # the chlorination has failed, however clear the treated water is: none of its samples counts
        row = 0.0 * row
    wanted = np.maximum(ask.clear_samples - row, 0.0)
    worst = max(raw, *(_worst(sample.coliform, sample.e_coli) for sample in ask.samples))
    verdict = np.where(wanted > 0.0, worst, 0)[()]
    again = np.maximum(ask.first_sample_after, counted_at + ask.samples_apart)
    notes.rest_on(_RULE)
    _note(ask, verdict, notes)
    return RetestAnswer(
        verdict=label(verdict, _VERDICTS),
        clear_in_a_row=row,
        still_wanted=wanted,
        next_sample_after=_next(again, verdict),
        samples=told,
    )


@retest.check("samples")
def _(ask: Ask, notes: Notes) -> None:
    message = "Samples go in the order they were taken."
    for number, (earlier, later) in enumerate(pairwise(ask.samples), 1):
        with known_only():
            early = later.taken_after < earlier.taken_after
            notes.refuse("out_of_order", f"samples/{number}/taken_after", message, when=early)


@retest.check("clear_samples")
def _(ask: Ask, notes: Notes) -> None:
    message = "Give a whole number."
    notes.refuse("not_whole", "clear_samples", message, when=ask.clear_samples % 1.0 != 0.0, allowed="1, 2, 3 …")


def _code(ask: Ask, sample: Any, counted_at: Any) -> Any:
    """Return what becomes of a sample, by its place among the names; bacteria count whenever they are found."""
    if sample.coliform != "absent" or sample.e_coli == "present":
        return np.intp(_NOT_CLEAR)
    if sample.total_chlorine is None:
        return np.intp(_NOT_MEASURED)
    chlorinated = sample.total_chlorine > ask.chlorine_limit * (1.0 + ROUNDING)
    early = sample.taken_after < ask.first_sample_after * (1.0 - ROUNDING)
    soon = sample.taken_after < (counted_at + ask.samples_apart) * (1.0 - ROUNDING)
    return np.where(chlorinated, 4, np.where(early, 2, np.where(soon, 3, 0)))[()]


def _worst(coliform: str | None, e_coli: str | None) -> int:
    """Return the place of the worst verdict that a sample allows while the water is not cleared."""
    if e_coli == "present":
        return 3
    return 2 if coliform == "present" else 1


def _next(again: Any, verdict: Any) -> Numbers | None:
    if np.ndim(verdict) == 0 and np.ndim(again) == 0:
        return again[()] if verdict == 1 else None
    return np.where(verdict == 1, again, np.nan)


def _note(ask: Ask, verdict: Any, notes: Notes) -> None:
    message = "Coliform bacteria are still there: find and mend the way they come in, then chlorinate again."
    notes.warn("coliform_present", "verdict", message, when=verdict == 2)
    message = (
        "E. coli is there: no drinking, cooking or brushing teeth with this water unless it was boiled; call the "
        "health authority."
    )
    notes.warn("e_coli_present", "verdict", message, when=verdict == 3)
    found = [(sample.coliform, sample.e_coli) for sample in ask.samples] + [(ask.raw_coliform, ask.raw_e_coli)]
    if ("present", None) in found:
        message = (
            "Coliforms are present and E. coli was not tested: until it is, boil the water as if E. coli were there."
        )
        notes.warn("e_coli_not_tested", "samples", message)
    if any(sample.coliform == "absent" and sample.total_chlorine is None for sample in ask.samples):
        message = (
            "Chlorine was not measured in every sample. Chlorine left in a sample can give a false clear result, so "
            "such a sample does not count: measure it at the tap when the sample is taken."
        )
        notes.warn("chlorine_not_measured", "samples", message)
    _note_raw(ask, notes)
    wait, source = retest_rule("wait")
    message = f"Shorter than the week of {source}: bacteria that were only stunned may not show yet."
    notes.warn("wait_short", "first_sample_after", message, when=ask.first_sample_after < wait * (1.0 - ROUNDING))
    wanted, source = retest_rule("clear_samples")
    message = f"Fewer than the {wanted:g} clear samples in a row of {source}."
    notes.warn("too_few_samples", "clear_samples", message, when=ask.clear_samples < wanted)
    notes.caution("chlorine_drinking", "well_authority", "local_rules")


def _note_raw(ask: Ask, notes: Notes) -> None:
    if ask.raw_coliform is None and ask.raw_e_coli is None:
        message = (
            "Take a sample of the raw water beside the treated one: a clear sample behind the UV unit does not show "
            "whether the well is clean."
        )
        notes.warn("raw_sample_needed", "raw_coliform", message)
    if "present" in {ask.raw_coliform, ask.raw_e_coli}:
        message = "Bacteria are in the raw water: the well is not clean, and only the treatment keeps the tap clear."
        notes.warn("raw_water_not_clear", "raw_coliform", message)
