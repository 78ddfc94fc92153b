"""The committed OpenAPI document against the last released one: nothing that a client relies on may go.

``openapi/released.json`` is the digest of the last release's document. A release whose version says that it breaks
things (a further major number, or a further minor one before 1.0) is free to.
"""

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from contract_digest import breaks, digest, pack, unpack

DOCUMENTS = Path(__file__).parents[2] / "openapi"
RELEASED = DOCUMENTS / "released.json"
TODAY: dict[str, Any] = json.loads((DOCUMENTS / "openapi.json").read_text(encoding="utf-8"))

NOW = digest(TODAY)

Change = Callable[[dict[str, Any], dict[str, Any]], Any]


def promise(version: str) -> int:
    """Return the part of the version that must rise when something breaks."""
    major, minor, *_ = map(int, version.split("."))
    return major or minor - 1_000_000


def test_nothing_breaks_since_the_last_release() -> None:
    released, today = unpack(RELEASED.read_text(encoding="utf-8")), NOW
    assert len(released["operations"]) > 50
    told = breaks(released, today)
    if promise(today["version"]) > promise(released["version"]):
        assert told  # else the version rises higher than it need
        return
    assert not told, "breaks clients of the last release:\n" + "\n".join(told[:40])


def test_a_digest_is_small_and_comes_back_whole() -> None:
    assert unpack(pack(NOW)) == NOW
    assert len(pack(NOW)) < 50_000
    assert RELEASED.stat().st_size < 50_000


def require_one_more_input(document: dict[str, Any], schemas: dict[str, Any]) -> None:
    del document
    schemas["PipeVelocityRequest"]["properties"]["duration"] = {"type": "string"}
    schemas["PipeVelocityRequest"]["required"].append("duration")


def drop_answer_field(document: dict[str, Any], schemas: dict[str, Any]) -> None:
    del document
    del schemas["PipeVelocityAnswer"]["properties"]["velocity"]
    schemas["PipeVelocityAnswer"]["required"].remove("velocity")


def add_answer_field(document: dict[str, Any], schemas: dict[str, Any]) -> None:
    del document
    schemas["PipeVelocityAnswer"]["properties"]["colour"] = {"type": "string"}
    schemas["PipeVelocityAnswer"]["required"].append("colour")


def add_kind(document: dict[str, Any], schemas: dict[str, Any]) -> None:
    del document
    schemas["BentSegment"] = copy.deepcopy(schemas["PipeSegment"])
    schemas["RunSegmentInput"]["oneOf"].append({"$ref": "#/components/schemas/BentSegment"})


def rename_type(document: dict[str, Any], schemas: dict[str, Any]) -> None:
    schemas["Pipe"] = schemas.pop("PipeSegment")
    renamed = json.loads(json.dumps(document).replace('/schemas/PipeSegment"', '/schemas/Pipe"'))
    document.update(renamed)


def bound(old: str, new: str) -> Change:
    """Return a change of the bounds of a velocity's flow, which a document states in words."""

    def change(_: dict[str, Any], schemas: dict[str, Any]) -> None:
        flow = schemas["PipeVelocityRequest"]["properties"]["flow"]
        assert old in flow["description"]
        flow["description"] = flow["description"].replace(old, new)

    return change


VELOCITY = "/v1/pipe/velocity"
BREAKING: dict[str, Change] = {
    "path removed": lambda document, _: document["paths"].pop(VELOCITY),
    "method removed": lambda document, _: document["paths"][VELOCITY].pop("get"),
    "answer field removed": drop_answer_field,
    "answer field not certain any more": lambda _, schemas: schemas["PipeVelocityAnswer"]["required"].remove("bore"),
    "answer field of another type": lambda _, schemas: schemas["SegmentDrop"]["properties"]["pressure_drop"].update(
        type="string"
    ),
    "answer field may be absent": lambda _, schemas: schemas["SegmentDrop"]["properties"]["pressure_drop"].update(
        type=["number", "null"]
    ),
    "answer format removed": lambda document, _: document["components"]["responses"]["PipeVelocity"]["content"].pop(
        "text/csv"
    ),
    "input removed": lambda _, schemas: schemas["PipeVelocityRequest"]["properties"].pop("bore"),
    "query parameter removed": lambda document, _: document["paths"][VELOCITY]["get"]["parameters"].pop(2),
    "new required input": require_one_more_input,
    "input now required": lambda _, schemas: schemas["PipeVelocityRequest"]["required"].append("bore"),
    "name removed": lambda _, schemas: schemas["NominalSize"]["enum"].remove("3/4"),
    "unit removed": lambda _, schemas: schemas["FlowUnit"]["enum"].remove("gal/min"),
    "way to write a quantity removed": lambda _, schemas: schemas["FlowQuantity"]["anyOf"].pop(),
    "kind of item removed": lambda _, schemas: schemas["RunSegmentInput"]["oneOf"].pop(),
    "fewer items allowed": lambda _, schemas: schemas["RunFields"]["properties"]["segments"].update(maxItems=3),
    "highest value lowered": bound("at most 1 m3/s", "at most 900 L/s"),
    "lowest value raised": bound("above 0 L/min", "above 1 L/min"),
    "lowest value itself refused": lambda _, schemas: schemas["PipeVelocityRequest"]["properties"]["bore"].update(
        description="Bore. Allowed: above 1 mm and at most 2 m."
    ),
    "bound added": lambda _, schemas: schemas["PipeVelocityRequest"]["properties"]["flow"].update(
        description="Flow. Allowed: above 0 L/min and at most 1 m3/s, and at most 5 L/s."
    ),
    "status removed": lambda document, _: document["paths"][VELOCITY]["post"]["responses"].pop("200"),
    "type renamed": rename_type,
    "body format removed": lambda document, _: document["paths"][VELOCITY]["post"]["requestBody"]["content"].pop(
        "application/msgpack"
    ),
    "query parameter now required": lambda document, _: document["paths"][VELOCITY]["get"]["parameters"].append(
        {"name": "duration", "in": "query", "required": True, "schema": {"type": "string"}}
    ),
    "member of an item removed": lambda _, schemas: schemas["PipeSegment"]["properties"].pop("bore"),
    "columns refused": lambda _, schemas: schemas["PipeVelocityColumns"]["properties"].update(
        flow={"$ref": "#/components/schemas/FlowQuantity"}
    ),
    "operation renamed": lambda document, _: document["paths"][VELOCITY]["post"].update(operationId="speed"),
}
COMPATIBLE: dict[str, Change] = {
    "nothing": lambda *_: None,
    "wider bounds in another unit": bound("at most 1 m3/s", "at most 61000 L/min"),
    "the same bounds in another unit": bound("at most 1 m3/s", "at most 60000 L/min"),
    "other refusal": lambda document, _: document["paths"][VELOCITY]["post"]["responses"].update(
        {"429": document["components"]["responses"]["Refused"]}
    ),
    "another version": lambda document, _: document["info"].update(version="0.9.9"),
    "other words": lambda _, schemas: schemas["FlowQuantity"].update(description="Flow."),
    "new path": lambda document, _: document["paths"].update({"/v1/pipe/other": document["paths"][VELOCITY]}),
    "new optional input": lambda _, schemas: schemas["PipeVelocityRequest"]["properties"].update(
        colour={"type": "string"}
    ),
    "new answer field": add_answer_field,
    "new name": lambda _, schemas: schemas["NominalSize"]["enum"].append("6"),
    "new unit": lambda _, schemas: (
        schemas["FlowUnit"]["enum"].append("barrel/d"),
        schemas["FlowQuantity"]["anyOf"][0].update(pattern="^[0-9]+ ?(?:gal/min|barrel/d)$"),
    ),
    "new kind of item": add_kind,
    "more items allowed": lambda _, schemas: schemas["RunFields"]["properties"]["segments"].update(maxItems=500),
}


def changed(change: Change) -> list[str]:
    """Return what breaks between today's document and the same with a change."""
    document = copy.deepcopy(TODAY)
    change(document, document["components"]["schemas"])
    return breaks(NOW, digest(document))


@pytest.mark.parametrize("name", list(BREAKING))
def test_a_breaking_change_is_told(name: str) -> None:
    assert changed(BREAKING[name])


@pytest.mark.parametrize("name", list(COMPATIBLE))
def test_a_compatible_change_is_not(name: str) -> None:
    document = copy.deepcopy(TODAY)
    COMPATIBLE[name](document, document["components"]["schemas"])
    assert (document != TODAY) is (name != "nothing")
    assert changed(COMPATIBLE[name]) == []
