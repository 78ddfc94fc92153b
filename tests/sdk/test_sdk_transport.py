"""The client before a service that is busy, away, slow, or hidden behind a gateway."""

from __future__ import annotations

import asyncio
import email.utils
import json
import socket
import time
from typing import TYPE_CHECKING, Any

import httpx2
import msgspec
import pytest

from dosewright.engine.run import run
from dosewright_sdk import (
    AsyncClient,
    Client,
    DosewrightError,
    InvalidRequestError,
    ServiceError,
    ServiceTimeoutError,
    ServiceUnreachableError,
)

if TYPE_CHECKING:
    pass

ASKED: dict[str, Any] = {"flow": "9 gal/min", "bore": "20 mm"}
GOOD = msgspec.json.encode(run("pipe/velocity", ASKED))
PAGE = b"<html><head><title>502 Bad Gateway</title></head><body><h1>502 Bad Gateway</h1></body></html>"
HTML = {"content-type": "text/html"}


class Script:
    """A transport that plays answers one after another, and keeps what it was asked and how long was waited."""

    def __init__(self, *steps: httpx2.Response | Exception) -> None:
        self.steps = list(steps)
        self.bodies: list[bytes] = []
        self.timeouts: list[Any] = []
        self.headers: list[Any] = []
        self.urls: list[str] = []
        self.waits: list[float] = []

    def __call__(self, request: httpx2.Request) -> httpx2.Response:
        self.bodies.append(request.content)
        self.timeouts.append(request.extensions["timeout"])
        self.headers.append(request.headers)
        self.urls.append(str(request.url))
        step = self.steps[min(len(self.bodies), len(self.steps)) - 1]
        if isinstance(step, Exception):
            raise step
        return httpx2.Response(step.status_code, headers=step.headers, content=step.content)


@pytest.fixture(params=["sync", "async"])
def ask(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Ask one question through a scripted transport, by either client; waits are kept, not waited."""
    script_in_use: list[Script] = []

    def keep(seconds: float) -> None:
        script_in_use[-1].waits.append(seconds)

    async def keep_async(seconds: float) -> None:
        keep(seconds)

    monkeypatch.setattr("dosewright_sdk._http.time.sleep", keep)
    monkeypatch.setattr("dosewright_sdk._http.asyncio.sleep", keep_async)

    def sync(script: Script, options: dict[str, Any], payload: dict[str, Any]) -> Any:
        with Client("http://service.invalid", transport=httpx2.MockTransport(script), **options) as door:
            return door.pipe.velocity(**payload)

    async def asynchronous(script: Script, options: dict[str, Any], payload: dict[str, Any]) -> Any:
        async with AsyncClient("http://service.invalid", transport=httpx2.MockTransport(script), **options) as door:
            return await door.pipe.velocity(**payload)

    def asked(script: Script, payload: dict[str, Any] = ASKED, **options: Any) -> Any:
        script_in_use.append(script)
        if request.param == "sync":
            return sync(script, options, payload)
        return asyncio.run(asynchronous(script, options, payload))

    return asked


def good() -> httpx2.Response:
    return httpx2.Response(200, headers={"content-type": "application/json"}, content=GOOD)


def busy(status: int, **headers: str) -> httpx2.Response:
    return httpx2.Response(
        status, headers={**HTML, **{name.replace("_", "-"): text for name, text in headers.items()}}, content=PAGE
    )


@pytest.mark.parametrize("status", [429, 502, 503, 504])
def test_a_busy_service_is_asked_again(ask: Any, status: int) -> None:
    script = Script(busy(status), busy(status), good())
    assert ask(script).velocity == run("pipe/velocity", ASKED).velocity
    assert len(script.bodies) == 3
    assert len(set(script.bodies)) == 1  # the same question each time
    assert [json.loads(body) for body in script.bodies] == [ASKED] * 3
    first, second = script.waits
    assert 0.1 < first <= 0.25
    assert 0.2 < second <= 0.5


@pytest.mark.parametrize("status", [400, 401, 403, 404, 405, 413, 422, 500, 501, 301, 302, 307])
def test_other_refusals_are_not_repeated(ask: Any, status: int) -> None:
    script = Script(busy(status, location="http://elsewhere.invalid/"))
    with pytest.raises(ServiceError) as caught:
        ask(script)
    assert caught.value.status == status
    assert len(script.bodies) == 1
    assert script.waits == []


@pytest.mark.parametrize("status", [429, 502, 503, 504])
def test_retries_are_bounded_and_the_gateways_page_is_survived(ask: Any, status: int) -> None:
    script = Script(busy(status, x_request_id="gate-7"))
    with pytest.raises(ServiceError) as caught:
        ask(script)
    assert len(script.bodies) == 3
    assert caught.value.status == status
    assert caught.value.body == PAGE.decode()
    assert caught.value.request_id == "gate-7"
    assert "502 Bad Gateway" in str(caught.value)
    assert len(str(caught.value)) < 400


@pytest.mark.parametrize("retries", [0, 1, 5])
def test_the_number_of_retries_is_the_callers(ask: Any, retries: int) -> None:
    script = Script(busy(503))
    with pytest.raises(ServiceError):
        ask(script, retries=retries)
    assert len(script.bodies) == 1 + retries
    assert all(wait <= 8.0 for wait in script.waits)


@pytest.mark.parametrize(("text", "least", "most"), [("0", 0, 0), ("3", 3, 3), (" 7 ", 7, 7), ("30", 30, 30)])
def test_retry_after_in_seconds_is_honoured(ask: Any, text: str, least: float, most: float) -> None:
    script = Script(busy(429, retry_after=text), good())
    ask(script)
    assert least <= script.waits[0] <= most


def test_retry_after_as_a_date_is_honoured(ask: Any) -> None:
    for ahead in (12.0, -100.0):
        script = Script(busy(503, retry_after=email.utils.formatdate(time.time() + ahead, usegmt=True)), good())
        ask(script)
        assert max(ahead - 2.0, 0.0) <= script.waits[0] <= max(ahead, 0.0)


@pytest.mark.parametrize("text", ["soon", "", "-5", "²", "1.5", "1e3", "Wed, 99 Nov 2026 00:00:00 GMT", "٣"])
def test_an_unreadable_retry_after_is_taken_as_none(ask: Any, text: str) -> None:
    header = {"retry-after": text.encode("utf-8")}
    script = Script(httpx2.Response(503, headers={k.encode(): v for k, v in header.items()}, content=PAGE), good())
    ask(script)
    assert 0.1 < script.waits[0] <= 0.25


@pytest.mark.parametrize("text", ["31", "3600", "9" * 400, "Fri, 31 Dec 9999 23:59:59 GMT"])
def test_a_service_that_wants_a_long_wait_is_left_to_the_caller(ask: Any, text: str) -> None:
    script = Script(busy(429, retry_after=text))
    with pytest.raises(ServiceError) as caught:
        ask(script)
    assert caught.value.status == 429
    assert script.waits == []


@pytest.mark.parametrize(
    "error",
    [
        httpx2.ConnectError("refused"),
        httpx2.ReadError("lost"),
        httpx2.WriteError("lost"),
        httpx2.RemoteProtocolError("closed without an answer"),
        httpx2.ConnectTimeout("slow"),
        httpx2.PoolTimeout("crowded"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_a_lost_connection_is_tried_again_and_then_told(ask: Any, error: Exception) -> None:
    script = Script(error, error, good())
    assert ask(script).velocity == run("pipe/velocity", ASKED).velocity
    assert len(script.waits) == 2
    script = Script(error)
    with pytest.raises(ServiceUnreachableError) as caught:
        ask(script)
    assert len(script.bodies) == 3
    assert isinstance(caught.value, ServiceTimeoutError) is isinstance(error, httpx2.TimeoutException)
    assert str(error) in str(caught.value)


def test_an_answer_that_does_not_come_in_time_is_not_asked_for_again(ask: Any) -> None:
    script = Script(httpx2.ReadTimeout("slow"))
    with pytest.raises(ServiceTimeoutError):
        ask(script)
    assert len(script.bodies) == 1


def test_an_answer_that_cannot_be_unpacked_is_told_as_the_services_fault(ask: Any) -> None:
    script = Script(httpx2.DecodingError("not what gzip packs"))
    with pytest.raises(DosewrightError):
        ask(script)


def test_timeouts_are_set_on_every_request(ask: Any) -> None:
    script = Script(good())
    ask(script)
    ask(script, timeout=2.0)
    assert [one["read"] for one in script.timeouts] == [30.0, 2.0]
    assert [one["connect"] for one in script.timeouts] == [5.0, 2.0]


def test_headers_and_address_are_the_callers(ask: Any) -> None:
    script = Script(good())
    ask(script, headers={"authorization": "Bearer x"})
    (headers,) = script.headers
    assert headers["authorization"] == "Bearer x"
    assert headers["content-type"] == "application/json"
    assert script.urls == ["http://service.invalid/v1/pipe/velocity"]


def test_a_service_behind_a_path_is_asked_below_it() -> None:
    script = Script(good())
    for base in ("http://service.invalid/water", "http://service.invalid/water/"):
        with Client(base, transport=httpx2.MockTransport(script)) as door:
            door.pipe.velocity(**ASKED)
    assert script.urls == ["http://service.invalid/water/v1/pipe/velocity"] * 2


BAD_ANSWERS = {
    "a page": PAGE,
    "nothing": b"",
    "cut short": GOOD[: len(GOOD) // 2],
    "another shape": b'{"velocity": "fast"}',
    "a list": b"[]",
    "deep": b"[" * 100_000,
    "deep inside": b'{"inputs": {"x": ' + b"[" * 100_000,
    "no text": b"\xff\xfe\x00",
}


@pytest.mark.parametrize("body", BAD_ANSWERS.values(), ids=list(BAD_ANSWERS))
def test_a_200_that_is_no_answer_is_a_service_error(ask: Any, body: bytes) -> None:
    script = Script(httpx2.Response(200, headers=HTML, content=body))
    with pytest.raises(ServiceError) as caught:
        ask(script)
    assert caught.value.status == 200
    assert caught.value.body == body.decode("utf-8", "replace")[:2000]
    assert len(str(caught.value)) < 600
    assert len(script.bodies) == 1


@pytest.mark.parametrize("body", BAD_ANSWERS.values(), ids=list(BAD_ANSWERS))
def test_a_batch_that_is_no_answer_is_a_service_error(body: bytes) -> None:
    transport = httpx2.MockTransport(lambda _: httpx2.Response(200, headers=HTML, content=body))
    with Client("http://service.invalid", transport=transport) as door, pytest.raises(ServiceError):
        door.pipe.velocity_batch(flow=["9 gal/min"], bore="20 mm")


@pytest.mark.parametrize(
    "body", [PAGE, b"", b"[]", b"[" * 100_000, b'{"x": ' + b"[" * 100_000, b'{"errors": 5}', b'{"errors": [{"x": 1}]}']
)
def test_a_refusal_in_no_known_shape_is_a_service_error(ask: Any, body: bytes) -> None:
    script = Script(httpx2.Response(422, headers={"content-type": "application/problem+json"}, content=body))
    with pytest.raises(ServiceError) as caught:
        ask(script)
    assert caught.value.status == 422


def test_a_refusal_without_details_still_says_something(ask: Any) -> None:
    script = Script(httpx2.Response(404, headers={"content-type": "application/problem+json"}, content=b"{}"))
    with pytest.raises(InvalidRequestError) as caught:
        ask(script)
    assert caught.value.faults == ()
    assert str(caught.value)


def test_a_refusal_carries_its_faults_and_the_request_id(ask: Any) -> None:
    problem = {
        "type": "/problems/invalid-request",
        "title": "x",
        "status": 422,
        "detail": "The request has 2 faults.",
        "errors": [
            {"pointer": "/flow", "code": "unit_missing", "message": "No unit.", "allowed": ["L/min"], "new": 1},
            {"pointer": "/bore", "code": "out_of_range", "message": "Too wide.", "allowed": "at most 2 m"},
        ],
        "request_id": "abc-1",
    }
    script = Script(httpx2.Response(422, headers={"content-type": "application/problem+json"}, json=problem))
    with pytest.raises(InvalidRequestError) as caught:
        ask(script)
    assert [fault.pointer for fault in caught.value.faults] == ["/flow", "/bore"]
    assert caught.value.faults[0].allowed == ["L/min"]
    assert caught.value.faults[1].allowed == "at most 2 m"
    assert caught.value.request_id == "abc-1"
    assert str(caught.value).splitlines() == ["The request has 2 faults.", "  /flow: No unit.", "  /bore: Too wide."]


def test_nothing_is_sent_that_the_service_would_read_as_something_else(ask: Any) -> None:
    script = Script(good())
    with pytest.raises(InvalidRequestError):
        ask(script, {**ASKED, "water_temperature": float("nan"), "units": "metric"})
    assert script.bodies == []


def test_every_error_is_of_one_family() -> None:
    for kind in (InvalidRequestError, ServiceError, ServiceUnreachableError, ServiceTimeoutError):
        assert issubclass(kind, DosewrightError)
    assert issubclass(ServiceTimeoutError, ServiceUnreachableError)
    assert not issubclass(DosewrightError, (ValueError, OSError))


def test_nobody_at_home_is_told_as_unreachable(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dosewright_sdk._http.time.sleep", lambda _: None)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with Client(f"http://127.0.0.1:{port}") as door, pytest.raises(ServiceUnreachableError) as caught:
        door.pipe.velocity(**ASKED)
    assert not isinstance(caught.value, ServiceTimeoutError)


def test_a_silent_service_is_told_as_a_timeout() -> None:
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        with Client(f"http://127.0.0.1:{port}", timeout=0.2) as door, pytest.raises(ServiceTimeoutError):
            door.pipe.velocity(**ASKED)
