"""A text in an answer."""

from dataclasses import dataclass

from dosewright.engine.fields.field import Description

__all__ = ["Text"]


@dataclass(frozen=True)
class Text(Description):
    """A text in an answer."""

    doc: str
