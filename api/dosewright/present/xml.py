"""Answers as XML without a namespace, so that ``//name`` finds a value; numbers always have a decimal point."""

import re
from typing import Any, cast
from xml.etree import ElementTree as ET

import msgspec

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.present.rows import is_answer, plain_text, records

__all__ = ["as_xml"]

_DECLARATION = '<?xml version="1.0" encoding="UTF-8"?>\n'
_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # characters that XML does not allow


def as_xml(answer: Answer | BatchAnswer[Any]) -> bytes:
    """Return an answer by its names, or a batch with an item a row."""
    root = ET.Element("answer")
    if isinstance(answer, Answer):
        _add_section(root, msgspec.to_builtins(answer))
    else:
        for record in records(answer):
            item = ET.SubElement(root, "item", n=str(record.pop("row")))
            for name, value in record.items():
                ET.SubElement(item, "value", name=name).text = _text(value)
    return f"{_DECLARATION}{ET.tostring(root, encoding='unicode', short_empty_elements=False)}\n".encode()


def _text(value: Any) -> str:
    return _FORBIDDEN.sub("\ufffd", value) if isinstance(value, str) else plain_text(value)


def _add_section(parent: ET.Element, answer: dict[str, Any]) -> None:
    """Add a whole answer with its units."""
    shown = {name: value for name, value in answer.items() if name not in {"inputs", "defaults", "units"}}
    _add(parent, shown, answer["units"], "")


def _add(parent: ET.Element, plain: dict[str, Any], units: dict[str, str], prefix: str) -> None:
    for name, value in plain.items():
        here = ET.SubElement(parent, name)
        if isinstance(value, list):
            for number, item in enumerate(cast("list[Any]", value), 1):
                _add_value(ET.SubElement(here, "item", n=str(number)), item, units, f"{prefix}{name}.")
        elif isinstance(value, dict):
            _add_value(here, value, units, f"{prefix}{name}.")
        else:
            here.text = _text(value)
            if unit := units.get(prefix + name):
                here.set("unit", unit)


def _add_value(here: ET.Element, value: Any, units: dict[str, str], prefix: str) -> None:
    if not isinstance(value, dict):
        here.text = _text(value)
    elif is_answer(value):
        _add_section(here, cast("dict[str, Any]", value))
    else:
        _add(here, cast("dict[str, Any]", value), units, prefix)
