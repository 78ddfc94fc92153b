"""A new kind of field is one new module: everything that shows or reads a field asks the field itself."""

from __future__ import annotations

import argparse
import datetime as dt
import importlib
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, Generic

import pytest

from dosewright.cli import options, template
from dosewright.engine import registry
from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields import Measure
from dosewright.engine.fields.field import Alias, Description, Field, Reading, Refs, Structs
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.run import run
from dosewright.http.openapi.request_schemas import request_schemas
from dosewright.http.page.contract import _field as page_field
from dosewright.present.workbook.inputs import inputs_of

if TYPE_CHECKING:
    from collections.abc import Iterator


@dataclass(frozen=True)
class Month(Description):
    """A month of any year, written MM."""

    doc: str
    example: str | None = None

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> Field:
        return MonthField(name, default, self)


class MonthField(Field):
    """Reads a month."""

    __slots__ = ()
    control = "text"
    placeholder = "MONTH"

    @property
    def limits(self) -> str:
        return "01 to 12"

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        if not (isinstance(given, str) and len(given) == 2 and given.isdigit() and 1 <= int(given) <= 12):
            reading.fault(at + self.name, "wrong_type", "Expected a month, for example 07.", given, self.limits)
            return None
        reading.query_parameters.append(f"{self.name}={given}")
        return int(given)

    def help(self) -> list[str]:
        return ["A month, 01 to 12."]

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        return {"type": "string", "pattern": "^(0[1-9]|1[0-2])$", "description": self.doc}

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        return "str"


class SeasonRequest(Request, Generic[Q]):
    """A month of opening."""

    opened: Annotated[int, Month("Month in which the cottage is opened.", example="05")]


class SeasonAnswer(Answer, Generic[N]):
    """How long it is open."""

    open_time: Annotated[N, Measure("time", "Time until the end of the year.")]


@pytest.fixture
def entry(monkeypatch: pytest.MonkeyPatch) -> Iterator[registry.Calculation[Any, Any]]:
    monkeypatch.setattr(registry, "_REGISTER", dict(registry._REGISTER))
    monkeypatch.setattr(registry, "_BY_ANSWER", dict(registry._BY_ANSWER))

    @registry.calculation(
        "site/season",
        request=SeasonRequest,
        answer=SeasonAnswer,
        summary="Time that a cottage is open",
        example=MappingProxyType({"opened": "05"}),
    )
    def season(ask: Any, notes: Any) -> SeasonAnswer[float]:
        """Count the days."""
        return SeasonAnswer(open_time=(dt.date(2026, 12, 31) - dt.date(2026, ask.opened, 1)).days * 86400.0)

    return season


def test_it_is_read_and_refused(entry: registry.Calculation[Any, Any]) -> None:
    answer = run(entry.path, {"opened": "05", "units": "si"})
    assert answer.open_time == 244 * 86400.0
    assert answer.question == "/v1/site/season?opened=05&units=si"
    with pytest.raises(RequestRefused, match="for example 07"):
        run(entry.path, {"opened": "13"})


def test_every_place_shows_it(entry: registry.Calculation[Any, Any]) -> None:
    (field,) = reader_for(entry.request).fields
    schema = request_schemas(entry)["SiteSeasonRequest"]["properties"]["opened"]
    assert schema["pattern"] == "^(0[1-9]|1[0-2])$"
    assert page_field(field, {})["type"] == "text"
    text = " ".join(options.parser_for(entry).format_help().split())
    assert "--opened MONTH" in text
    assert "A month, 01 to 12." in text
    assert 'opened = "05"' in "\n".join(template._field(field, entry.example))
    (one,) = inputs_of(entry, entry.example)
    assert (one.name, one.doc, one.example) == ("opened", "Month in which the cottage is opened.", "05")


def test_no_module_but_its_own_names_a_kind(entry: registry.Calculation[Any, Any]) -> None:
    for name in ("cli.options", "http.openapi.document", "http.page.contract", "engine.writing"):
        held = vars(importlib.import_module(f"dosewright.{name}"))
        kinds = [key for key in held if key in {"ChoiceField", "FlagField", "DayField", "SeriesField"}]
        assert kinds == [], name
    assert isinstance(options.parser_for(entry), argparse.ArgumentParser)
