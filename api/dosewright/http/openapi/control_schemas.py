"""The controls of an address, as the OpenAPI document describes them: form of the answer, decimal sign, units."""

from functools import cache

from dosewright.engine.registry import calculations
from dosewright.http.controls import CONTROLS
from dosewright.http.formats import FORMATS, offers
from dosewright.http.openapi.quantity_schemas import UNITS_DOC, Schema, named_texts, ref

__all__ = ["control_parameters", "control_schemas", "form_set"]


def control_schemas() -> dict[str, Schema]:
    """Return the schemas of the controls' closed sets of values, by name."""
    listed = [name for name in FORMATS if name not in _UNLISTED]
    own = {f"AnswerFormat{more}": path for more, path in _extra_paths().items()}
    common = [name for name in listed if not (FORMATS[name].picture or FORMATS[name].only)]
    return {
        "AnswerFormat": named_texts(common, _FORMAT_DOC),
        **{
            name: named_texts([one for one in listed if offers(path, FORMATS[one])], _PICTURE_DOC)
            for name, path in own.items()
        },
        "BatchFormat": named_texts([name for name in common if FORMATS[name].batch], _FORMAT_DOC),
        "DecimalSign": named_texts(CONTROLS["decimal"], _DECIMAL_DOC),
        "ErrorForm": named_texts(CONTROLS["errors"], _ERRORS_DOC),
        "Paper": named_texts(CONTROLS["paper"], _PAPER_DOC),
    }


_PAPER_DOC = "Paper of a PDF page (default: a4)."


# Forms that only some calculations offer, by the form that identifies them; a picture is a drawing too.
_EXTRAS = {"pdf": "OrPage", "png": "OrPicture", "svg": "OrDrawing", "ics": "OrCalendar"}


@cache
def form_set(path: str) -> str:
    """Return what names the set of forms that a calculation answers in; empty for the common one."""
    extras = {form: name for form, name in _EXTRAS.items() if offers(path, FORMATS[form])}
    if "png" in extras:
        del extras["svg"]
    return "".join(extras.values())


@cache
def _extra_paths() -> dict[str, str]:
    """Return each set of forms that goes beyond the common ones, with a calculation that has it."""
    sets = {form_set(path): path for path in calculations()}
    return {name: sets[name] for name in sorted(sets) if name}


# JSON too, but of another shape: listed, it would turn every answer's type in a generated client into two.
_UNLISTED = {"table"}
_FORMAT_DOC = (
    "Format of the answer; overrides Accept. There is also table: JSON with one flat record per row, for "
    "the query editors of spreadsheets."
)
_PICTURE_DOC = (
    f"{_FORMAT_DOC} svg and png are pictures of the answer, pdf is a page to print, ics a calendar to subscribe to."
)
_DECIMAL_DOC = "With comma, numbers in the query and in a text, CSV or HTML answer have a decimal comma."
_ERRORS_DOC = "With text, an error is a short text with status 200, for functions that hide an error's body."


def control_parameters() -> dict[str, Schema]:
    """Return the parameters that every calculation's address takes, by name."""
    return {
        "Format": _control("format", "AnswerFormat", _FORMAT_DOC),
        **{f"Format{more}": _control("format", f"AnswerFormat{more}", _PICTURE_DOC) for more in _extra_paths()},
        "Paper": _control("paper", "Paper", _PAPER_DOC),
        "BatchFormat": _control("format", "BatchFormat", _FORMAT_DOC),
        "Decimal": _control("decimal", "DecimalSign", _DECIMAL_DOC),
        "Errors": _control("errors", "ErrorForm", _ERRORS_DOC),
        "Units": _control("units", "UnitProfile", UNITS_DOC),
        "AnswerUnits": {
            "name": "answer_units",
            "in": "query",
            "schema": {"type": "string"},
            "description": "Units of single fields of the answer, written name:unit;name:unit.",
        },
        "Pick": {
            "name": "pick",
            "in": "query",
            "schema": {"type": "string"},
            "description": "Name of the one value to answer as bare text (format=text), e.g. for a spreadsheet cell.",
        },
    }


def _control(name: str, schema: str, description: str) -> Schema:
    return {"name": name, "in": "query", "schema": ref("schemas", schema), "description": description}
