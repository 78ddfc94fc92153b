"""A new kind of field is one new module: everything that shows or reads a field asks the field itself."""

from __future__ import annotations

import argparse
import ast
import datetime as dt
import inspect
import re
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType, ModuleType
from typing import TYPE_CHECKING, Annotated, Any, Generic

import pytest

from asgi import send
from client_source import calls_sources
from dosewright.cli import main, options, template
from dosewright.engine import registry
from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields import Measure
from dosewright.engine.fields.field import Alias, Description, Field, Reading, Refs, Structs
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.run import run
from dosewright.http.app import create_app
from dosewright.http.openapi.document import document
from dosewright.http.openapi.request_schemas import request_schemas
from dosewright.http.page.contract import _field as page_field
from dosewright.present.workbook.inputs import inputs_of
from dosewright_sdk import InProcess

if TYPE_CHECKING:
    pass


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

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        return {"schema": {"type": "string", "pattern": "^(0[1-9]|1[0-2])$"}, "description": self.doc}

    def annotation(self, alias: Alias, *, batch: bool) -> str:
        return "str"


class SeasonRequest(Request, Generic[Q]):
    """A month of opening."""

    opened: Annotated[int, Month("Month in which the cottage is opened.", example="05")]


class SeasonAnswer(Answer, Generic[N]):
    """How long it is open."""

    open_time: Annotated[N, Measure("time", "Time until the end of the year.")]


@pytest.fixture
def entry(monkeypatch: pytest.MonkeyPatch) -> registry.Calculation[Any, Any]:
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
    assert isinstance(options.parser_for(entry), argparse.ArgumentParser)
    (one,) = inputs_of(entry, entry.example)
    assert (one.name, one.doc, one.example) == ("opened", "Month in which the cottage is opened.", "05")


def test_every_door_takes_it(entry: registry.Calculation[Any, Any], capsys: pytest.CaptureFixture[str]) -> None:
    service, media, body = create_app(), {"content-type": "application/json"}, b'{"opened": "05", "units": "si"}'
    got = send("GET", "/v1/site/season?opened=05&units=si", service=service)
    posted = send("POST", "/v1/site/season", [body], media, service=service)
    assert got.json()["open_time"] == posted.json()["open_time"] == 244 * 86400.0
    assert got.json()["question"] == "/v1/site/season?opened=05&units=si"
    refused = send("GET", "/v1/site/season?opened=13", service=service)
    assert refused.status == 422
    assert [(one["pointer"], one["allowed"]) for one in refused.json()["errors"]] == [("/opened", "01 to 12")]
    rows = send("POST", "/v1/site/season/batch", [body], media, service=service)
    assert rows.json()["columns"]["open_time"] == [244 * 86400.0]
    assert main(["calc", "site", "season", "--opened", "05", "--units", "si", "--pick", "open_time"]) == 0
    assert float(capsys.readouterr().out) == 244 * 86400.0


def test_the_document_and_the_client_have_it(entry: registry.Calculation[Any, Any]) -> None:
    whole = document()
    (parameter,) = (
        one for one in whole["paths"]["/v1/site/season"]["get"]["parameters"] if one.get("name") == "opened"
    )
    assert parameter["schema"]["pattern"] == "^(0[1-9]|1[0-2])$"
    assert whole["components"]["schemas"]["SiteSeasonRequest"]["required"] == ["opened"]
    source = calls_sources()["site.py"]
    client = ModuleType("generated_calls")
    exec(compile(source, "generated_calls", "exec"), client.__dict__)  # noqa: S102 - our own generator
    assert client.SiteCalls(InProcess()).season(opened="05", units="si").open_time == 244 * 86400.0
    assert str(inspect.signature(client.SiteCalls.season).parameters["opened"].annotation) == "str"


ROOT = Path(__file__).parents[2]
FIELDS = ROOT / "api" / "dosewright" / "engine" / "fields"
SOURCES = "".join(path.read_text("utf-8") for path in FIELDS.glob("*.py"))
KINDS = set(re.findall(r"^class (\w+Field)\(Field\)", SOURCES, re.MULTILINE))
# What holds other fields shapes a document or a form, and may be named by who walks through it.
WITH_FIELDS_INSIDE = {"ItemsField", "SectionField"}
# Not the kind, but what it alone has: names to share, a unit to show.
NAMED_FOR_WHAT_THEY_ALONE_HAVE = {
    "api/dosewright/http/openapi/request_schemas.py": {"ChoiceField"},
    "sdk/client_source.py": {"ChoiceField"},
    "api/dosewright/present/workbook/inputs.py": {"MeasureField"},
}


def test_no_module_but_its_own_names_a_kind() -> None:
    """Nothing outside `engine/fields` asks for a kind, so that a new one touches its own file and its test."""
    assert {"DayField", "FlagField", "SeriesField"} < KINDS
    modules = [path for folder in ("api", "sdk") for path in sorted((ROOT / folder).rglob("*.py"))]
    named: dict[str, set[str]] = {}
    for path in modules:
        name = path.relative_to(ROOT).as_posix()
        if path.parent == FIELDS or name.startswith("api/dosewright/topics/"):
            continue
        words = {node.id for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.Name)}
        if found := words & KINDS - WITH_FIELDS_INSIDE:
            named[name] = found
    assert named == NAMED_FOR_WHAT_THEY_ALONE_HAVE
