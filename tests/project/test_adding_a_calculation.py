"""The walk that DEVELOPERS.md takes a contributor through, done as it is written there."""

from __future__ import annotations

import json
import re
import sys
import textwrap
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import pytest

from asgi import send
from client_source import calls_sources
from dosewright.engine import registry
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.http.app import create_app
from dosewright.http.openapi.document import document
from dosewright_sdk import InProcess

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
PATH = "pipe/contents"
MODULES = ("dosewright.topics.pipe.contracts.contents", "dosewright.topics.pipe.contents")
# pi/4 (20 mm)^2 12 m in litres, worked out by hand.
LITRES = 3.7699111843077517


def code_blocks() -> list[str]:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    walk = text[text.index("## Adding a calculation") :]
    return [
        textwrap.dedent(block) for block in re.findall(r"^ *```python\n(.*?)^ *```", walk, re.DOTALL | re.MULTILINE)
    ]


@pytest.fixture
def walked() -> Iterator[None]:
    """Run the walk's blocks, each as the module it is meant for, and leave nothing behind."""
    assert PATH not in calculations()
    blocks = code_blocks()
    assert len(blocks) == len(MODULES)
    try:
        for name, block in zip(MODULES, blocks, strict=True):
            module = ModuleType(name)
            sys.modules[name] = module
            exec(compile(block, f"DEVELOPERS.md: {name}", "exec"), module.__dict__)  # noqa: S102 - our own text
        yield
    finally:
        registry._REGISTER.pop(PATH, None)
        for name in MODULES:
            sys.modules.pop(name, None)
    assert PATH not in calculations()


def generated_calls() -> Any:
    """Return the client's calls of the topic as the generator writes them now, as a module."""
    source = calls_sources()["pipe.py"]
    module = ModuleType("generated_calls")
    exec(compile(source, "generated_calls", "exec"), module.__dict__)  # noqa: S102 - our own generator
    return module


@pytest.mark.usefixtures("walked")
def test_the_walk_leads_to_a_whole_calculation() -> None:
    example = dict(calculations()[PATH].example)
    assert run(PATH, example).contents == pytest.approx(LITRES, rel=1e-14)
    assert run(PATH, {"bore": "2 cm", "length": "12 m", "units": "si"}).contents == pytest.approx(
        LITRES / 1000, rel=1e-14
    )

    batch = run_batch(PATH, {"bore": "20 mm", "length": ["12 m", "24 m", "1 mm", "x"]})
    assert batch["contents"][:2].tolist() == [
        run(PATH, example).contents,
        run(PATH, {**example, "length": "24 m"}).contents,
    ]
    assert [(fault.code, fault.rows) for fault in batch.errors] == [("number_unreadable", [3]), ("too_short", [2])]

    with pytest.raises(RequestRefused) as caught:
        run(PATH, {"bore": "3 m", "length": "1 mm", "lenght": "1 m"})
    assert {fault.code for fault in caught.value.faults} == {"out_of_range", "unknown_field"}
    with pytest.raises(RequestRefused) as caught:
        run(PATH, {"bore": "1 m", "length": "1 mm"})
    assert [fault.code for fault in caught.value.faults] == ["too_short"]


@pytest.mark.usefixtures("walked")
def test_the_walk_leads_to_routes() -> None:
    service = create_app()
    example = dict(calculations()[PATH].example)
    got = send("GET", f"/v1/{PATH}?bore=20%20mm&length=12%20m", service=service)
    body, media = json.dumps(example).encode(), {"content-type": "application/json"}
    posted = send("POST", f"/v1/{PATH}", [body], media, service=service)
    assert got.status == posted.status == 200
    assert got.body == posted.body
    assert got.json()["contents"] == pytest.approx(LITRES, rel=1e-14)
    assert got.json()["question"] == f"/v1/{PATH}?bore=20%20mm&length=12%20m"
    picked = send("GET", f"/v1/{PATH}?bore=20%20mm&length=12%20m&pick=contents", service=service)
    assert picked.body.decode() == repr(got.json()["contents"])
    batch = send(
        "POST", f"/v1/{PATH}/batch", [json.dumps({**example, "length": ["12 m"]}).encode()], media, service=service
    )
    assert batch.json()["columns"]["contents"] == [got.json()["contents"]]


@pytest.mark.usefixtures("walked")
def test_the_walk_leads_to_the_document_and_the_client() -> None:
    operation = document()["paths"][f"/v1/{PATH}"]["post"]
    assert operation["operationId"] == "pipe_contents"
    assert operation["description"] == "Volume of water in a straight round pipe."
    bore = document()["components"]["schemas"]["PipeContentsRequest"]["properties"]["bore"]
    assert bore["description"] == "Inside diameter. Allowed: above 0 mm and at most 2 m."
    assert bore["examples"] == ["20 mm"]

    calls = generated_calls()
    pipe = calls.PipeCalls(InProcess())
    answer = pipe.contents(bore="20 mm", length="12 m")
    assert answer.contents == pytest.approx(LITRES, rel=1e-14)
    assert answer.units == {"contents": "L"}
    assert pipe.contents_batch(bore="20 mm", length=["12 m"])["contents"].tolist() == [answer.contents]
    assert "Water in a straight pipe." in calls.AsyncPipeCalls.contents.__doc__


def test_nothing_of_the_walk_is_left_behind() -> None:
    assert PATH not in calculations()
    assert f"/v1/{PATH}" not in document()["paths"]
