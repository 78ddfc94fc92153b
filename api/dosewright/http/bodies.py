"""Bodies: those of requests are read and decompressed within a limit and decoded, those of answers compressed.

The framework's compression is not used: it ignores ``gzip;q=0``, puts the time into
its gzip output, so no strong entity tag stays valid, and leaves a HEAD without the headers of its GET.
"""

import zlib
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from typing import Any, cast

import msgspec
import zstandard

from dosewright.http.problems import ProblemError

__all__ = [
    "BATCH_BODY_LIMIT",
    "BODY_LIMIT",
    "MEDIA_TYPES",
    "as_cases",
    "as_object",
    "compress",
    "decoded",
    "decompressed",
    "encoding_for",
    "media_type_of",
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
_SHORTEST_COMPRESSED = 4096
# What a reader must be able to hold (RFC 9659); a larger window is memory taken before a byte is read.
_LARGEST_ZSTD_WINDOW = 8 * 1024 * 1024
# Four bytes can expand to a block of 128 KiB.
_MOST_ZSTD_GAIN = 32 * 1024
_LEAST_ZSTD_PIECE = 64


def media_type_of(headers: Mapping[bytes, bytes]) -> str:
    """Return the media type of a request's body; JSON when none is named.

    Raises
    ------
    ProblemError
        An unsupported media type.
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
    """Return a request's body as it was sent.

    Raises
    ------
    ProblemError
        It is larger than the limit, or cut short.
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
                raise ProblemError("unreadable-body", "The body is incomplete.")
            parts.append(message.get("body", b""))
            total += len(parts[-1])
        body = b"".join(parts)
    if len(body) > limit:
        raise _too_large(limit)
    return body


def decompressed(body: bytes, headers: Mapping[bytes, bytes], limit: int) -> bytes:
    """Return a body decompressed by its Content-Encoding.

    Raises
    ------
    ProblemError
        It is larger than the limit, incomplete, or has an unsupported encoding.
    """
    named = headers.get(b"content-encoding")
    if named is None:
        return body
    encoding = named.decode("latin-1").strip().lower()
    try:
        if encoding in {"gzip", "x-gzip"}:
            plain, complete = _from_gzip(body, limit)
        elif encoding == "zstd":
            plain, complete = _from_zstd(body, limit)
        elif encoding in {"identity", ""}:
            return body
        else:
            detail = "A body can be compressed with gzip or zstd."
            raise ProblemError("unsupported-media-type", detail, headers=[("accept-encoding", "gzip, zstd")])
    except (zlib.error, zstandard.ZstdError):
        raise ProblemError("unreadable-body", f"The body is not valid {encoding} data.") from None
    if len(plain) > limit:
        raise _too_large(limit)
    if not complete:
        raise ProblemError("unreadable-body", f"The body is not one complete {encoding} stream.")
    return plain


def _from_gzip(body: bytes, limit: int) -> tuple[bytes, bool]:
    decompressor = zlib.decompressobj(wbits=31)
    return decompressor.decompress(body, limit + 1), decompressor.eof and not decompressor.unused_data


def _from_zstd(body: bytes, limit: int) -> tuple[bytes, bool]:
    """Unpack piece by piece, so that neither a false size in the header nor a bomb takes memory."""
    decompressor = zstandard.ZstdDecompressor(max_window_size=_LARGEST_ZSTD_WINDOW).decompressobj()
    parts: list[bytes] = []
    total = taken = 0
    piece = max(_LEAST_ZSTD_PIECE, limit // _MOST_ZSTD_GAIN)
    for start in range(0, len(body), piece):
        if decompressor.eof or total > limit:
            break
        taken = start + piece
        parts.append(decompressor.decompress(body[start : start + piece]))
        total += len(parts[-1])
    return b"".join(parts), decompressor.eof and not decompressor.unused_data and taken >= len(body)


def _too_large(limit: int) -> ProblemError:
    # The connection is closed, so that the rest of the body is never read.
    return ProblemError("body-too-large", f"At most {limit} bytes are allowed.", headers=[("connection", "close")])


def decoded(body: bytes, media_type: str) -> Any:
    """Return a body as plain data.

    Raises
    ------
    ProblemError
        It does not match its media type.
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
        raise ProblemError("unreadable-body", "Expected an object with the inputs by name.")
    return cast("dict[str, Any]", raw)


def as_cases(raw: Any) -> list[dict[str, Any]] | None:
    """Return a batch's body as the cases of a table, one object a row; None where it holds columns.

    Raises
    ------
    ProblemError
        It is a list of something else.
    """
    if not isinstance(raw, list):
        return None
    rows = cast("list[Any]", raw)
    if not rows or not all(isinstance(row, dict) for row in rows):
        raise ProblemError("unreadable-body", "Expected a list of objects: one per row, at least one.")
    return cast("list[dict[str, Any]]", rows)


def encoding_for(length: int, accepted: bytes) -> bytes | None:
    """Return the encoding that a caller accepts, if a body of this length is worth compressing."""
    if length < _SHORTEST_COMPRESSED:
        return None
    names = {part.partition(b";")[0].strip() for part in accepted.lower().split(b",") if not _refused(part)}
    return next((name for name in (b"zstd", b"gzip") if name in names), None)


def _refused(part: bytes) -> bool:
    weights = [piece.strip()[2:] for piece in part.split(b";")[1:] if piece.strip().startswith(b"q=")]
    return any(not weight.strip(b"0.") for weight in weights)


def compress(body: bytes, encoding: bytes) -> bytes:
    """Return a compressed body, the same bytes each time."""
    if encoding == b"zstd":
        return zstandard.ZstdCompressor(level=1).compress(body)
    compressor = zlib.compressobj(level=5, wbits=31)
    return compressor.compress(body) + compressor.flush()
