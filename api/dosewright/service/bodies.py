"""Bodies of requests: read within a bound, unpacked within it too, and decoded."""

import zlib
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from typing import Any, cast

import msgspec
import zstandard

from dosewright.service.problems import ProblemError

__all__ = [
    "BATCH_BODY_LIMIT",
    "BODY_LIMIT",
    "MEDIA_TYPES",
    "as_columns",
    "as_object",
    "decoded",
    "media_type_of",
    "packed",
    "read",
]

BODY_LIMIT = 256 * 1024
BATCH_BODY_LIMIT = 64 * 1024 * 1024

MEDIA_TYPES = ("application/json", "application/msgpack")
_DECODERS: dict[str, Callable[[bytes], Any]] = {
    "application/json": msgspec.json.Decoder().decode,
    "application/msgpack": msgspec.msgpack.Decoder().decode,
    "application/vnd.msgpack": msgspec.msgpack.Decoder().decode,
    "application/x-msgpack": msgspec.msgpack.Decoder().decode,
}
_LEAST_WORTH_PACKING = 4096


def media_type_of(headers: Mapping[bytes, bytes]) -> str:
    """Return the media type of a request's body; JSON when none is named.

    Raises
    ------
    ProblemError
        A type that is not read here.
    """
    given = headers.get(b"content-type")
    if given is None or given == b"application/json":
        return "application/json"
    media = given.decode("latin-1").partition(";")[0].strip().lower()
    if media not in _DECODERS:
        detail = (
            "Send the body as JSON, with the header content-type: application/json "
            "(curl: -H 'content-type: application/json'), or as MessagePack."
        )
        raise ProblemError("unsupported-media-type", detail, headers=[("accept", ", ".join(MEDIA_TYPES))])
    return media


async def read(
    receive: Callable[[], Awaitable[MutableMapping[str, Any]]], headers: Mapping[bytes, bytes], limit: int
) -> bytes:
    """Return a request's body, unpacked.

    Raises
    ------
    ProblemError
        It is larger than the limit, packed or unpacked, or cut short, or packed in a way not known here.
    """
    length = headers.get(b"content-length")
    if length is not None and length.isdigit() and int(length) > limit:
        raise _too_large(limit)
    message = await receive()
    body: bytes = message.get("body", b"")
    if message.get("more_body"):
        parts, total = [body], len(body)
        while message.get("more_body") and total <= limit:
            message = await receive()
            if message["type"] == "http.disconnect":
                raise ProblemError("unreadable-body", "The body ended before its end.")
            parts.append(message.get("body", b""))
            total += len(parts[-1])
        body = b"".join(parts)
    if len(body) > limit:
        raise _too_large(limit)
    encoding = headers.get(b"content-encoding")
    return body if encoding is None else _unpacked(body, encoding.decode("latin-1").strip().lower(), limit)


def _unpacked(body: bytes, encoding: str, limit: int) -> bytes:
    try:
        if encoding == "gzip":
            unpacker = zlib.decompressobj(wbits=31)
            plain = unpacker.decompress(body, limit + 1)
            complete = unpacker.eof or len(plain) > limit
        elif encoding == "zstd":
            with zstandard.ZstdDecompressor().stream_reader(body) as stream:
                plain = stream.read(limit + 1)
            complete = True
        elif encoding in {"identity", ""}:
            return body
        else:
            detail = "A body may be packed by gzip or zstd."
            raise ProblemError("unsupported-media-type", detail, headers=[("accept-encoding", "gzip, zstd")])
    except (zlib.error, zstandard.ZstdError):
        raise ProblemError("unreadable-body", f"The body is not what {encoding} packs.") from None
    if len(plain) > limit:
        raise _too_large(limit)
    if not complete:
        raise ProblemError("unreadable-body", f"The body is not all that {encoding} packed.")
    return plain


def _too_large(limit: int) -> ProblemError:
    # The connection is closed, so that the rest of the body is never read.
    return ProblemError("body-too-large", f"At most {limit} bytes are read here.", headers=[("connection", "close")])


def decoded(body: bytes, media_type: str) -> Any:
    """Return a body as plain data.

    Raises
    ------
    ProblemError
        It is not what its media type says.
    """
    try:
        return _DECODERS[media_type](body)
    except (msgspec.DecodeError, RecursionError, UnicodeError) as error:
        reason = "it is nested too deeply" if isinstance(error, RecursionError) else str(error)
        name = "JSON" if media_type == "application/json" else "MessagePack"
        raise ProblemError("unreadable-body", f"The body is not valid {name}: {reason}.") from None


def as_object(raw: Any) -> dict[str, Any]:
    """Return a body that must be an object.

    Raises
    ------
    ProblemError
        It is something else.
    """
    if not isinstance(raw, dict):
        raise ProblemError("unreadable-body", "The body must be an object with the inputs by name.")
    return cast("dict[str, Any]", raw)


def as_columns(raw: Any) -> dict[str, Any]:
    """Return a batch's body by columns; a list of cases, one object a row, is turned.

    Raises
    ------
    ProblemError
        It is neither, or the rows differ in what must be the same for all of them.
    """
    if not isinstance(raw, list):
        return as_object(raw)
    rows = cast("list[Any]", raw)
    if not rows or not all(isinstance(row, dict) for row in rows):
        raise ProblemError("unreadable-body", "A table is a list of objects, one a row, at least one.")
    cases = cast("list[dict[str, Any]]", rows)
    names = dict.fromkeys(name for row in cases for name in row)
    return {name: _column(name, [row.get(name) for row in cases]) for name in names}


def _column(name: str, values: list[Any]) -> Any:
    first = values[0]
    # Lists and the unit profile are the same for all rows; what is a quantity may differ.
    if isinstance(first, list) or name in {"units", "answer_units"} or _is_part(first):
        if any(value != first for value in values):
            raise ProblemError("unreadable-body", f"{name} must be the same in every row of a table.")
        return cast("Any", first)
    return values


def _is_part(value: Any) -> bool:
    return isinstance(value, dict) and set(cast("dict[str, Any]", value)) != {"value", "unit"}


def packed(body: bytes, accepted: bytes) -> tuple[bytes, bytes | None]:
    """Return an answer's body, packed where the caller takes it so and it is worth it, and the name of the packing."""
    if len(body) < _LEAST_WORTH_PACKING:
        return body, None
    names = {part.partition(b";")[0].strip() for part in accepted.lower().split(b",") if b"q=0" not in part}
    if b"zstd" in names:
        return zstandard.ZstdCompressor(level=1).compress(body), b"zstd"
    if b"gzip" in names:
        packer = zlib.compressobj(level=5, wbits=31)
        return packer.compress(body) + packer.flush(), b"gzip"
    return body, None
