"""What every path has in common: its headers, packing, entity tags, HEAD, OPTIONS, and problem details."""

from __future__ import annotations

import gzip
import logging
from typing import TYPE_CHECKING

import pytest
import zstandard

from asgi import get, post, send
from dosewright import __version__
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.http.app import create_app
from requests_velocity import ASKED, JSON, REQUEST

if TYPE_CHECKING:
    from collections.abc import Callable

GOOD = ["/", "/health/live", "/health/ready", "/openapi.json", "/docs", "/docs/start.js", "/guides", "/guides/excel"]
GOOD += ["/workbooks", "/workbooks/pipe-velocity.xlsx", "/methods", "/problems/not-found", "/v1", ASKED]
BAD = ["/nope", "/v1x", "/v1x/pipe/velocity", "/v1/pipe/velocty", "/docs/nope", "/v1/pipe/velocity?flow=x"]
UNPACK: dict[str, Callable[[bytes], bytes]] = {
    "gzip": gzip.decompress,
    "zstd": lambda body: zstandard.ZstdDecompressor().decompressobj().decompress(body),
}
LONG = max((run(path, entry.example).question or "" for path, entry in calculations().items()), key=len)
ORIGIN = "https://page.example"
SHARED = create_app([ORIGIN])


@pytest.mark.parametrize("method", ["GET", "HEAD", "OPTIONS", "POST", "PUT"])
@pytest.mark.parametrize("target", [*GOOD, *BAD])
def test_every_path_has_the_common_headers(target: str, method: str) -> None:
    reply = send(method, target, headers={"x-request-id": "mine_42"})
    assert reply.headers["x-request-id"] == "mine_42"
    assert reply.headers["dosewright-version"] == __version__
    assert reply.headers["x-content-type-options"] == "nosniff"
    assert reply.headers["referrer-policy"] == "no-referrer"
    assert reply.headers["vary"] == "accept, accept-encoding"
    if reply.status >= 400:
        assert reply.headers["content-type"] == "application/problem+json"
        assert reply.headers["cache-control"] == "no-store"
        assert "etag" not in reply.headers
        if method != "HEAD":
            assert reply.json()["status"] == reply.status
            assert reply.json()["request_id"] == "mine_42"


@pytest.mark.parametrize("target", [*GOOD, *BAD])
def test_every_path_may_be_asked_from_a_named_origin(target: str) -> None:
    reply = send("GET", target, headers={"origin": ORIGIN}, service=SHARED)
    assert reply.headers["access-control-allow-origin"] == ORIGIN
    exposed = reply.headers["access-control-expose-headers"].split(", ")
    assert {"etag", "retry-after", "x-request-id", "dosewright-version"} == set(exposed)
    assert reply.headers["vary"] == "accept, accept-encoding, origin"
    # A cache must keep the reply to a page apart also where no page asked first.
    assert send("GET", target, service=SHARED).headers["vary"] == "accept, accept-encoding, origin"


@pytest.mark.parametrize("target", [*GOOD, *BAD])
def test_head_is_get_without_its_body_on_every_path(target: str) -> None:
    for encoding in ("identity", "gzip"):
        asked = {"x-request-id": "mine_42", "accept-encoding": encoding}
        got, head = send("GET", target, headers=asked), send("HEAD", target, headers=asked)
        assert (head.status, head.body, head.headers) == (got.status, b"", got.headers)
        assert head.headers["content-length"] == str(len(got.body))


@pytest.mark.parametrize("target", [*GOOD, "/v1/pipe/velocity/batch"])
def test_options_tells_the_methods_on_every_path(target: str) -> None:
    reply = send("OPTIONS", target)
    assert (reply.status, reply.body) == (204, b"")
    assert "content-length" not in reply.headers
    refused = send("PATCH", target)
    assert refused.status == 405
    assert set(refused.headers["allow"].split(", ")) == set(reply.headers["allow"].split(", "))
    assert refused.json()["type"] == "/problems/method-not-allowed"


@pytest.mark.parametrize("path", ["/v1x", "/v1x/pipe/velocity", "/v10", "/v1.0"])
def test_an_address_that_only_begins_like_a_calculations_is_none(path: str) -> None:
    reply = get(path)
    assert reply.status == 404
    assert reply.json()["type"] == "/problems/not-found"
    assert f"Not found: {path}." in reply.json()["detail"]


@pytest.mark.parametrize("packing", ["gzip", "zstd"])
@pytest.mark.parametrize("target", ["/openapi.json", "/page/contract.json", "/v1", LONG])
def test_a_long_answer_is_packed_on_every_path(target: str, packing: str) -> None:
    plain, packed = get(target), get(target, {"accept-encoding": f"br, {packing}"})
    assert packed.headers["content-encoding"] == packing
    assert packed.headers["content-length"] == str(len(packed.body))
    assert UNPACK[packing](packed.body) == plain.body
    assert "content-encoding" not in plain.headers
    for refused in (f"{packing};q=0", f"{packing};q=0.0", f"{packing}; q=0"):
        assert "content-encoding" not in get(target, {"accept-encoding": refused}).headers
    assert get(target, {"accept-encoding": f"{packing};q=0.5"}).headers["content-encoding"] == packing


@pytest.mark.parametrize("target", GOOD)
def test_an_unchanged_page_is_not_sent_again_on_any_path(target: str) -> None:
    for encoding in ("identity", "gzip", "zstd"):
        first = get(target, {"accept-encoding": encoding})
        again = get(target, {"accept-encoding": encoding, "if-none-match": first.headers["etag"]})
        assert (again.status, again.body, again.headers["etag"]) == (304, b"", first.headers["etag"])
        assert not {"content-type", "content-length", "content-encoding"} & set(again.headers)
        assert again.headers["vary"] == first.headers["vary"]
        assert again.headers.get("cache-control") == first.headers.get("cache-control")


def test_a_post_has_no_tag() -> None:
    assert "etag" not in post("/v1/pipe/velocity", REQUEST).headers


@pytest.mark.parametrize("target", ["/health/live", "/openapi.json", "/nope", ASKED])
def test_every_path_is_logged(target: str, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO, "dosewright.requests"):
        reply = get(target)
    (line,) = (record for record in caplog.records if record.getMessage() == "request")
    assert vars(line)["status"] == reply.status
    assert vars(line)["request_id"] == reply.headers["x-request-id"]
    assert vars(line)["path"] == target.partition("?")[0]


def test_a_failure_is_told_without_detail_and_logged(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("secret")

    monkeypatch.setattr("dosewright.http.calculations.answer", broken)
    reply = send("POST", "/v1/pipe/velocity", [b"{}"], JSON)
    assert reply.status == 500
    assert reply.json()["type"] == "/problems/internal-error"
    assert b"secret" not in reply.body
    assert any(vars(one).get("request_id") == reply.headers["x-request-id"] for one in caplog.records if one.exc_info)
