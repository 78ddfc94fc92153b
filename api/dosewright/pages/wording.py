"""Numbers and names as a page says them: one rule of rounding, told on the page."""

from collections.abc import Mapping

from dosewright.pictures.chart import shown_unit

__all__ = ["ROUNDING", "duration", "in_words", "measured", "number", "said"]

_DIGITS = 3
ROUNDING = (
    f"Numbers on this page are rounded to {_DIGITS} significant figures; whole numbers below "
    "10,000 that are exact are written out. The answer in JSON holds every digit; nothing was calculated from a "
    "rounded number."
)
_NAMES: Mapping[str, str] = {
    "uvt": "UVT",
    "ph": "pH",
    "e_coli": "E. coli",
    "total_coliform": "total coliform",
    "nitrate_nitrogen": "nitrate (as nitrogen)",
    "chlorinated_ph": "pH once chlorinated",
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


def number(value: float) -> str:
    """Return a number rounded by the page's rule, without an exponent where a person would write none."""
    if value == 0.0:
        return "0"
    if value == int(value) and abs(value) < 10_000.0:
        return f"{value:.0f}"
    text = f"{value:.{_DIGITS}g}"
    if "e" not in text:
        return text
    return f"{float(text):,.0f}" if 1.0 <= abs(value) < 1e9 else text


def measured(value: float | None, unit: str) -> str:
    """Return a number with its unit; a dash where there is none."""
    if value is None:
        return "–"
    if unit == "1":
        return number(value)
    return f"{number(value)} {shown_unit(unit)}".rstrip()


_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86_400.0}


def duration(value: float | None, unit: str) -> str:
    """Return a time in the largest unit that it holds twice, or once and no more; as it is where it is no time."""
    if value is None or unit not in _SECONDS:
        return measured(value, unit)
    seconds = value * _SECONDS[unit]
    fitting = [name for name, size in _SECONDS.items() if seconds >= 2.0 * size or seconds == size]
    shown = fitting[-1] if fitting else "s"
    return measured(seconds / _SECONDS[shown], shown)


def said(text: str) -> str:
    """Return a written quantity, rounded by the page's rule."""
    value, _, unit = text.partition(" ")
    return measured(float(value), unit)


def in_words(name: str) -> str:
    """Return a stable name as words, the first in capitals."""
    told = _NAMES.get(name, name.replace("_", " "))
    return told if told[:1].isupper() or told.startswith("pH") else told[:1].upper() + told[1:]
