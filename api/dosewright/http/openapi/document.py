"""The OpenAPI 3.1 document, built from the register, so that it says what the code does."""

from collections.abc import Iterator, Mapping
from typing import Any, cast

from dosewright import __version__
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, calculations, find
from dosewright.http.formats import FORMATS, offers
from dosewright.http.openapi.answer_schemas import answer_schemas, shared_schemas
from dosewright.http.openapi.control_schemas import control_parameters, control_schemas, form_set
from dosewright.http.openapi.quantity_schemas import Schema, camel, quantity_schemas, ref
from dosewright.http.openapi.request_schemas import Refs, request_schemas
from dosewright.http.problems import KINDS_OF_PROBLEM
from dosewright.quantities import KINDS

__all__ = ["TOPICS", "document", "schemas_used"]

TOPICS = {
    "chlorine": "Batch chlorination, contact time and the chemistry of chlorine.",
    "demand": "Peak flow of a house.",
    "pipe": "Velocity, pressure drop and contents of pipework.",
    "site": "The place and the installation as a whole.",
    "uv": "Dose, derated flow and inactivation in an ultraviolet chamber.",
}


_INFO: Schema = {
    "title": "Dosewright",
    "version": __version__,
    "summary": "Checked disinfection calculations for private wells.",
    "description": (
        "Ultraviolet and chlorine disinfection and the pipework around them. Every calculation is a GET and a POST of "
        "the same inputs, and a batch over columns. Quantities carry their units; answers carry units, warnings, "
        "cautions, sources, and the address that asks the same again. A member that is null counts as left out. The "
        "service keeps no state."
    ),
    "license": {"name": "MIT", "identifier": "MIT"},
}


def document(root: str = "/") -> Schema:
    """Return the whole document; `root` is the address its paths stand under."""
    entries = calculations().values()
    schemas: dict[str, Schema] = {**shared_schemas(), **control_schemas(), "Health": _HEALTH}
    for kind in KINDS.values():
        schemas.update(quantity_schemas(kind))
    paths: dict[str, Schema] = {}
    for entry in entries:
        for found in (request_schemas(entry), answer_schemas(entry)):
            _refuse_two_of_one_name(schemas, found)
            schemas.update(found)
        paths[f"/v1/{entry.path}"] = {"get": _get(entry), "post": _post(entry)}
        if entry.batch:
            paths[f"/v1/{entry.path}/batch"] = {"post": _batch(entry)}
    paths.update(_plain_paths())
    topics = sorted({entry.topic for entry in entries})
    return {
        "openapi": "3.1.0",
        "info": _INFO,
        "servers": [{"url": root, "description": "This service"}],
        "security": [],
        "tags": [
            *({"name": topic, "description": TOPICS[topic]} for topic in topics),
            {"name": "service", "description": "Whether the service is up."},
        ],
        "paths": paths,
        "components": {
            "schemas": schemas_used([paths, control_parameters(), ref("schemas", "Problem")], schemas),
            "responses": _responses(),
            "parameters": control_parameters(),
            "headers": _headers(),
        },
    }


def _refuse_two_of_one_name(known: Mapping[str, Schema], found: Mapping[str, Schema]) -> None:
    """Raise where a name would stand for two schemas; the same in other words is one."""
    for name, schema in found.items():
        if name in known and {**known[name], "description": ""} != {**schema, "description": ""}:
            raise ValueError(f"two schemas would be called {name!r}")


def schemas_used(part: Any, schemas: Mapping[str, Schema]) -> dict[str, Schema]:
    """Return the schemas that a part of the document reaches, directly or through another, by name."""
    waiting, found = [*_refs(part)], set[str]()
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(_refs(schemas[name]))
    return {name: schemas[name] for name in sorted(found)}


def _refs(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in cast("dict[str, Any]", value).items():
            if key == "$ref" and inner.startswith("#/components/schemas/"):
                yield inner.rpartition("/")[2]
            else:
                yield from _refs(inner)
    elif isinstance(value, list):
        for inner in cast("list[Any]", value):
            yield from _refs(inner)


_REFUSALS = {
    "get": ("BadRequest", "NotAcceptable", "InvalidRequest"),
    "post": ("BadRequest", "NotAcceptable", "TooLarge", "UnsupportedMediaType", "InvalidRequest"),
}
_STATUS = {
    "BadRequest": 400,
    "NotFound": 404,
    "NotAcceptable": 406,
    "TooLarge": 413,
    "UnsupportedMediaType": 415,
    "InvalidRequest": 422,
}


def _responses() -> dict[str, Schema]:
    titles = dict(KINDS_OF_PROBLEM.values())
    content = {"application/problem+json": {"schema": ref("schemas", "Problem")}}
    return {name: {"description": titles[status], "content": content} for name, status in _STATUS.items()}


def _headers() -> dict[str, Schema]:
    return {
        "ETag": {"description": "Changes when the answer does.", "schema": {"type": "string"}},
        "RequestId": {"description": "Finds the request in the logs.", "schema": {"type": "string"}},
    }


def _answers(entry: Calculation[Any, Any], schema: Schema, *, get: bool, batch: bool) -> dict[str, Schema]:
    text: Schema = {"schema": {"type": "string"}}
    content = {
        form.media_type.partition(";")[0]: text
        for form in FORMATS.values()
        if (form.batch or not batch) and offers(entry.path, form)
    }
    for binary in ("image/png", "application/pdf"):
        if binary in content:
            content[binary] = {"schema": {"type": "string", "contentMediaType": binary}}
    content["application/msgpack"] = {"schema": schema}
    content["application/json"] = {"schema": schema}
    headers = {"X-Request-Id": ref("headers", "RequestId")}
    if get:
        headers["ETag"] = ref("headers", "ETag")
    answers: dict[str, Schema] = {"200": {"description": entry.summary, "headers": headers, "content": content}}
    if get:
        answers["304"] = {"description": "Not changed since the given ETag."}
    for name in _REFUSALS["get" if get else "post"]:
        answers[str(_STATUS[name])] = ref("responses", name)
    return answers


def _get(entry: Calculation[Any, Any]) -> Schema:
    parameters = [
        *_query_parameters(entry),
        ref("parameters", "Units"),
        ref("parameters", "AnswerUnits"),
        *_format_parameters(entry),
        ref("parameters", "Pick"),
        ref("parameters", "Decimal"),
        ref("parameters", "Errors"),
    ]
    schema = ref("schemas", f"{camel(entry.operation)}Answer")
    return {
        **_operation(entry, f"{entry.operation}_get", ""),
        "parameters": parameters,
        "responses": _answers(entry, schema, get=True, batch=False),
    }


def _query_parameters(entry: Calculation[Any, Any], prefix: str = "", example: Any = None) -> list[Schema]:
    """Return a calculation's fields as parameters; those of a section stand behind its name and a point."""
    reader = reader_for(entry.request)
    given: Mapping[str, Any] = entry.example if example is None else example
    parameters: list[Schema] = []
    refs = Refs(reader.struct)
    for field in reader.fields:
        if isinstance(field, SectionField):
            sections: Any = given.get(field.name) or {}
            at, section = f"{prefix}{field.name}.", sections
            if field.at_most:
                # A list is numbered in a query; its first entry stands for all.
                at, section = f"{at}0.", next(iter(sections), dict[str, Any]())
            inner = _query_parameters(find(field.calculation), at, section)
            parameters += [{**parameter, "required": False} for parameter in inner]
            continue
        parameter: Schema = {"name": prefix + field.name, "in": "query", "required": field.required}
        if field.name in given:
            parameter["example"] = field.query_text(given[field.name])
        parameters.append({**parameter, **field.query_schema(refs)})
    return parameters


def _format_parameters(entry: Calculation[Any, Any]) -> list[Schema]:
    found = [ref("parameters", f"Format{form_set(entry.path)}")]
    return [*found, ref("parameters", "Paper")] if offers(entry.path, FORMATS["pdf"]) else found


def _post(entry: Calculation[Any, Any]) -> Schema:
    name = camel(entry.operation)
    schema = ref("schemas", f"{name}Answer")
    return {
        **_operation(entry, entry.operation, ""),
        "parameters": [*_format_parameters(entry), ref("parameters", "Pick")],
        "requestBody": _body(f"{name}Request", dict(entry.example)),
        "responses": _answers(entry, schema, get=False, batch=False),
    }


def _batch(entry: Calculation[Any, Any]) -> Schema:
    return {
        **_operation(entry, f"{entry.operation}_batch", " Any quantity may be a column; rows at fault are told apart."),
        "summary": f"{entry.summary}, over columns",
        "parameters": [ref("parameters", "BatchFormat")],
        "requestBody": _body(f"{camel(entry.operation)}Columns", batch_example(entry)),
        "responses": _answers(entry, ref("schemas", f"{camel(entry.operation)}BatchAnswer"), get=False, batch=True),
    }


def batch_example(entry: Calculation[Any, Any]) -> dict[str, Any]:
    """Return the example with its first quantity doubled into a column."""
    example = dict(entry.example)
    for field in reader_for(entry.request).fields:
        if isinstance(field, MeasureField) and field.name in example:
            example[field.name] = [example[field.name]] * 2
            break
    return example


def _body(schema: str, example: Mapping[str, Any]) -> Schema:
    body: Schema = {"schema": ref("schemas", schema), "example": example}
    content = {"application/json": body, "application/msgpack": {"schema": ref("schemas", schema)}}
    return {"required": True, "content": content}


def _operation(entry: Calculation[Any, Any], name: str, more: str) -> Schema:
    return {
        "operationId": name,
        "tags": [entry.topic],
        "summary": entry.summary,
        "description": entry.description + more,
    }


_HEALTH: Schema = {
    "title": "Health",
    "description": "State of the service.",
    "type": "object",
    "properties": {"status": {"type": "string"}, "version": {"type": "string"}},
    "required": ["status", "version"],
}


def _plain_paths() -> dict[str, Schema]:
    answer = {"description": "It is.", "content": {"application/json": {"schema": ref("schemas", "Health")}}}
    return {
        f"/health/{name}": {
            "get": {
                "operationId": f"health_{name}",
                "tags": ["service"],
                "summary": summary,
                "description": description,
                "responses": {"200": answer, "404": ref("responses", "NotFound")},
            }
        }
        for name, summary, description in (
            ("live", "Whether the process answers", "For a supervisor that restarts what does not answer."),
            ("ready", "Whether calculations can be asked", "For a load balancer."),
        )
    }
