"""Samples after a chlorination: two consecutive clear ones, far enough apart and without chlorine."""

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
_VERDICTS = ("suitable", "incomplete", "fix_first", "not_suitable")
_NOT_CLEAR = 1
_NOT_MEASURED = 5


_RULE = Basis(
    method="cleared by the required number of consecutive clear samples; a sample that is not clear starts the count "
    "again; a sample too early, too soon after another or with chlorine in it is not valid",
    source="two consecutive samples 24 h apart: COMAR 26.04.04.30 D(1)(a); a week after the flushing: Allegany County "
    "Health Department; chlorine in a sample: common practice, no source",
    validity="where these rules apply; the local authority's rules come first",
)


@calculation(
    "chlorine/retest",
    views=Views(page=chlorine_page),
    request=RetestRequest,
    answer=RetestAnswer,
    summary="Do the samples after a chlorination clear the water",
    example={
        "samples": [
            {"taken_after": "3 d", "coliform": "absent", "total_chlorine": "0.3 mg/L"},
            {"taken_after": "8 d", "coliform": "absent", "total_chlorine": "0 mg/L"},
            {"taken_after": "10 d", "coliform": "absent", "total_chlorine": "0 mg/L"},
        ],
        "first_sample_after": "7 d",
        "sample_interval": "24 h",
        "clear_samples": "2",
    },
)
def retest(ask: RetestRequest[Numbers], notes: Notes) -> RetestAnswer[Numbers]:
    """Count the consecutive clear samples after a chlorination, and say what to do next.

    If coliform bacteria come back, the cause is still there. Find and fix the fault in the well, its cap or its
    surroundings before you chlorinate again.
    """
    row: Any = 0.0 * ask.clear_samples
    counted_at: Any = -np.inf
    texts: list[CountedSample[Numbers]] = []
    for sample in ask.samples:
        code = _code(ask, sample, counted_at)
        row = np.where(code == _NOT_CLEAR, 0.0, row + 1.0 * (code == 0))[()]
        counted_at = np.where(code == 0, sample.taken_after, np.where(code == _NOT_CLEAR, -np.inf, counted_at))[()]
        texts.append(CountedSample(counted=label(code, _COUNTS), consecutive_clear_samples=row))
    raw = _worst(ask.raw_coliform, ask.raw_e_coli)
    if raw > 1:  # the chlorination has failed, however clear the treated water is: no sample is valid
        row = 0.0 * row
    needed = np.maximum(ask.clear_samples - row, 0.0)
    worst = max(raw, *(_worst(sample.coliform, sample.e_coli) for sample in ask.samples))
    verdict = np.where(needed > 0.0, worst, 0)[()]
    again = np.maximum(ask.first_sample_after, counted_at + ask.sample_interval)
    notes.add_basis(_RULE)
    _warn(ask, verdict, notes)
    return RetestAnswer(
        verdict=label(verdict, _VERDICTS),
        consecutive_clear_samples=row,
        required_samples_remaining=needed,
        next_sample=_next(again, verdict),
        samples=texts,
    )


@retest.check("samples")
def _(ask: Ask, notes: Notes) -> None:
    message = "Enter the samples in the order they were taken: this one is earlier than the one before."
    for number, (earlier, later) in enumerate(pairwise(ask.samples), 1):
        with known_only():
            early = later.taken_after < earlier.taken_after
            notes.refuse("out_of_order", f"samples/{number}/taken_after", message, when=early)


@retest.check("clear_samples")
def _(ask: Ask, notes: Notes) -> None:
    message = "clear_samples must be a whole number."
    notes.refuse("not_whole", "clear_samples", message, when=ask.clear_samples % 1.0 != 0.0, allowed="1, 2, 3 …")


def _code(ask: Ask, sample: Any, counted_at: Any) -> Any:
    """Return the result of a sample as an index of the names; bacteria are valid whenever the sample was taken."""
    if sample.coliform != "absent" or sample.e_coli == "present":
        return np.intp(_NOT_CLEAR)
    if sample.total_chlorine is None:
        return np.intp(_NOT_MEASURED)
    chlorinated = sample.total_chlorine > ask.chlorine_limit * (1.0 + ROUNDING)
    early = sample.taken_after < ask.first_sample_after * (1.0 - ROUNDING)
    soon = sample.taken_after < (counted_at + ask.sample_interval) * (1.0 - ROUNDING)
    return np.where(chlorinated, 4, np.where(early, 2, np.where(soon, 3, 0)))[()]


def _worst(coliform: str | None, e_coli: str | None) -> int:
    """Return the index of the verdict for a sample while the water is not cleared."""
    if e_coli == "present":
        return 3
    return 2 if coliform == "present" else 1


def _next(again: Any, verdict: Any) -> Numbers | None:
    if np.ndim(verdict) == 0 and np.ndim(again) == 0:
        return again[()] if verdict == 1 else None
    return np.where(verdict == 1, again, np.nan)


def _warn(ask: Ask, verdict: Any, notes: Notes) -> None:
    message = "Coliform bacteria are still present. Find and fix the way they get in, then chlorinate again."
    notes.warn("coliform_present", "verdict", message, when=verdict == 2)
    message = (
        "E. coli is present. Do not drink this water, cook or brush teeth with it unless it was boiled. Call the "
        "health authority."
    )
    notes.warn("e_coli_present", "verdict", message, when=verdict == 3)
    found = [(sample.coliform, sample.e_coli) for sample in ask.samples] + [(ask.raw_coliform, ask.raw_e_coli)]
    if ("present", None) in found:
        message = (
            "Coliforms are present and E. coli was not tested. Until it is tested, boil the water as if E. coli were "
            "present."
        )
        notes.warn("e_coli_not_tested", "samples", message)
    if any(sample.coliform == "absent" and sample.total_chlorine is None for sample in ask.samples):
        message = (
            "Chlorine was not measured in every sample. Chlorine left in a sample can give a false clear result, so "
            "that sample is not valid. Measure chlorine at the tap at sampling."
        )
        notes.warn("chlorine_not_measured", "samples", message)
    _warn_raw(ask, notes)
    wait, source = retest_rule("wait")
    message = (
        f"The wait is shorter than the week of {source}: bacteria that are only stunned can go undetected. Wait longer."
    )
    notes.warn("wait_too_short", "first_sample_after", message, when=ask.first_sample_after < wait * (1.0 - ROUNDING))
    needed, source = retest_rule("clear_samples")
    message = f"{source} requires {needed:g} consecutive clear samples; fewer are required here."
    notes.warn("too_few_samples", "clear_samples", message, when=ask.clear_samples < needed)
    notes.caution("chlorine_drinking", "well_authority", "local_rules")


def _warn_raw(ask: Ask, notes: Notes) -> None:
    if ask.raw_coliform is None and ask.raw_e_coli is None:
        message = (
            "Take a sample of the raw water as well: a clear sample after the UV unit does not show whether the well "
            "is clean."
        )
        notes.warn("raw_sample_needed", "raw_coliform", message)
    if "present" in {ask.raw_coliform, ask.raw_e_coli}:
        message = "The raw water contains bacteria: the well is not clean, and only the treatment keeps the tap clear."
        notes.warn("raw_water_not_clear", "raw_coliform", message)
