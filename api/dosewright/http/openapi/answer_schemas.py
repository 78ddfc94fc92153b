"""Schemas of answers, and what all calculations share: warnings, cautions, methods, faults."""

from collections.abc import Mapping
from typing import Any

from dosewright.engine.registry import Calculation
from dosewright.engine.writing import answer_fields
from dosewright.http.openapi.quantity_schemas import UNITS_DOC, Schema, camel, named_texts, ref
from dosewright.quantities import PROFILES

__all__ = ["answer_schemas", "shared_schemas"]

_ENVELOPE: dict[str, Schema] = {
    "units": {
        **ref("schemas", "UnitsByField"),
        "description": "Unit of each numeric field; a field of list items is named list.field.",
    },
    "warnings": {"type": "array", "items": ref("schemas", "Warn"), "description": "Warnings: check these."},
    "cautions": {"type": "array", "items": ref("schemas", "Caution"), "description": "Dangers in the work."},
    "basis": {"type": "array", "items": ref("schemas", "Basis"), "description": "Methods, sources, validity."},
    "inputs": {**ref("schemas", "Inputs"), "description": "The values used, with defaults, in SI."},
    "defaults": {**ref("schemas", "DefaultsUsed"), "description": "Each default that was used."},
    "question": {"type": ["string", "null"], "description": "Path and query that repeat this calculation."},
    "version": {"type": "string", "description": "Version that answered."},
}
_ROWS: Schema = {"type": "integer", "description": "Number of rows."}
_COMMON = ("units", "warnings", "cautions", "basis", "defaults", "version")
_ERRORS: Schema = {"type": "array", "items": ref("schemas", "Fault"), "description": "Rows with errors, and why."}


def _answer_properties(struct: type[Any], schemas: dict[str, Schema]) -> dict[str, Schema]:
    properties: dict[str, Schema] = {}
    for field in answer_fields(struct):
        if field.kind is not None:
            schema: Schema = {"type": ["number", "null"] if field.optional else "number"}
        elif field.struct is not None:
            name = field.struct.__name__
            inner = _answer_properties(field.struct, schemas)
            schemas[name] = {"type": "object", "properties": inner, "required": list(inner)}
            schema = {"type": "array", "items": ref("schemas", name)} if field.many else ref("schemas", name)
            if field.optional:
                schema = {"anyOf": [schema, {"type": "null"}]}
        elif "section" in field.schema:
            schema = ref("schemas", f"{camel(field.schema['section'])}Answer")
            if field.schema["many"]:
                schema = {"type": "array", "items": schema}
            if field.optional:
                schema = {"anyOf": [schema, {"type": "null"}]}
        else:
            schema = _or_null(field.schema) if field.optional else dict(field.schema)
        properties[field.name] = {**schema, "description": field.doc}
    return properties


def answer_schemas(entry: Calculation[Any, Any]) -> dict[str, Schema]:
    """Return the schemas of a calculation's answer, single and batch, and of its items."""
    schemas: dict[str, Schema] = {}
    own = _answer_properties(entry.answer, schemas)
    name = camel(entry.operation)
    doc = (entry.answer.__doc__ or "").strip()
    schemas[f"{name}Answer"] = {
        "description": doc,
        "allOf": [ref("schemas", "AnyResult"), ref("schemas", "AnyAnswer")],
        "type": "object",
        "properties": own,
        "required": list(own),
    }
    columns = _answer_columns(entry.answer)
    schemas[f"{name}AnswerColumns"] = {
        "description": f"One column per field of {name}Answer; fields of list items are named list.index.field.",
        "type": "object",
        "properties": columns,
        "required": list(columns),
        "additionalProperties": ref("schemas", "AnswerColumn"),
    }
    schemas[f"{name}BatchAnswer"] = {
        "allOf": [ref("schemas", "AnyResult"), ref("schemas", "AnyBatchAnswer")],
        "type": "object",
        "properties": {"columns": ref("schemas", f"{name}AnswerColumns")},
        "required": ["columns"],
    }
    return schemas


def _answer_columns(struct: type[Any]) -> dict[str, Schema]:
    columns: dict[str, Schema] = {}
    for field in answer_fields(struct):
        if field.struct is None:
            if field.kind is not None:
                columns[field.name] = ref("schemas", "AnswerNumbers")
            else:
                columns[field.name] = {"type": "array", "items": _or_null(field.schema)}
    return columns


def _or_null(schema: Mapping[str, Any]) -> Schema:
    messages: Any = schema.get("anyOf", (schema,))
    kinds = [kind for kind in messages if kind != {"type": "null"}]
    if len(kinds) == 1 and isinstance(kinds[0].get("type"), str) and "enum" not in kinds[0]:
        return {**kinds[0], "type": [kinds[0]["type"], "null"]}
    return {"anyOf": [*kinds, {"type": "null"}]}


def _envelope(description: str, properties: Mapping[str, Schema]) -> Schema:
    return {"description": description, "type": "object", "properties": properties, "required": list(properties)}


def _texts(**fields: str) -> Schema:
    properties = {name: {"type": "string", "description": doc} for name, doc in fields.items()}
    return {"type": "object", "properties": properties, "required": list(fields)}


def _fault_schemas() -> dict[str, Schema]:
    rows = {"type": "array", "items": {"type": "integer"}, "description": "Rows of a batch concerned, from 0."}
    warning = _texts(
        code="Stable name.", field="Field concerned.", message="What is wrong or uncertain, and what to do."
    )
    warning["properties"]["rows"] = rows
    fault = _texts(
        pointer="JSON pointer to the value.", code="Stable name.", message="What is wrong and how to fix it."
    )
    fault["properties"].update(
        given={"type": "string", "description": "What was sent, shortened."},
        allowed={
            "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}],
            "description": "What would be accepted.",
        },
        rows=rows,
    )
    problem = _texts(
        type="Identifies the kind of problem.", title="The kind in words.", detail="What is wrong this time."
    )
    problem["properties"].update(
        status={"type": "integer", "description": "HTTP status."},
        errors={"type": "array", "items": ref("schemas", "Fault"), "description": "Every fault."},
        request_id={"type": "string", "description": "Finds the request in the logs."},
    )
    problem["required"] = ["type", "title", "status", "detail"]
    return {
        "Warn": {**warning, "description": "A warning about the answer."},
        "Fault": {**fault, "description": "One fault of a request."},
        "Problem": {**problem, "description": "Why a request failed (RFC 9457)."},
    }


_ANY_REQUEST: Schema = {
    "description": "Fields of every request.",
    "type": "object",
    "properties": {
        "units": {**ref("schemas", "UnitProfile"), "description": UNITS_DOC},
        "answer_units": {
            **ref("schemas", "UnitsByField"),
            "description": "Units of single fields of the answer.",
        },
    },
}


def shared_schemas() -> Mapping[str, Schema]:
    """Return the schemas that all calculations share."""
    texts: Schema = {"type": "object", "additionalProperties": {"type": "string"}}
    return {
        "AnswerColumn": {"type": "array", "items": {"type": ["number", "string", "boolean", "null"]}},
        "AnswerNumbers": {"type": "array", "items": {"type": ["number", "null"]}},
        # Two references each: a common generator takes a lone one for another name of the same schema.
        "AnyResult": _envelope("Fields of every answer.", {name: _ENVELOPE[name] for name in _COMMON}),
        "AnyAnswer": _envelope(
            "Further fields of an answer to one request.",
            {name: _ENVELOPE[name] for name in _ENVELOPE if name not in _COMMON},
        ),
        "AnyBatchAnswer": _envelope(
            "Further fields of a batch answer; a row with errors is null in each column.",
            {"rows": _ROWS, "errors": _ERRORS},
        ),
        "AnyRequest": _ANY_REQUEST,
        "AnySection": {"description": "A section of a plan.", "type": "object"},
        "UnitProfile": named_texts(PROFILES, UNITS_DOC),
        "UnitsByField": {**texts, "description": "Units by the name of the field."},
        "DefaultsUsed": {**texts, "description": "Defaults by the name of the field."},
        "Inputs": {
            "type": "object",
            "additionalProperties": True,
            "description": "Inputs by the name of the field.",
        },
        **_fault_schemas(),
        "Caution": {
            **_texts(code="Stable name.", message="The danger and what to do."),
            "description": "A danger to people or property in the work.",
        },
        "Basis": {
            **_texts(method="Method.", source="Where it is published.", validity="Where it is valid."),
            "description": "A method, where it is published, and where it is valid.",
        },
    }
