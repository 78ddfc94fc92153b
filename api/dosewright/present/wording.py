"""Names and verdicts as a page says them."""

from collections.abc import Mapping

from dosewright.engine.sentences import capitalised
from dosewright.present.rounding import Side, measured

__all__ = ["VERDICTS", "WEIGHTS", "in_words", "said"]

VERDICTS: Mapping[str, tuple[str, str]] = {
    "go": ("Go", "By what was given, ultraviolet disinfection fits this water and this house."),
    "treat_first": ("Treat or mend first", "Ultraviolet disinfection comes after what is named below is done."),
    "do_not": ("Do not install so", "What is named below first speaks against it."),
    "incomplete": ("Cannot be judged yet", "Too little was given to judge; what is missing is named below."),
}
"""A plan's verdict in words, and what it means."""
WEIGHTS: Mapping[str, str] = {"stop": "Stops it", "fix_first": "To be done first", "look": "Worth a look"}
"""What a reason of a plan weighs, in words."""
_NAMES: Mapping[str, str] = {
    "uvt": "UVT",
    "ph": "pH",
    "e_coli": "E. coli",
    "total_coliform": "total coliform",
    "nitrate_nitrogen": "nitrate (as nitrogen)",
    "chlorinated_ph": "pH once chlorinated",
    "ph_before": "pH before anything goes in",
    "ph_after_vinegar": "pH with the vinegar, before the chlorine",
    "ph_after_both": "pH with vinegar and chlorine",
    "ct_achieved": "CT achieved",
    "ct_required": "CT required",
    "ct_required_table": "CT required by the table",
    "raw_ph": "pH before the chlorine",
    "ph_target": "pH wanted",
    "pka": "pKa",
    "dilute_pka": "pKa in dilute water",
    "other_pka": "pKa by the other relation",
    "us_kitchen": "US kitchen",
}


def said(text: str, side: Side | None = None) -> str:
    """Return a written quantity, rounded by the page's rule, to a side where one is named."""
    value, _, unit = text.partition(" ")
    return measured(float(value), unit, side)


def in_words(name: str) -> str:
    """Return a stable name as words, the first in capitals."""
    return capitalised(_NAMES.get(name, name.replace("_", " ")))
