"""An offer of another protocol, as Java's client makes with every request, changes nothing."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from raw_http import Connection

if TYPE_CHECKING:
    from serverproc import ServerProcess

BODY = json.dumps({"flow": "9 gal/min", "bore": "20 mm"}).encode()


@pytest.mark.parametrize("name", ["Upgrade", "upgrade", "UPGRADE"])
@pytest.mark.parametrize("apart", [False, True], ids=["in one piece", "body apart"])
def test_a_request_that_offers_an_upgrade_is_answered_as_any(server: ServerProcess, name: str, *, apart: bool) -> None:
    offer = ("Connection: Upgrade, HTTP2-Settings", f"{name}: h2c", "HTTP2-Settings: AAEAAEAAAAIAAAAB")
    with Connection(server.port) as wire:
        expected = wire.post("/v1/pipe/velocity", BODY)
        assert expected.status == 200
        for _ in range(2):  # the connection stays usable
            lines = [*offer, "Content-Type: application/json", f"Content-Length: {len(BODY)}"]
            if apart:
                wire.send("\r\n".join(["POST /v1/pipe/velocity HTTP/1.1", "Host: here", *lines, "", ""]).encode())
                wire.send(BODY)
                reply = wire.reply()
            else:
                reply = wire.request("POST", "/v1/pipe/velocity", *lines, body=BODY)
            assert (reply.status, reply.body) == (200, expected.body)


def test_the_word_in_a_body_is_left_alone(server: ServerProcess) -> None:
    with Connection(server.port) as wire:
        reply = wire.post("/v1/pipe/velocity", b'{"flow": "\\nupgrade: h2c", "bore": "20 mm"}')
    assert reply.status == 422
    assert "upgrade" in reply.json()["errors"][0]["given"]
