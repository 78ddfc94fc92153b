"""Property-based tests of every operation that the OpenAPI document names, against the running service.

``DOSEWRIGHT_FUZZ_EXAMPLES`` sets the examples of each test. Unset, it is 50 for an operation: all operations share
one router and one reader of requests, so that 4,500 requests take that way. A longer run:

    DOSEWRIGHT_FUZZ_EXAMPLES=5000 pytest tests/http/test_schemathesis.py
"""

import json
import os
import re
from typing import TYPE_CHECKING, Any

import msgspec
import pytest
import requests
import schemathesis
from hypothesis import HealthCheck, given, settings, strategies
from schemathesis import GenerationMode
from schemathesis.config import SchemathesisConfig

from dosewright.engine.registry import calculations
from dosewright.http.openapi import document as openapi
from strategies import requests_near

if TYPE_CHECKING:
    from schemathesis import Case, CheckContext, Response

    from serverproc import ServerProcess

BATCH = re.compile("^/v1/[^/]+/[^/]+/batch$")
LONG = os.environ.get("DOSEWRIGHT_FUZZ_EXAMPLES")
OF_AN_OPERATION = int(LONG or "50")
NEAR_AN_EXAMPLE = int(LONG or "100")

# A schema cannot say all that a request must fulfil (bounds depend on the unit, fields on each other), so a request
# that fits it may be answered or refused with reasons, and nothing else.
VALID_IS_ANSWERED_OR_REFUSED = {"positive_data_acceptance": {"expected-statuses": ["200", "422"]}}
# A batch answers its good rows and tells the bad ones; `rows_add_up` below holds it to that.
BAD_ROWS_ARE_TOLD = {"negative_data_rejection": {"expected-statuses": ["200", "400", "406", "415", "422"]}}


@schemathesis.hook
def map_query(_: Any, query: dict[str, Any] | None) -> dict[str, Any] | None:
    """Leave out the control that tells refusals with status 200; tests of the service hold it to its own rules."""
    return {name: value for name, value in query.items() if name != "errors"} if isinstance(query, dict) else query


@schemathesis.hook
def filter_body(_: Any, body: Any) -> bool:
    """Leave out bodies with a null member: it counts as left out, which a schema has no plain word for."""
    return not _holds_null(body)


def _holds_null(value: Any) -> bool:
    if isinstance(value, dict):
        return any(inner is None or _holds_null(inner) for inner in value.values())
    return isinstance(value, list) and any(_holds_null(inner) for inner in value)


@schemathesis.serializer("application/msgpack")
def pack(_: Any, value: Any) -> bytes:
    """Write a body as MessagePack, which the schema offers beside JSON."""
    try:
        return msgspec.msgpack.encode(value, enc_hook=str)
    except OverflowError:  # MessagePack holds no integer beyond 64 bits
        return msgspec.msgpack.encode(json.loads(json.dumps(value, default=str), parse_int=float))


SCHEMA = schemathesis.openapi.from_dict(
    openapi.document(),
    config=SchemathesisConfig.from_dict(
        {
            "checks": VALID_IS_ANSWERED_OR_REFUSED,
            "operations": [{"include-path-regex": BATCH.pattern, "checks": BAD_ROWS_ARE_TOLD}],
        }
    ),
)


@schemathesis.check
def rows_add_up(_: "CheckContext", response: "Response", case: "Case") -> None:
    """Hold a batch to one entry a row in every column, and to none where a row is told to be at fault."""
    if not BATCH.match(case.path) or response.status_code != 200 or not _is_json(response):
        return
    answer = response.json()
    if isinstance(answer, list):  # format=table: one record a row, held to its rules elsewhere
        return
    faulty = {row for fault in answer["errors"] for row in fault["rows"]}
    assert faulty <= set(range(answer["rows"]))
    for name, column in answer["columns"].items():
        assert len(column) == answer["rows"], name
        assert all(column[row] is None for row in faulty), f"{name} holds a value in a row at fault"
    for row in set(range(answer["rows"])) - faulty:
        assert any(column[row] is not None for column in answer["columns"].values()), f"row {row} vanished"


@schemathesis.check
def question_asks_the_same_again(_: "CheckContext", response: "Response", __: "Case") -> None:
    """Fetch the address that an answer names, and expect that answer."""
    if response.status_code != 200 or not _is_json(response) or isinstance(response.json(), list):
        return
    if not response.json().get("question"):
        return
    address = requests.compat.urljoin(response.request.url, response.json()["question"])
    again = requests.get(address, timeout=10)
    assert again.status_code == 200, again.text
    assert again.json() == response.json()


OPERATIONS = {result.ok().label: result.ok() for result in SCHEMA.get_all_operations()}


@pytest.mark.parametrize("label", list(OPERATIONS))
def test_operation(label: str, server: "ServerProcess") -> None:
    """Send what the schema allows and what it forbids, half and half; every check on every answer.

    Examples are drawn here and not by the plugin, whose walk through all combinations of bounds takes minutes for the
    hundreds of parameters of a plan.
    """
    cases = [OPERATIONS[label].as_strategy(generation_mode=mode) for mode in GenerationMode]

    @settings(max_examples=OF_AN_OPERATION, suppress_health_check=list(HealthCheck))
    @given(case=strategies.one_of(cases))
    def holds(case: "Case") -> None:
        case.call_and_validate(base_url=server.base_url)

    holds()


@pytest.mark.parametrize("path", list(calculations()))
def test_plausible_requests(path: str, server: "ServerProcess") -> None:
    """Hold the answers to requests near the example to the same checks; a good part of them must be answered."""
    operation = SCHEMA[f"/v1/{path}"]["POST"]
    statuses: list[int] = []

    @settings(max_examples=NEAR_AN_EXAMPLE, suppress_health_check=list(HealthCheck))
    @given(body=requests_near(calculations()[path]))
    def ask(body: dict[str, Any]) -> None:
        case = operation.Case(body=body, media_type="application/json")
        response = case.call_and_validate(base_url=server.base_url)
        statuses.append(response.status_code)

    ask()
    # Some calculations have narrow tables; still, enough of the answers must be looked at.
    assert statuses.count(200) >= 0.1 * len(statuses)


def _is_json(response: "Response") -> bool:
    return response.headers["content-type"][0].startswith("application/json")
