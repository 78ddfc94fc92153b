"""Names and quantities in the words of a page."""

from collections.abc import Mapping

from dosewright.engine.sentences import capitalised
from dosewright.present.rounding import Side, measured

__all__ = ["in_words", "rounded"]

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


def rounded(text: str, side: Side | None = None) -> str:
    """Return a written quantity, rounded by the page's rule, to a side where one is named."""
    value, _, unit = text.partition(" ")
    return measured(float(value), unit, side)


def in_words(name: str) -> str:
    """Return a stable name as words, the first in capitals."""
    return capitalised(_NAMES.get(name, name.replace("_", " ")))
