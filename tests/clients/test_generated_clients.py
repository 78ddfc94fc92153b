"""Clients that common generators write from the served document compile and do the main job, unedited.

The TypeScript program for @hey-api/openapi-ts also holds what must not compile, marked so that the compiler checks it.
Each program beside this file asks the questions of ``main_job.py`` through such a client, written as a person would,
and prints the whole answers; they must be those given in process, to the last digit.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from commands import run
from main_job import answers_in_process

from debian import program

if TYPE_CHECKING:
    from pathlib import Path

    from serverproc import ServerProcess


@pytest.fixture(scope="module")
def built(server: ServerProcess, node_folder: Path) -> Path:
    """Both TypeScript clients, written by their generators and compiled with their programs, strictly."""
    document = f"{server.base_url}/openapi.json"
    tools = node_folder / "node_modules" / ".bin"
    run([tools / "openapi-typescript", document, "--output", "openapi_fetch/schema.d.ts"], node_folder)
    run([tools / "openapi-ts", "--input", document, "--output", "hey_api/client", "--no-log-file"], node_folder)
    run([tools / "tsc", "--project", "tsconfig.json"], node_folder)
    return node_folder / "built"


def holds_the_main_job(printed: str) -> None:
    told: dict[str, Any] = json.loads(printed)
    assert told.pop("refused") == ["/flow unit_wrong_dimension"]
    expected = answers_in_process()
    assert set(told) == set(expected)
    for path, answer in expected.items():
        assert told[path] == answer, path


@pytest.mark.parametrize("client", ["openapi_fetch", "hey_api"])
def test_a_generated_typescript_client_does_the_main_job(server: ServerProcess, built: Path, client: str) -> None:
    node = program("node", "nodejs", "npm")
    holds_the_main_job(run([node, built / client / "main_job.js", server.base_url], built))


def test_a_generated_python_client_does_the_main_job(server: ServerProcess, python_folder: Path) -> None:
    tools = python_folder / "environment" / "bin"
    document = f"{server.base_url}/openapi.json"
    writing = [tools / "openapi-python-client", "generate", "--url", document, "--meta", "none"]
    told = run([*writing, "--output-path", "client"], python_folder)
    assert "Unable to parse" not in told
    # What a person imports has a name a person would give: no numbered union members or inline items.
    models = {path.stem for path in (python_folder / "client" / "models").glob("*.py")}
    assert {"flow_unit", "flow_value", "nominal_size", "problem", "fault", "warn", "segment_drop"} <= models
    assert not [name for name in models if "_type_" in name or name.endswith(("_item", "_response_200"))]
    schemas = json.loads(run([program("curl", "curl"), "-sS", document], python_folder))["components"]["schemas"]
    written = (python_folder / "client" / "models" / "__init__.py").read_text("utf-8")
    assert not [name for name, schema in schemas.items() if "properties" in schema and f'"{name}"' not in written]
    holds_the_main_job(run([tools / "python", "main_job.py", server.base_url], python_folder))
