"""The one module that knows the HTTP library."""

import asyncio
import ssl
import time
from collections.abc import Mapping
from typing import Any

import httpx2

from dosewright_sdk._retry import RETRIED_STATUSES, wait_before
from dosewright_sdk.errors import ServiceTimeoutError, ServiceUnreachableError

__all__ = ["AsyncPoster", "AsyncTransport", "Reply", "SyncPoster", "Transport"]

Transport = httpx2.BaseTransport
AsyncTransport = httpx2.AsyncBaseTransport
Reply = tuple[int, Mapping[str, str], bytes]

_CONNECT_SECONDS = 5.0
_HEADERS = {"content-type": "application/json", "accept": "application/json"}
# Shorter than the server keeps an idle connection, so that none is used just as it is closed.
_LIMITS = httpx2.Limits(max_connections=100, max_keepalive_connections=20, keepalive_expiry=4.0)


def _settings(base_url: str, timeout: float, headers: Mapping[str, str] | None) -> dict[str, Any]:
    settings: dict[str, Any] = {
        "base_url": base_url,
        "timeout": httpx2.Timeout(timeout, connect=min(_CONNECT_SECONDS, timeout)),
        "headers": {**_HEADERS, **(headers or {})},
        "limits": _LIMITS,
        "follow_redirects": False,
    }
    if base_url.startswith("http://"):
        # Reading the system's certificates costs tens of milliseconds that plain HTTP need not pay.
        settings["verify"] = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    return settings


class SyncPoster:
    """Posts, and posts again by the retry rule, over pooled connections."""

    def __init__(
        self,
        base_url: str,
        timeout: float,
        retries: int,
        headers: Mapping[str, str] | None,
        transport: Transport | None,
    ) -> None:
        self._client = httpx2.Client(transport=transport, **_settings(base_url, timeout, headers))
        self._retries = retries

    def post(self, path: str, body: bytes) -> Reply:
        """Return status, headers and body of the answer.

        Raises
        ------
        ServiceUnreachableError
            No answer came after the retries.
        """
        attempt = 1
        while True:
            last = attempt > self._retries
            try:
                reply = self._client.post(path, content=body)
            except httpx2.RequestError as error:
                if last or not _again(error):
                    raise _unreachable(error) from error
                wait = wait_before(attempt)
            else:
                if last or reply.status_code not in RETRIED_STATUSES:
                    return reply.status_code, reply.headers, reply.content
                wait = wait_before(attempt, reply.headers)
                if wait is None:
                    return reply.status_code, reply.headers, reply.content
            time.sleep(wait or 0.0)
            attempt += 1

    def close(self) -> None:
        """Close the connections."""
        self._client.close()


class AsyncPoster:
    """As :class:`SyncPoster`, for asyncio."""

    def __init__(
        self,
        base_url: str,
        timeout: float,
        retries: int,
        headers: Mapping[str, str] | None,
        transport: AsyncTransport | None,
    ) -> None:
        self._client = httpx2.AsyncClient(transport=transport, **_settings(base_url, timeout, headers))
        self._retries = retries

    async def post(self, path: str, body: bytes) -> Reply:
        """Return status, headers and body of the answer; raises as :meth:`SyncPoster.post`."""
        attempt = 1
        while True:
            last = attempt > self._retries
            try:
                reply = await self._client.post(path, content=body)
            except httpx2.RequestError as error:
                if last or not _again(error):
                    raise _unreachable(error) from error
                wait = wait_before(attempt)
            else:
                if last or reply.status_code not in RETRIED_STATUSES:
                    return reply.status_code, reply.headers, reply.content
                wait = wait_before(attempt, reply.headers)
                if wait is None:
                    return reply.status_code, reply.headers, reply.content
            await asyncio.sleep(wait or 0.0)
            attempt += 1

    async def close(self) -> None:
        """Close the connections."""
        await self._client.aclose()


def _again(error: httpx2.RequestError) -> bool:
    # A timeout while waiting for the answer can mean too large a batch: a retry would only wait again.
    return isinstance(error, httpx2.TransportError) and not isinstance(
        error, (httpx2.ReadTimeout, httpx2.UnsupportedProtocol)
    )


def _unreachable(error: httpx2.RequestError) -> ServiceUnreachableError:
    kind = ServiceTimeoutError if isinstance(error, httpx2.TimeoutException) else ServiceUnreachableError
    return kind(f"Cannot reach the service: {error or type(error).__name__}")
