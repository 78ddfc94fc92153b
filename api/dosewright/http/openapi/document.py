"""The OpenAPI 3.1 document, built from the register, so it matches the code."""

from collections.abc import Iterator, Mapping
from typing import Any, cast

from dosewright import __version__
from dosewright.engine.registry import Calculation, calculations
from dosewright.http.formats import FORMATS, offers
from dosewright.http.openapi.answer_schemas import answer_schemas, shared_schemas
from dosewright.http.openapi.control_schemas import control_parameters, control_schemas, form_set
from dosewright.http.openapi.quantity_schemas import Schema, camel, quantity_schemas, ref
from dosewright.http.openapi.query_parameters import query_parameters, shared_parameters
from dosewright.http.openapi.request_schemas import request_schemas
from dosewright.http.problems import KINDS_OF_PROBLEM
from dosewright.quantities import KINDS

__all__ = ["TOPICS", "document", "flat", "schemas_used"]

TOPICS = {
    "chlorine": "Shock chlorination, contact time and the chemistry of chlorine.",
    "demand": "Peak flow of a house.",
    "pipe": "Velocity, pressure drop and contents of pipework.",
    "site": "Water test, mounting place, start-up, upkeep, and the plan of the whole installation.",
    "uv": "Dose, derated flow and inactivation in an ultraviolet chamber.",
}


_INFO: Schema = {
    "title": "Dosewright",
    "version": __version__,
    "summary": "Checked disinfection calculations for private wells.",
    "description": (
        "Ultraviolet and chlorine disinfection and the pipework around them. Every calculation is a GET and a POST of "
        "the same inputs, and a batch over columns. Quantities carry their units; answers carry units, warnings, "
        "cautions, sources, and an address that repeats the calculation. A null member counts as absent. The "
        "service keeps no state."
    ),
    "license": {"name": "MIT", "identifier": "MIT"},
}


def document(root: str = "/") -> Schema:
    """Return the whole document; `root` is the address of its paths."""
    entries = calculations().values()
    schemas: dict[str, Schema] = {**shared_schemas(), **control_schemas(), "Health": _HEALTH}
    for kind in KINDS.values():
        schemas.update(quantity_schemas(kind))
    paths: dict[str, Schema] = {}
    for entry in entries:
        for found in (request_schemas(entry), answer_schemas(entry)):
            _refuse_two_of_one_name(schemas, found)
            schemas.update(found)
        both = [*_format_parameters(entry), ref("parameters", "Pick")]
        paths[f"/v1/{entry.path}"] = {"parameters": both, "get": _get(entry), "post": _post(entry)}
        if entry.batch:
            paths[f"/v1/{entry.path}/batch"] = {"post": _batch(entry)}
    paths.update(_plain_paths())
    parameters = {**control_parameters(), **shared_parameters(paths)}
    responses = {**_responses(), **{camel(entry.operation): _answer(entry) for entry in entries}}
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
            "schemas": schemas_used([paths, parameters, responses, ref("schemas", "Problem")], schemas),
            "responses": responses,
            "parameters": parameters,
            "headers": _headers(),
        },
    }


def _refuse_two_of_one_name(known: Mapping[str, Schema], found: Mapping[str, Schema]) -> None:
    """Raise if two different schemas would have one name; descriptions are ignored."""
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


def flat(schemas: Mapping[str, Schema]) -> dict[str, Schema]:
    """Return schemas with what they share written into each: some editors read no more than that."""
    return {name: _flat(schema, schemas) for name, schema in schemas.items()}


def _flat(schema: Schema, schemas: Mapping[str, Schema]) -> Schema:
    if "allOf" not in schema:
        return schema
    parts = [schemas[name] for name in _refs(schema["allOf"])]
    own = {name: value for name, value in schema.items() if name not in ("allOf", "unevaluatedProperties")}
    properties: Schema = {}
    required: list[str] = []
    for part in [*parts, schema]:
        properties.update(part.get("properties", {}))
        required += part.get("required", ())
    closed: Schema = {"additionalProperties": False} if "unevaluatedProperties" in schema else {}
    return {**own, "properties": properties, **({"required": required} if required else {}), **closed}


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


# Of one kind, problem details, so that one reference covers all of them.
_REFUSALS = (400, 406, 413, 415, 422)


def _responses() -> dict[str, Schema]:
    titles = dict(KINDS_OF_PROBLEM.values())
    content = {"application/problem+json": {"schema": ref("schemas", "Problem")}}
    titled = "; ".join(f"{status}: {titles[status]}" for status in _REFUSALS)
    return {
        "NotFound": {"description": titles[404], "content": content},
        "NotModified": {"description": "Not changed since the given ETag."},
        "Refused": {"description": f"{titled}. 413 and 415 apply only to requests with a body.", "content": content},
    }


def _headers() -> dict[str, Schema]:
    return {
        "ETag": {"description": "On GET: changes when the answer does.", "schema": {"type": "string"}},
        "RequestId": {"description": "Finds the request in the logs.", "schema": {"type": "string"}},
    }


def _answer(entry: Calculation[Any, Any]) -> Schema:
    """Return what a calculation answers to a GET and to a POST."""
    schema = ref("schemas", f"{camel(entry.operation)}Answer")
    headers = {"X-Request-Id": ref("headers", "RequestId"), "ETag": ref("headers", "ETag")}
    return {"description": "The answer.", "headers": headers, "content": _contents(entry, schema, batch=False)}


def _batch_answer(entry: Calculation[Any, Any]) -> Schema:
    schema = ref("schemas", f"{camel(entry.operation)}BatchAnswer")
    headers = {"X-Request-Id": ref("headers", "RequestId")}
    return {"description": "The answer.", "headers": headers, "content": _contents(entry, schema, batch=True)}


def _contents(entry: Calculation[Any, Any], schema: Schema, *, batch: bool) -> dict[str, Schema]:
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
    return content


_REFUSED: Schema = {"4XX": ref("responses", "Refused")}


_GET_DOC = "As POST, in an address: a parameter has the same meaning as the member with its name."
_BATCH_DOC = "Any quantity can be a column with one entry per row; rows with errors are listed."


def _get(entry: Calculation[Any, Any]) -> Schema:
    parameters = [
        *query_parameters(entry),
        ref("parameters", "Units"),
        ref("parameters", "AnswerUnits"),
        ref("parameters", "Decimal"),
        ref("parameters", "Errors"),
    ]
    return {
        **_operation(entry, f"{entry.operation}_get", _GET_DOC),
        "parameters": parameters,
        "responses": {
            "200": ref("responses", camel(entry.operation)),
            "304": ref("responses", "NotModified"),
            **_REFUSED,
        },
    }


def _format_parameters(entry: Calculation[Any, Any]) -> list[Schema]:
    found = [ref("parameters", f"Format{form_set(entry.path)}")]
    return [*found, ref("parameters", "Paper")] if offers(entry.path, FORMATS["pdf"]) else found


def _post(entry: Calculation[Any, Any]) -> Schema:
    name = camel(entry.operation)
    return {
        **_operation(entry, entry.operation, entry.description),
        "requestBody": _body(f"{name}Request", dict(entry.example)),
        "responses": {"200": ref("responses", name), **_REFUSED},
    }


def _batch(entry: Calculation[Any, Any]) -> Schema:
    return {
        **_operation(entry, f"{entry.operation}_batch", _BATCH_DOC),
        "summary": f"{entry.summary}, over columns",
        "parameters": [ref("parameters", "BatchFormat")],
        "requestBody": _body(f"{camel(entry.operation)}Columns"),
        "responses": {"200": _batch_answer(entry), **_REFUSED},
    }


def _body(schema: str, example: Mapping[str, Any] | None = None) -> Schema:
    body: Schema = {"schema": ref("schemas", schema), **({"example": example} if example else {})}
    content = {"application/json": body, "application/msgpack": {"schema": ref("schemas", schema)}}
    return {"required": True, "content": content}


def _operation(entry: Calculation[Any, Any], name: str, description: str) -> Schema:
    return {
        "operationId": name,
        "tags": [entry.topic],
        "summary": entry.summary,
        "description": description,
    }


_HEALTH: Schema = {
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
            ("live", "Whether the process responds", "For a supervisor that restarts a process that does not respond."),
            ("ready", "Whether calculations can run", "For a load balancer."),
        )
    }
