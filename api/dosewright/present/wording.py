"""Names and verdicts in the words of a page."""

from collections.abc import Mapping

from dosewright.engine.sentences import capitalised
from dosewright.present.rounding import Side, measured

__all__ = ["VERDICTS", "WEIGHTS", "in_words", "said"]

VERDICTS: Mapping[str, tuple[str, str]] = {
    "go": ("Go", "According to the values entered, UV disinfection suits this water and this house."),
    "treat_first": ("Fix before installing", "Fix the points below first. Then UV disinfection can be installed."),
    "do_not": ("Do not install", "Do not install this unit as planned. Reasons below."),
    "incomplete": ("Not enough information", "The plan cannot be judged yet. Missing information is listed below."),
}
"""A plan's verdict in words, and what it means."""
WEIGHTS: Mapping[str, str] = {"stop": "Must be solved", "fix_first": "Fix first", "look": "Check"}
"""How severe a reason of a plan is, in words."""
_NAMES: Mapping[str, str] = {
    "uvt": "UVT",
    "ph": "pH",
    "e_coli": "E. coli",
    "total_coliform": "total coliform",
    "nitrate_nitrogen": "nitrate (as nitrogen)",
    "chlorinated_ph": "pH once chlorinated",
    "ph_before": "pH before any addition",
    "ph_after_vinegar": "pH after the vinegar, before the chlorine",
    "ph_after_both": "pH after vinegar and chlorine",
    "ct_achieved": "CT achieved",
    "ct_required": "CT required",
    "ct_required_table": "CT required by the table",
    "raw_ph": "pH before the chlorine",
    "ph_target": "target pH",
    "pka": "pKa",
    "dilute_pka": "pKa in dilute water",
    "other_pka": "pKa by the other equation",
    "us_kitchen": "US kitchen",
}


def said(text: str, side: Side | None = None) -> str:
    """Return a written quantity, rounded by the page's rule, to a side where one is named."""
    value, _, unit = text.partition(" ")
    return measured(float(value), unit, side)


def in_words(name: str) -> str:
    """Return a stable name as words, the first in capitals."""
    return capitalised(_NAMES.get(name, name.replace("_", " ")))
