"""The kinds of field in requests and answers, one module each: its description in a contract, and its reader."""

from dosewright.engine.fields.choice import Choice
from dosewright.engine.fields.day import Day
from dosewright.engine.fields.field import MISSING, default
from dosewright.engine.fields.flag import Flag
from dosewright.engine.fields.items import Items, Part
from dosewright.engine.fields.measure import Measure
from dosewright.engine.fields.section import Section
from dosewright.engine.fields.series import Series
from dosewright.engine.fields.text import Text

__all__ = [
    "MISSING",
    "Choice",
    "Day",
    "Flag",
    "Items",
    "Measure",
    "Part",
    "Section",
    "Series",
    "Text",
    "default",
]
