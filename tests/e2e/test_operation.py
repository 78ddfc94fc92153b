"""Running the service: behind a proxy's path, in several processes, with its logs and caches."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from raw_http import Connection

from serverproc import serving

if TYPE_CHECKING:
    from serverproc import ServerProcess

ASKED = "/v1/pipe/velocity?flow=9%20gal/min&bore=20%20mm"


def get(port: int, target: str, *headers: str) -> Any:
    with Connection(port) as wire:
        return wire.request("GET", target, *headers)


def test_behind_a_proxy_that_strips_a_path_the_question_holds_it() -> None:
    with serving(root_path="/well/") as server:
        answered = get(server.port, ASKED)
        assert answered.status == 200
        question = answered.json()["question"]
        assert question.startswith("/well/v1/pipe/velocity?")
        again = get(server.port, question.removeprefix("/well"))
        assert again.body == answered.body
        for target in ("/health/live", "/health/ready", "/openapi.json", "/docs"):
            assert get(server.port, target).status == 200
        assert get(server.port, "/v1/pipe/nothing").status == 404


def test_every_process_gives_the_same_bytes_and_the_same_tag() -> None:
    with serving(workers=2) as server:
        replies = [get(server.port, ASKED) for _ in range(30)]
        assert {reply.status for reply in replies} == {200}
        assert len({(reply.body, reply.headers["etag"]) for reply in replies}) == 1
        assert len({reply.headers["x-request-id"] for reply in replies}) == len(replies)


def test_a_known_tag_is_answered_with_304_and_no_body(server: ServerProcess) -> None:
    first = get(server.port, ASKED)
    again = get(server.port, ASKED, f"If-None-Match: {first.headers['etag']}")
    assert (again.status, again.body) == (304, b"")
    assert again.headers["etag"] == first.headers["etag"]
    other = get(server.port, ASKED.replace("flow=9", "flow=8"), f"If-None-Match: {first.headers['etag']}")
    assert other.status == 200
    assert other.headers["etag"] != first.headers["etag"]


@pytest.mark.parametrize("workers", [1, 2])
def test_each_request_is_a_json_line_in_the_log_with_its_id(workers: int) -> None:
    with serving(log_level="info", workers=workers) as server:
        get(server.port, ASKED, "X-Request-Id: well-7")
        get(server.port, "/v1/pipe/nothing", "X-Request-Id: well-8")
        forged = get(server.port, ASKED, 'X-Request-Id: a"b\x01c')
        lines = [json.loads(line) for line in server.stop().splitlines()]
    requests = {line["request_id"]: line for line in lines if "request_id" in line}
    assert requests["well-7"]["status"] == 200
    assert requests["well-7"]["path"] == "/v1/pipe/velocity"
    assert requests["well-7"]["milliseconds"] < 1000
    assert requests["well-8"]["status"] == 404
    if forged.status == 200:  # a server may also refuse such a header
        assert forged.headers["x-request-id"] in requests
        assert forged.headers["x-request-id"].replace("-", "").isalnum()
    assert not any("flow=9" in json.dumps(line) for line in lines)  # what is asked stays with the asker


def test_nothing_is_logged_of_good_requests_at_warning_level() -> None:
    with serving() as server:
        get(server.port, ASKED)
        assert server.stop() == ""


def test_the_documents_page_needs_nothing_from_elsewhere(server: ServerProcess) -> None:
    page = get(server.port, "/docs")
    assert "default-src 'none'" in page.headers["content-security-policy"]
    text = page.body.decode()
    named = [part.split('"')[0] for part in text.replace("src=", "href=").split('href="')[1:]]
    assert named
    for target in named:
        assert "//" not in target
        assert get(server.port, f"/{target}").status == 200, target
    assert get(server.port, "/openapi.json").json()["openapi"].startswith("3.1")
