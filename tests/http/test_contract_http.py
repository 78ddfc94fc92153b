"""How answers travel: methods, caching, packing, limits, identity, and where the service is mounted."""

from __future__ import annotations

import gzip
import json
from typing import TYPE_CHECKING, Any

import pytest

from asgi import Reply, get, post, send
from contract_walk import ENTRIES, addresses
from dosewright import __version__
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.http.bodies import BATCH_BODY_LIMIT, BODY_LIMIT

if TYPE_CHECKING:
    from dosewright.engine.registry import Calculation


def address(entry: Calculation[Any, Any]) -> str:
    """Return an address that asks the example, ready to take more parameters."""
    question = run(entry.path, entry.example).question
    assert question
    return question


@ENTRIES
@pytest.mark.parametrize("query", ["", "&format=csv", "&format=pdf", "&no_such=1"])
def test_head_is_get_without_a_body(entry: Calculation[Any, Any], query: str) -> None:
    got, headed = get(f"{address(entry)}{query}"), send("HEAD", f"{address(entry)}{query}")
    assert headed.body == b""
    assert headed.status == got.status
    assert without_id(headed) == without_id(got)
    if got.status == 200:
        assert headed.headers["content-length"] == str(len(got.body))


def without_id(reply: Reply) -> dict[str, str]:
    # The length of a refusal changes with the length of the request id in it.
    skipped = {"x-request-id", *({"content-length"} if reply.status != 200 else ())}
    return {name: value for name, value in reply.headers.items() if name not in skipped}


@ENTRIES
def test_options_and_other_methods(entry: Calculation[Any, Any]) -> None:
    for path, allowed in zip(addresses(entry), ("GET, HEAD, POST, OPTIONS", "POST, OPTIONS"), strict=False):
        reply = send("OPTIONS", path)
        assert (reply.status, reply.body, reply.headers["allow"]) == (204, b"", allowed)
        assert "content-length" not in reply.headers
        for method in ("PUT", "DELETE", "PATCH", "TRACE"):
            refused = send(method, path)
            assert refused.status == 405
            assert refused.headers["allow"] == allowed
    for path in addresses(entry)[1:]:
        assert get(path).status == 405


@ENTRIES
def test_an_unchanged_answer_is_not_sent_again(entry: Calculation[Any, Any]) -> None:
    first = get(address(entry))
    tag = first.headers["etag"]
    assert tag.startswith('"')
    assert "max-age" in first.headers["cache-control"]
    for sent in (tag, f'"other", {tag}', "*"):
        again = get(address(entry), {"if-none-match": sent})
        assert (again.status, again.body, again.headers["etag"]) == (304, b"", tag)
        assert "content-length" not in again.headers
        assert again.headers["vary"] == first.headers["vary"]
    assert get(address(entry), {"if-none-match": '"other"'}).body == first.body
    other = get(f"{address(entry)}&format=csv")
    assert other.headers["etag"] != tag
    assert "etag" not in get(f"{address(entry)}&no_such=1").headers


@ENTRIES
def test_a_packed_answer_unpacks_to_the_plain_one(entry: Calculation[Any, Any]) -> None:
    plain = get(address(entry))
    packed = get(address(entry), {"accept-encoding": "gzip"})
    assert "accept-encoding" in plain.headers["vary"]
    if packed.headers.get("content-encoding"):
        assert gzip.decompress(packed.body) == plain.body
        assert packed.headers["etag"] != plain.headers["etag"]
    else:
        assert packed.body == plain.body
    refused = get(address(entry), {"accept-encoding": "gzip;q=0"})
    assert refused.body == plain.body


@ENTRIES
def test_a_body_too_large_is_refused_before_it_is_read(entry: Calculation[Any, Any]) -> None:
    for path, limit in zip(addresses(entry), (BODY_LIMIT, BATCH_BODY_LIMIT), strict=False):
        said = send("POST", path, [b"{}"], {"content-type": "application/json", "content-length": str(limit + 1)})
        assert said.status == 413
        assert said.headers["connection"] == "close"
        assert said.json()["type"] == "/problems/body-too-large"
    piece = b" " * 65_536
    pieces = [piece] * (BODY_LIMIT // len(piece) + 1)
    assert send("POST", f"/v1/{entry.path}", pieces, {"content-type": "application/json"}).status == 413
    whole = b" " * (BODY_LIMIT + 1)
    assert send("POST", f"/v1/{entry.path}", [whole], {"content-type": "application/json"}).status == 413
    bomb = gzip.compress(b" " * (BODY_LIMIT + 1))
    headers = {"content-type": "application/json", "content-encoding": "gzip"}
    assert len(bomb) < BODY_LIMIT
    assert send("POST", f"/v1/{entry.path}", [bomb], headers).status == 413


@ENTRIES
def test_a_body_at_its_limit_in_pieces_is_read(entry: Calculation[Any, Any]) -> None:
    body = json.dumps(dict(entry.example)).encode()
    padded = body + b" " * (BODY_LIMIT - len(body))
    pieces = [padded[start : start + 10_000] for start in range(0, len(padded), 10_000)]
    reply = send("POST", f"/v1/{entry.path}", pieces, {"content-type": "application/json"})
    assert reply.status == 200
    assert reply.body == post(f"/v1/{entry.path}", dict(entry.example)).body


@ENTRIES
def test_a_body_of_another_type_is_refused_with_the_way_to_mend_it(entry: Calculation[Any, Any]) -> None:
    for media in ("application/x-www-form-urlencoded", "text/plain", "multipart/form-data; boundary=x", "nonsense"):
        reply = send("POST", f"/v1/{entry.path}", [b"flow=9"], {"content-type": media})
        assert reply.status == 415
        assert "application/json" in reply.json()["detail"]
    body = json.dumps(dict(entry.example)).encode()
    for media in ("application/json", "Application/JSON; charset=utf-8"):
        assert send("POST", f"/v1/{entry.path}", [body], {"content-type": media}).status == 200


@ENTRIES
def test_every_answer_names_its_version_and_its_request(entry: Calculation[Any, Any]) -> None:
    for reply in (
        get(address(entry)),
        get(f"{address(entry)}&no_such=1"),
        *(post(path, dict(entry.example)) for path in addresses(entry)),
    ):
        assert reply.headers["dosewright-version"] == __version__
        assert reply.headers["x-request-id"]
        assert reply.headers["x-content-type-options"] == "nosniff"
    mine = get(address(entry), {"x-request-id": "mine_42"})
    assert mine.headers["x-request-id"] == "mine_42"
    for bad in ("x" * 65, "a b", "é", ""):
        assert get(address(entry), {"x-request-id": bad}).headers["x-request-id"] != bad


@ENTRIES
def test_behind_a_path_the_question_leads_back(entry: Calculation[Any, Any]) -> None:
    body = json.dumps(dict(entry.example)).encode()
    asked = send("POST", f"/v1/{entry.path}", [body], {"content-type": "application/json"}, root_path="/water")
    question = asked.json()["question"]
    assert question == f"/water{address(entry)}"
    again = send("GET", question.removeprefix("/water"), root_path="/water")
    assert again.body == asked.body


def test_the_start_lists_every_calculation_with_an_example_that_runs() -> None:
    listed = get("/v1").json()
    assert [one["path"] for one in listed] == [f"/v1/{path}" for path in calculations()]
    for one in listed:
        assert one["summary"]
        assert post(one["path"], one["example"]).status == 200


def test_an_address_nearly_right_is_told_the_right_one() -> None:
    for path in calculations():
        told = get(f"/v1/{path}x")
        assert told.status == 404
        assert f"/v1/{path}" in told.json()["detail"]
    assert get("/v1/" + "x" * 5000).status == 404


def test_an_address_of_nothing_is_told_where_to_begin() -> None:
    for path in ("/nope", "/v2/pipe/velocity", "/metrics"):
        told = get(path)
        assert told.status == 404
        assert told.headers["content-type"] == "application/problem+json"
        assert path in told.json()["detail"]
        assert "/v1 lists the calculations" in told.json()["detail"]


@pytest.mark.parametrize(
    ("path", "media_type"),
    [
        ("/", "text/html; charset=utf-8"),
        ("/methods", "text/html; charset=utf-8"),
        ("/methods/pipe/velocity", "text/html; charset=utf-8"),
        ("/page/page.js", "text/javascript; charset=utf-8"),
        ("/page/page.css", "text/css; charset=utf-8"),
        ("/page/icon.svg", "image/svg+xml"),
        ("/docs", "text/html; charset=utf-8"),
        ("/guides", "text/html; charset=utf-8"),
        ("/workbooks", "text/html; charset=utf-8"),
    ],
)
def test_a_page_names_its_media_type_once(path: str, media_type: str) -> None:
    reply = get(path)
    assert reply.status == 200
    assert reply.headers["content-type"] == media_type


@ENTRIES
def test_units_named_twice_are_refused(entry: Calculation[Any, Any]) -> None:
    reply = get(f"{address(entry)}&units=us&units=si")
    assert reply.json()["errors"][0]["code"] == "repeated"
