"""What a stranger may send: each is refused with problem details that say what is allowed, and the server lives on."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import pytest
from raw_http import Connection, Reply

from dosewright.http.bodies import BODY_LIMIT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from serverproc import ServerProcess

TARGET = "/v1/pipe/velocity"
GOOD = {"flow": "9 gal/min", "bore": "20 mm"}

# (what is sent as the flow, code of the fault)
HOSTILE_TEXTS = [
    ("10**10**10 m", "unit_unknown"),
    ("6^800000", "unit_unknown"),
    ("(" * 1000, "text_too_long"),
    ("NaN", "number_unreadable"),
    ("nan gal/min", "number_unreadable"),
    ("inf gal/min", "number_unreadable"),
    ("1e400 gal/min", "number_not_finite"),
    ("９ gal/min", "number_unreadable"),
    ("٩ gal/min", "number_unreadable"),
    ("9 psi", "unit_wrong_dimension"),
    ("9 gal", "unit_wrong_dimension"),
    ("2,500", "decimal_comma"),
    ("2,500 gal/min", "decimal_comma"),
    ("9 gal/min\x00", "unit_unknown"),
    ("__import__('os')", "number_unreadable"),
    ("9 gal/min'; drop table", "unit_unknown"),
    ("0x1F gal/min", "unit_unknown"),
    ("1_000 gal/min", "unit_unknown"),
    ("9", "unit_missing"),
    ("", "number_unreadable"),
    ("-9 gal/min", "out_of_range"),
]


@pytest.fixture
def wire(server: ServerProcess) -> Iterator[Connection]:
    with Connection(server.port) as opened:
        yield opened


def fault_of(reply: Reply) -> dict[str, Any]:
    assert reply.headers["content-type"] == "application/problem+json"
    problem = reply.json()
    assert problem["status"] == reply.status
    assert problem["request_id"] == reply.headers["x-request-id"]
    (fault,) = problem["errors"]
    assert fault["message"]
    return fault


def assert_still_answers(wire: Connection) -> None:
    assert wire.post(TARGET, json.dumps(GOOD).encode()).status == 200


@pytest.mark.parametrize(("text", "code"), HOSTILE_TEXTS)
def test_a_hostile_quantity_is_refused_in_the_body_and_in_the_query(wire: Connection, text: str, code: str) -> None:
    posted = wire.post(TARGET, json.dumps({**GOOD, "flow": text}).encode())
    asked = wire.request("GET", f"{TARGET}?bore=20%20mm&flow={quote(text)}")
    for reply in (posted, asked):
        assert reply.status == 422
        fault = fault_of(reply)
        assert (fault["pointer"], fault["code"]) == ("/flow", code)
        assert fault["allowed"]
        assert len(reply.body) < 2000  # what was sent is not thrown back whole
    assert_still_answers(wire)


@pytest.mark.parametrize("value", ["1e400", "NaN", "Infinity", "-Infinity", "1" * 400])
def test_a_number_that_is_none_is_refused(wire: Connection, value: str) -> None:
    body = b'{"units": "us", "bore": 1, "flow": ' + value.encode() + b"}"
    reply = wire.post(TARGET, body)
    assert reply.status in {400, 422}
    assert reply.headers["content-type"] == "application/problem+json"
    assert_still_answers(wire)


@pytest.mark.parametrize(
    "body",
    [
        b"[" * 100_000,
        b'{"a":' * 20_000,
        b"{}" * 1000,
        b"",
        b"null",
        b"[1]",
        b'"flow"',
        b'{"flow"',
        b"\xff\xfe",
        b"\x00" * 100,
    ],
    ids=["brackets", "nested", "many", "empty", "null", "list", "text", "cut", "not utf-8", "zeros"],
)
def test_a_body_that_is_no_object_is_refused(wire: Connection, body: bytes) -> None:
    reply = wire.post(TARGET, body)
    assert reply.status == 400
    assert reply.headers["content-type"] == "application/problem+json"
    assert len(reply.body) < 2000
    assert_still_answers(wire)


def test_a_text_as_long_as_the_limit_allows_is_refused_without_being_repeated(wire: Connection) -> None:
    for field in ({"flow": "9" * (BODY_LIMIT - 100)}, {"flow": {"value": "1" * (BODY_LIMIT - 100), "unit": "gal/min"}}):
        reply = wire.post(TARGET, json.dumps({**GOOD, **field}).encode())
        assert reply.status == 422
        assert fault_of(reply)["pointer"] == "/flow"
        assert len(reply.body) < 2000
    assert_still_answers(wire)


def test_thousands_of_unknown_fields_are_refused_in_a_bounded_answer(wire: Connection) -> None:
    body = json.dumps({**GOOD, **{f"flow_{number}": 1 for number in range(15_000)}}).encode()
    assert len(body) < BODY_LIMIT
    reply = wire.post(TARGET, body)
    assert reply.status == 422
    assert len(reply.body) < 100_000
    assert_still_answers(wire)


def test_a_megabyte_of_brackets_is_refused_unread(wire: Connection) -> None:
    reply = wire.request("POST", TARGET, "Content-Type: application/json", "Content-Length: 1000000")
    # Not one byte of the body was sent, and yet the answer is here.
    assert reply.status == 413
    assert reply.closed


def test_a_body_said_to_be_huge_is_refused_before_it_is_sent(wire: Connection) -> None:
    lines = ("Content-Type: application/json", "Content-Length: 1000000000000", "Expect: 100-continue")
    reply = wire.request("POST", TARGET, *lines)
    assert reply.status == 413  # and no "100 Continue" before it
    assert reply.headers["content-type"] == "application/problem+json"
    assert reply.closed


def test_an_endless_body_without_a_length_is_cut_off(server: ServerProcess) -> None:
    with Connection(server.port) as wire:
        wire.send(f"POST {TARGET} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n".encode())
        wire.send(b"Transfer-Encoding: chunked\r\n\r\n")
        chunk = b"10000\r\n" + b"[" * 0x10000 + b"\r\n"
        sent = 0
        try:
            while sent < 1000 * BODY_LIMIT:
                wire.send(chunk)
                sent += len(chunk)
        except (ConnectionError, TimeoutError):
            pass
        # What fits into the buffers of two sockets may be sent; the rest is never read.
        assert sent < 100 * BODY_LIMIT
    with Connection(server.port) as another:
        assert_still_answers(another)


def test_endless_headers_are_cut_off(server: ServerProcess) -> None:
    with Connection(server.port) as wire:
        wire.send(b"GET /v1 HTTP/1.1\r\nHost: x\r\n")
        sent = 0
        try:
            while sent < 1 << 28:
                wire.send(b"X-Header: " + b"x" * 0x10000 + b"\r\n")
                sent += 0x10000
        except (ConnectionError, TimeoutError):
            pass
        assert sent < 1 << 24
    with Connection(server.port) as another:
        assert_still_answers(another)


def test_headers_of_a_usual_size_are_read_on_a_connection_used_again(wire: Connection) -> None:
    cookie = "Cookie: " + "c" * 20_000
    for _ in range(5):
        assert wire.request("GET", f"{TARGET}?flow=9%20gal/min&bore=20%20mm", cookie).status == 200
        assert wire.post(f"{TARGET}/batch", json.dumps({**GOOD, "flow": ["9 gal/min"] * 20_000}).encode()).status == 200


@pytest.mark.parametrize(
    "request_bytes",
    [
        b"\x16\x03\x01\x02\x00",
        b"GET / HTTP/9.9\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        b"POST /v1/pipe/velocity HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n0\r\n\r\n",
        b"GET /v1/pipe/velocity?flow=\xff HTTP/1.1\r\nHost: x\r\n\r\n",
    ],
    ids=["tls", "version", "negative length", "two lengths", "bad chunk", "raw bytes"],
)
def test_what_is_not_http_is_refused_and_the_connection_closed(server: ServerProcess, request_bytes: bytes) -> None:
    with Connection(server.port) as wire:
        wire.send(request_bytes)
        reply = wire.reply()
        assert reply.status == 400
        assert reply.closed
    with Connection(server.port) as another:
        assert_still_answers(another)


@pytest.mark.parametrize(
    ("method", "target", "status"),
    [
        ("GET", "/v1/pipe/velocty", 404),
        ("GET", "/v1/../../etc/passwd", 404),
        ("GET", "/v1/pipe/velocity/", 404),
        ("GET", "/v1/%2e%2e/%2e%2e/etc/passwd", 404),
        ("GET", "/nothing/here", 404),
        ("DELETE", TARGET, 405),
        ("PUT", TARGET, 405),
        ("GET", f"{TARGET}/batch", 405),
        ("GET", f"{TARGET}?flow=9%20gal/min&flow=8%20gal/min&bore=20%20mm", 422),
        ("GET", f"{TARGET}?flow=%ff&bore=20%20mm", 400),
        ("GET", f"{TARGET}?{'&'.join(f'f{n}=1' for n in range(1500))}", 400),
        ("GET", f"{TARGET}?flow=9%20gal/min&bore=20%20mm&format=exe", 422),
        ("GET", f"{TARGET}?flow=9%20gal/min&bore=20%20mm&pick=__class__", 422),
    ],
)
def test_a_wrong_address_or_method_is_a_problem_in_the_same_form(
    wire: Connection, method: str, target: str, status: int
) -> None:
    reply = wire.request(method, target)
    assert reply.status == status
    assert reply.headers["content-type"] == "application/problem+json"
    assert reply.json()["status"] == status
    if status == 405:
        assert "POST" in reply.headers["allow"]
    assert_still_answers(wire)


def test_a_form_body_is_refused_with_the_type_that_is_read(wire: Connection) -> None:
    lines = ("Content-Type: application/x-www-form-urlencoded", "Content-Length: 6")
    reply = wire.request("POST", TARGET, *lines, body=b"flow=9")
    assert reply.status == 415
    assert "application/json" in reply.json()["detail"]
    assert_still_answers(wire)


def test_head_answers_as_get_without_a_body(wire: Connection) -> None:
    target = f"{TARGET}?flow=9%20gal/min&bore=20%20mm&pick=velocity"
    got = wire.request("GET", target)
    head = wire.request("HEAD", target)
    assert head.status == got.status == 200
    for name in ("content-type", "content-length", "etag", "cache-control"):
        assert head.headers[name] == got.headers[name]
    assert head.body == b""
    assert_still_answers(wire)
