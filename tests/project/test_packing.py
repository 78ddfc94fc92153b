"""MessagePack and packed bodies, in both directions."""

import gzip
import json
import zlib

import msgspec
import pytest
import zstandard

from asgi import post, send
from dosewright.http import bodies
from requests_velocity import JSON, REQUEST


def test_messagepack_both_ways() -> None:
    packed = {"content-type": "application/msgpack", "accept": "application/msgpack"}
    reply = send("POST", "/v1/pipe/velocity", [msgspec.msgpack.encode(REQUEST)], packed)
    plain = post("/v1/pipe/velocity", REQUEST).json()
    assert reply.headers["content-type"] == "application/msgpack"
    assert msgspec.msgpack.decode(reply.body) == plain


def test_messagepack_of_a_batch_marks_rows_at_fault_as_json_does() -> None:
    body = {"flow": ["9 gal/min", "9 gal/mn"], "bore": "20 mm"}
    reply = send(
        "POST",
        "/v1/pipe/velocity/batch?format=msgpack",
        [msgspec.msgpack.encode(body)],
        {"content-type": "application/vnd.msgpack"},
    )
    assert msgspec.msgpack.decode(reply.body) == post("/v1/pipe/velocity/batch", body).json()


def test_broken_messagepack_is_told() -> None:
    reply = send("POST", "/v1/pipe/velocity", [b"\x81\xa4flow"], {"content-type": "application/msgpack"})
    assert reply.status == 400
    assert "MessagePack" in reply.json()["detail"]


def pack(name: str, body: bytes) -> bytes:
    return gzip.compress(body) if name == "gzip" else zstandard.ZstdCompressor().compress(body)


def unpack(name: str, body: bytes) -> bytes:
    return gzip.decompress(body) if name == "gzip" else zstandard.ZstdDecompressor().decompressobj().decompress(body)


def streamed_zstd(body: bytes) -> bytes:
    """Return a frame that does not tell its size."""
    packer = zstandard.ZstdCompressor().compressobj()
    return packer.compress(body) + packer.flush()


@pytest.mark.parametrize("name", ["gzip", "zstd"])
@pytest.mark.parametrize("target", ["/v1/pipe/velocity", "/v1/pipe/velocity/batch"])
def test_a_packed_body_is_read(name: str, target: str) -> None:
    body = pack(name, json.dumps(REQUEST).encode())
    reply = send("POST", target, [body[:9], body[9:]], {**JSON, "content-encoding": name})
    assert reply.json() == post(target, REQUEST).json()


def test_a_zstd_frame_without_its_size_is_read() -> None:
    body = streamed_zstd(json.dumps(REQUEST).encode())
    assert send("POST", "/v1/pipe/velocity", [body], {**JSON, "content-encoding": "zstd"}).status == 200


@pytest.mark.parametrize("name", ["gzip", "zstd"])
def test_a_long_answer_is_packed_for_who_takes_it(name: str) -> None:
    body = {"flow": [f"{flow} L/min" for flow in range(1, 200)], "bore": "20 mm"}
    reply = post("/v1/pipe/velocity/batch", body, {"accept-encoding": f"br, {name}"})
    assert reply.headers["content-encoding"] == name
    plain = post("/v1/pipe/velocity/batch", body)
    assert "content-encoding" not in plain.headers
    assert unpack(name, reply.body) == plain.body
    assert len(reply.body) < len(plain.body) / 2
    refused = post("/v1/pipe/velocity/batch", body, {"accept-encoding": f"{name};q=0"})
    assert "content-encoding" not in refused.headers


@pytest.mark.parametrize("name", ["gzip", "zstd"])
@pytest.mark.parametrize("target", ["/v1/pipe/velocity", "/v1/pipe/velocity/batch"])
def test_a_bomb_is_refused(name: str, target: str) -> None:
    limit = bodies.BATCH_BODY_LIMIT if target.endswith("batch") else bodies.BODY_LIMIT
    bomb = pack(name, b" " * (limit + 1))
    assert len(bomb) < limit // 500
    reply = send("POST", target, [bomb], {**JSON, "content-encoding": name})
    assert reply.status == 413
    assert reply.headers["connection"] == "close"


def test_a_zstd_frame_that_wants_much_memory_is_refused() -> None:
    parameters = zstandard.ZstdCompressionParameters(window_log=27)
    packer = zstandard.ZstdCompressor(compression_params=parameters).compressobj()
    body = packer.compress(json.dumps(REQUEST).encode()) + packer.flush()
    assert send("POST", "/v1/pipe/velocity", [body], {**JSON, "content-encoding": "zstd"}).status == 400


@pytest.mark.parametrize("name", ["gzip", "zstd"])
@pytest.mark.parametrize("damage", ["cut", "longer", "plain", "nothing", "twice"])
def test_a_damaged_packed_body_is_told(name: str, damage: str) -> None:
    plain = json.dumps(REQUEST).encode()
    body = pack(name, plain)
    damaged = {
        "cut": body[:-3],
        "longer": body + b"junk",
        "plain": plain,
        "nothing": b"",
        "twice": pack(name, plain[:9]) + pack(name, plain[9:]),
    }[damage]
    reply = send("POST", "/v1/pipe/velocity", [damaged], {**JSON, "content-encoding": name})
    assert reply.status == 400
    assert name in reply.json()["detail"]


def test_an_unknown_packing_names_those_known() -> None:
    reply = send("POST", "/v1/pipe/velocity", [zlib.compress(b"{}")], {**JSON, "content-encoding": "deflate"})
    assert reply.status == 415
    assert reply.headers["accept-encoding"] == "gzip, zstd"
