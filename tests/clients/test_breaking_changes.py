"""The committed OpenAPI document against the last released one: nothing that a client relies on may go.

``openapi/released.json`` is the document of the last release. A release whose version says that it breaks things (a
further major number, or a further minor one before 1.0) is free to.
"""

import copy
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from commands import run

from debian import program

DOCUMENTS = Path(__file__).parents[2] / "openapi"
RELEASED = DOCUMENTS / "released.json"

Change = Callable[[dict[str, Any], dict[str, Any]], Any]


def told_as_breaking(node_folder: Path, released: Path, *others: Path) -> dict[str, list[str]]:
    node = program("node", "nodejs", "npm")
    told: dict[str, list[str]] = json.loads(run([node, "breaking.mjs", released, *others], node_folder))
    return told


def promise(document: dict[str, Any]) -> int:
    """Return the part of the version that must rise when something breaks."""
    major, minor, *_ = map(int, document["info"]["version"].split("."))
    return major or minor - 1_000_000


def test_nothing_breaks_since_the_last_release(node_folder: Path) -> None:
    today = DOCUMENTS / "openapi.json"
    old, new = (json.loads(path.read_text(encoding="utf-8")) for path in (RELEASED, today))
    if promise(new) > promise(old):
        return
    told = told_as_breaking(node_folder, RELEASED, today)[str(today)]
    assert not told, "breaks clients of the last release:\n" + "\n".join(told[:40])


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
    "answer format removed": lambda document, _: document["paths"][VELOCITY]["get"]["responses"]["200"]["content"].pop(
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
    "fewer items allowed": lambda _, schemas: schemas["PipePressureDropRequest"]["properties"]["segments"].update(
        maxItems=3
    ),
    "operation renamed": lambda document, _: document["paths"][VELOCITY]["post"].update(operationId="speed"),
}
COMPATIBLE: dict[str, Change] = {
    "nothing": lambda *_: None,
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
    "more items allowed": lambda _, schemas: schemas["PipePressureDropRequest"]["properties"]["segments"].update(
        maxItems=500
    ),
}


def keep_only(document: dict[str, Any], *paths: str) -> None:
    """Leave out the other paths, and the schemas that only they use."""
    document["paths"] = {path: document["paths"][path] for path in paths}
    schemas = document["components"]["schemas"]
    waiting, used = named_in([document["paths"], document["components"]["parameters"]]), set[str]()
    while waiting:
        name = waiting.pop()
        if name not in used:
            used.add(name)
            waiting += named_in(schemas[name])
    document["components"]["schemas"] = {name: schemas[name] for name in schemas if name in used or name == "Problem"}


def named_in(part: Any) -> list[str]:
    return re.findall(r'"#/components/schemas/(\w+)"', json.dumps(part))


def test_breaking_changes_are_told_and_others_are_not(node_folder: Path, tmp_path: Path) -> None:
    released = json.loads(RELEASED.read_text(encoding="utf-8"))
    keep_only(released, VELOCITY, "/v1/pipe/pressure-drop")  # enough here, and compared sooner
    before = tmp_path / "released.json"
    before.write_text(json.dumps(released), encoding="utf-8")
    files: dict[str, Path] = {}
    for name, change in {**BREAKING, **COMPATIBLE}.items():
        document = copy.deepcopy(released)
        change(document, document["components"]["schemas"])
        assert (document != released) is (name != "nothing"), name
        files[name] = tmp_path / f"{name}.json"
        files[name].write_text(json.dumps(document), encoding="utf-8")
    told = told_as_breaking(node_folder, before, *files.values())
    missed = [name for name in BREAKING if not told[str(files[name])]]
    false_alarms = {name: found for name in COMPATIBLE if (found := told[str(files[name])])}
    assert (missed, false_alarms) == ([], {})
