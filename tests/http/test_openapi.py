"""The OpenAPI document as it is emitted: that it says of every field what the code does, and that its examples run."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

import hypothesis.strategies as st
import jsonschema_rs
import pytest
from hypothesis import given

from asgi import Reply, get, post, send
from contract_walk import BATCHED, ENTRIES, FEW, changed, every_field, quantities, top_fields, values_near
from dosewright.engine.fields import MISSING
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.registry import calculations, find
from dosewright.engine.writing import answer_fields
from dosewright.http.formats import FORMATS, offers
from dosewright.http.openapi.document import document
from dosewright.quantities import PROFILES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from dosewright.engine.fields.field import Field
    from dosewright.engine.registry import Calculation
    from dosewright.quantities import Kind

ROOT = Path(__file__).parents[2]
DOCUMENT = document()
SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]
METHODS = ("get", "post", "put", "delete")


def operations() -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, item in DOCUMENT["paths"].items():
        for method in METHODS:
            if method in item:
                yield path, method, item[method]


def operation(entry: Calculation[Any, Any], method: str, suffix: str = "") -> dict[str, Any]:
    return DOCUMENT["paths"][f"/v1/{entry.path}{suffix}"][method]


def parameters_of(entry: Calculation[Any, Any], method: str, suffix: str = "") -> list[dict[str, Any]]:
    """Return the parameters of a method, with those of its whole path."""
    item = DOCUMENT["paths"][f"/v1/{entry.path}{suffix}"]
    return [resolved(one) for one in (*item.get("parameters", ()), *item[method].get("parameters", ()))]


def resolved(value: dict[str, Any]) -> dict[str, Any]:
    """Return what a reference leads to, with what it shares with others; what is written beside the reference wins."""
    while "$ref" in value:
        target: Any = DOCUMENT
        for part in value["$ref"].removeprefix("#/").split("/"):
            target = target[part]
        value = {**target, **{name: inner for name, inner in value.items() if name != "$ref"}}
    for shared in map(resolved, value.get("allOf", ())):
        properties = {**shared.get("properties", {}), **value["properties"]}
        value = {
            **value,
            "properties": properties,
            "required": [*shared.get("required", ()), *value.get("required", ())],
        }
    return value


def told(schema: dict[str, Any]) -> str:
    """Return all descriptions on the way from a field to what its reference leads to."""
    words = [schema.get("description", "")]
    while "$ref" in schema:
        schema = resolved({"$ref": schema["$ref"]})
        words.append(schema.get("description", ""))
    return "\n".join(words)


def body_schema(entry: Calculation[Any, Any], suffix: str = "") -> dict[str, Any]:
    return operation(entry, "post", suffix)["requestBody"]["content"]["application/json"]["schema"]


def answer_schema(entry: Calculation[Any, Any], suffix: str = "") -> dict[str, Any]:
    return resolved(operation(entry, "post", suffix)["responses"]["200"])["content"]["application/json"]["schema"]


def validator(schema: dict[str, Any]) -> Any:
    return _validator(json.dumps(schema))


@cache
def _validator(schema: str) -> Any:
    return jsonschema_rs.validator_for({**json.loads(schema), "components": DOCUMENT["components"]})


def assert_valid(schema: dict[str, Any], value: Any) -> None:
    problems = [f"{error.instance_path}: {error.message[:300]}" for error in validator(schema).iter_errors(value)]
    assert not problems, problems


def properties_of(holder: type[Any]) -> dict[str, Any]:
    """Return the properties of a request, of one of its items, or of another request that is one of its sections."""
    asked = next((one for one in calculations().values() if one.request is holder), None)
    schema = SCHEMAS[holder.__name__] if asked is None else body_schema(asked)
    return resolved(schema)["properties"]


def assert_profiles_told(text: str, kind: Kind) -> None:
    for profile in PROFILES:
        assert re.search(rf"\b{profile}\W+{re.escape(kind.profiles[profile].symbol)}", text), (profile, text)


def test_the_committed_document_is_the_emitted_one_and_the_served_one() -> None:
    committed = json.loads((ROOT / "openapi" / "openapi.json").read_text("utf-8"))
    assert committed == DOCUMENT
    served = get("/openapi.json")
    assert served.headers["content-type"] == "application/json"
    assert served.json() == DOCUMENT
    assert len(served.body) < 505_000  # a client reads it at each start of a page


def test_the_document_is_compact_and_pretty_on_request() -> None:
    served, pretty = get("/openapi.json"), get("/openapi.json?pretty")
    assert b"\n" not in served.body
    assert pretty.body.startswith(b'{\n  "openapi"')
    assert pretty.json() == served.json()
    assert get("/openapi.json?pretty=true").body == pretty.body
    assert get("/openapi.json?pretty=false").body == served.body


def test_every_schema_is_a_schema_and_every_reference_leads_somewhere() -> None:
    for schema in SCHEMAS.values():
        jsonschema_rs.meta.validate({"$schema": "https://json-schema.org/draft/2020-12/schema", **schema})
    found: set[str] = set()

    def walk(value: Any) -> None:
        if isinstance(value, dict):
            if "$ref" in value:
                found.add(value["$ref"])
                resolved(value)
            for inner in value.values():
                walk(inner)
        elif isinstance(value, list):
            for inner in value:
                walk(inner)

    walk(DOCUMENT)
    declared = {f"#/components/{section}/{name}" for section, parts in DOCUMENT["components"].items() for name in parts}
    assert found == declared  # none missing, none left over


def test_operation_ids_are_unique_and_follow_from_the_path() -> None:
    ids = {path + method: one["operationId"] for path, method, one in operations()}
    assert len(set(ids.values())) == len(ids)
    for path, entry in calculations().items():
        name = path.replace("/", "_").replace("-", "_")
        assert entry.operation == name
        assert ids[f"/v1/{path}get"] == f"{name}_get"
        assert ids[f"/v1/{path}post"] == name
        assert ids.get(f"/v1/{path}/batchpost") == (f"{name}_batch" if entry.batch else None)


def test_every_operation_is_described_under_a_described_tag() -> None:
    tags = {tag["name"]: tag["description"] for tag in DOCUMENT["tags"]}
    assert all(tags.values())
    for path, _, one in operations():
        assert one["summary"], path
        assert not one["summary"].endswith("."), path
        assert one["description"], path
        assert set(one["tags"]) <= set(tags), path
        assert any(status.startswith("4") for status in one["responses"]), path


@ENTRIES
def test_every_field_states_meaning_bounds_example_and_profile_units(entry: Calculation[Any, Any]) -> None:
    count = 0
    for holder, field in every_field(entry):
        schema = properties_of(holder)[field.name]
        assert schema.get("description") or told(schema), field.name
        if isinstance(field, MeasureField):
            count += 1
            assert_measure(field, schema, holder)
        elif isinstance(field, ChoiceField):
            named = resolved(schema)
            # A name that a laboratory prints otherwise has other forms beside its names.
            one = named if "enum" in named else resolved(named["anyOf"][0])
            assert one["enum"] == list(field.names), field.name
        if field.default_text:
            assert f"Default: {field.default_text}." in told(schema), field.name
    assert count


def assert_measure(field: MeasureField, schema: dict[str, Any], holder: type[Any]) -> None:
    text = told(schema)
    assert field.measure.doc in text, field.name
    assert field.measure.allowed in text, field.name
    if field.kind.symbols:
        assert_profiles_told(text, field.kind)
    assert field.measure.example is not None or field.default_text, f"{holder.__name__}.{field.name} has no example"
    assert schema.get("examples", []) == ([field.measure.example] if field.measure.example is not None else [])
    for example in [*schema.get("examples", []), *([field.default_text] if field.default_text else [])]:
        assert_valid(schema, example)


@ENTRIES
def test_required_fields_and_no_others_are_required(entry: Calculation[Any, Any]) -> None:
    required = [field.name for field in top_fields(entry) if field.default is MISSING]
    schema = resolved(body_schema(entry))
    assert sorted(schema.get("required", [])) == sorted(required)
    assert schema["unevaluatedProperties" if "allOf" in schema else "additionalProperties"] is False
    assert {*schema["properties"]} == {*(field.name for field in top_fields(entry)), "units", "answer_units"}
    parameters = {one["name"]: one for one in parameters_of(entry, "get")}
    assert {name for name, one in parameters.items() if one.get("required")} == set(required)


@ENTRIES
def test_every_query_parameter_has_the_name_and_units_of_a_member_of_the_body(entry: Calculation[Any, Any]) -> None:
    parameters = {one["name"]: one for one in parameters_of(entry, "get")}
    assert {"units", "answer_units", "format", "pick"} <= parameters.keys()
    assert "has the same meaning as the member with its name" in operation(entry, "get")["description"]
    for field in top_fields(entry):
        if isinstance(field, SectionField):
            assert_section_told(field, parameters[field.name])
            continue
        one = parameters[field.name]
        # Told once, at the member of the body; what is written otherwise than there is described here too.
        assert field.name in resolved(body_schema(entry))["properties"]
        assert ("description" in one) is isinstance(field, ItemsField)
        if isinstance(field, MeasureField):
            for symbol in field.kind.symbols:
                assert symbol in told(one["schema"])


def assert_section_told(field: SectionField, parameter: dict[str, Any]) -> None:
    """Hold a section to one object whose members are parameters of their own."""
    assert (parameter["style"], parameter["explode"]) == ("form", True)
    assert field.calculation in parameter["description"]
    at = f"{field.name}.0." if field.at_most else f"{field.name}."
    for one in top_fields(find(field.calculation)):
        assert validator(parameter["schema"]).is_valid({f"{at}{one.name}": "1"})
    assert not validator(parameter["schema"]).is_valid({"elsewhere.uvt": "1"})


def kinds_asked() -> list[tuple[Kind, dict[str, Any]]]:
    """Return each kind of quantity that any request holds, with the schema of one such field."""
    found: dict[str, tuple[Kind, dict[str, Any]]] = {}
    for entry in calculations().values():
        for holder, field in every_field(entry):
            if isinstance(field, MeasureField):
                found.setdefault(field.kind.name, (field.kind, properties_of(holder)[field.name]))
    return list(found.values())


@pytest.mark.parametrize(("kind", "schema"), kinds_asked(), ids=lambda part: getattr(part, "name", ""))
def test_the_pattern_of_a_quantity_takes_each_of_its_units(kind: Kind, schema: dict[str, Any]) -> None:
    for symbol in kind.symbols:
        for number in ("9", "-1.5e-3", ".5", "+2."):
            assert_valid(schema, f"{number} {symbol}")
        assert_valid(schema, {"value": 9, "unit": symbol})
    assert_valid(schema, 9)
    for wrong in ("9 furlong", "nan", "2,5", True, None, {"value": 9}, [9]):
        assert not validator(schema).is_valid(wrong), wrong


@ENTRIES
def test_the_example_fits_the_request_and_runs(entry: Calculation[Any, Any]) -> None:
    content = operation(entry, "post")["requestBody"]["content"]["application/json"]
    for suffix in ("", "/batch") if entry.batch else ("",):
        assert_valid(body_schema(entry, suffix), content["example"])
        assert post(f"/v1/{entry.path}{suffix}", content["example"]).status == 200
    schema = body_schema(entry)
    for wrong in ({**entry.example, "no_such_field": 1}, {**entry.example, "units": "imperial"}, []):
        assert not validator(schema).is_valid(wrong)


@ENTRIES
def test_the_examples_of_the_query_make_the_same_request(entry: Calculation[Any, Any]) -> None:
    pairs: list[tuple[str, Any]] = []
    for one in parameters_of(entry, "get"):
        if "example" in one:
            example = one["example"]
            assert_valid(one["schema"], example)
            pairs += pairs_of(one["name"], example)
    asked = get(f"/v1/{entry.path}?{urlencode(pairs, quote_via=quote)}")
    assert asked.status == 200, asked.body
    several = [field.name for field in top_fields(entry) if isinstance(field, SectionField) and field.at_most]
    if all(len(entry.example.get(name, ())) <= 1 for name in several):
        assert asked.json() == post(f"/v1/{entry.path}", dict(entry.example)).json()


def pairs_of(name: str, example: Any) -> list[tuple[str, str]]:
    """Return an example as the parameters it is sent as: a list repeats its name, an object's members have theirs."""
    if isinstance(example, list):
        return [pair for part in example for pair in pairs_of(name, part)]
    if isinstance(example, dict):
        return [pair for inner, part in example.items() for pair in pairs_of(inner, part)]
    return [(name, str(example).lower() if isinstance(example, bool) else str(example))]


@ENTRIES
@pytest.mark.parametrize("units", [None, *PROFILES])
def test_the_answer_fits_its_schema(entry: Calculation[Any, Any], units: str | None) -> None:
    payload = {**entry.example, **({"units": units} if units else {})}
    answer = post(f"/v1/{entry.path}", payload).json()
    assert_valid(answer_schema(entry), answer)
    assert_nothing_undeclared(answer_schema(entry), answer)


def assert_nothing_undeclared(schema: dict[str, Any], value: Any) -> None:
    """Hold every member of an answer to a declared and described property."""
    schema = resolved(schema)
    if isinstance(value, list):
        for item in value:
            assert_nothing_undeclared(schema["items"], item)
    elif isinstance(value, dict) and "properties" in schema:
        declared = schema["properties"]
        more = schema.get("additionalProperties", False)
        for name, inner in value.items():
            assert name in declared or more, name
            if name in declared:
                # A column has the meaning of the answer's field of that name; the schema of the columns refers to it.
                like = re.match(r"One column per field of (\w+);", schema.get("description", ""))
                meaning = resolved(SCHEMAS[like[1]])["properties"][name] if like else declared[name]
                assert told(meaning), name
                assert_nothing_undeclared(declared[name], inner)


@ENTRIES
@FEW
@given(data=st.data())
def test_any_answer_fits_its_schema(entry: Calculation[Any, Any], data: st.DataObject) -> None:
    changes = {leaf.keys: data.draw(values_near(leaf), label=leaf.pointer) for leaf in quantities(entry)}
    payload = changed(entry.example, changes)
    assert_valid(body_schema(entry), payload)
    reply = post(f"/v1/{entry.path}", payload)
    assert_valid(
        answer_schema(entry) if reply.status == 200 else {"$ref": "#/components/schemas/Problem"}, reply.json()
    )


@ENTRIES
def test_every_answer_field_is_declared(entry: Calculation[Any, Any]) -> None:
    properties = resolved(answer_schema(entry))["properties"]
    for field in answer_fields(entry.answer):
        assert properties[field.name]["description"] == field.doc
    assert {"units", "warnings", "cautions", "basis", "inputs", "defaults", "question", "version"} <= properties.keys()


@BATCHED
def test_the_answer_of_a_batch_fits_its_schema(entry: Calculation[Any, Any]) -> None:
    leaf = quantities(entry)[0]
    payload = changed(entry.example, {leaf.keys: [leaf.given, "nonsense"]})
    answer = post(f"/v1/{entry.path}/batch", payload).json()
    assert_valid(answer_schema(entry, "/batch"), answer)
    assert_nothing_undeclared(answer_schema(entry, "/batch"), answer)


@ENTRIES
def test_each_refusal_is_declared_with_problem_details(entry: Calculation[Any, Any]) -> None:
    path = f"/v1/{entry.path}"
    large = {"content-type": "application/json", "content-length": "999999999"}
    seen: dict[str, dict[int, Reply]] = {
        "get": {
            400: get(f"{path}?flow=%ff"),
            406: get(f"{path}?x=1", {"accept": "image/gif"}),
            422: get(f"{path}?no_such=1"),
        },
        "post": {
            400: send("POST", path, [b"{"], {"content-type": "application/json"}),
            406: post(path, {}, {"accept": "image/gif"}),
            413: send("POST", path, [b"{}"], large),
            415: send("POST", path, [b"{}"], {"content-type": "text/plain"}),
            422: post(path, {"no_such": 1}),
        },
    }
    for method, replies in seen.items():
        for status, reply in replies.items():
            assert reply.status == status
            response = resolved(operation(entry, method)["responses"]["4XX"])
            assert f"{status}: " in response["description"]
            content = response["content"]["application/problem+json"]
            assert_valid(content["schema"], reply.json())


@ENTRIES
def test_every_form_of_answer_is_declared(entry: Calculation[Any, Any]) -> None:
    for suffix, method in (("", "get"), ("", "post"), *([("/batch", "post")] if entry.batch else [])):
        one = operation(entry, method, suffix)
        forms = {
            name: form.media_type.partition(";")[0]
            for name, form in FORMATS.items()
            if (form.batch or not suffix) and offers(entry.path, form)
        }
        assert set(resolved(one["responses"]["200"])["content"]) == set(forms.values())
        (chosen,) = (part for part in parameters_of(entry, method, suffix) if part["name"] == "format")
        listed = resolved(chosen["schema"])["enum"]
        assert set(listed) <= set(FORMATS)
        for name in set(forms) - set(listed):
            assert re.search(rf"\b{name}\b", chosen["description"]), name


def names_of(field: Field) -> tuple[str, ...]:
    return tuple(field.names) if isinstance(field, ChoiceField) else ()


@ENTRIES
def test_names_need_no_quoting(entry: Calculation[Any, Any]) -> None:
    for _, field in every_field(entry):
        assert re.fullmatch("[a-z][a-z0-9_]*", field.name)
        for name in names_of(field):
            assert quote(name, safe="/") == name
            assert not set(name) & set(";:&=+#")
