"""The three doors: over HTTP, over HTTP with asyncio, and in process. Same calls, same types, same errors."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright_sdk import _wire
from dosewright_sdk._calls import AsyncTopics, Topics
from dosewright_sdk._retry import DEFAULT_RETRIES

if TYPE_CHECKING:
    from typing import Self

    from dosewright_sdk._http import AsyncTransport, Transport

__all__ = ["DEFAULT_ADDRESS", "DEFAULT_TIMEOUT", "AsyncClient", "Client", "InProcess"]

DEFAULT_ADDRESS = "http://127.0.0.1:8254"
DEFAULT_TIMEOUT = 30.0


class Client(Topics):
    """Asks a Dosewright service over HTTP.

    Make one and keep it: connections are pooled, and one client can serve many threads. Use it in a ``with`` block, or
    call :meth:`close`.

    Parameters
    ----------
    base_url : str
        Address of the service.
    timeout : float
        Seconds to wait for an answer; connecting can take at most 5 of them.
    retries : int
        How many times a request is repeated after a connection fault, or after 429, 502, 503 or 504.
    headers : mapping, optional
        Further headers, for instance for a proxy that requires authorization.
    transport : optional
        A transport of the HTTP library, for tests.
    """

    def __init__(
        self,
        base_url: str = DEFAULT_ADDRESS,
        *,
        timeout: float = DEFAULT_TIMEOUT,
        retries: int = DEFAULT_RETRIES,
        headers: Mapping[str, str] | None = None,
        transport: "Transport | None" = None,
    ) -> None:
        from dosewright_sdk._http import SyncPoster  # noqa: PLC0415 - the HTTP library loads when it is needed

        self._poster = SyncPoster(base_url, timeout, retries, headers, transport)
        super().__init__(self)

    def single(self, path: str, answer: Any, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation by its path; the typed methods call this."""
        status, headers, body = self._poster.post(f"/v1/{path}", _wire.encode(path, payload))
        if status != 200:
            raise _wire.error_from(status, headers, body)
        return _wire.decode(answer, status, body)

    def batch(self, path: str, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation over columns by its path; the typed methods call this."""
        status, headers, body = self._poster.post(f"/v1/{path}/batch", _wire.encode(path, payload, batch=True))
        if status != 200:
            raise _wire.error_from(status, headers, body)
        return _wire.batch_from(path, status, body)

    def close(self) -> None:
        """Close the connections."""
        self._poster.close()

    def __enter__(self) -> "Self":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class AsyncClient(AsyncTopics):
    """Asks a Dosewright service over HTTP, with asyncio; parameters as :class:`Client`."""

    def __init__(
        self,
        base_url: str = DEFAULT_ADDRESS,
        *,
        timeout: float = DEFAULT_TIMEOUT,
        retries: int = DEFAULT_RETRIES,
        headers: Mapping[str, str] | None = None,
        transport: "AsyncTransport | None" = None,
    ) -> None:
        from dosewright_sdk._http import AsyncPoster  # noqa: PLC0415 - the HTTP library loads when it is needed

        self._poster = AsyncPoster(base_url, timeout, retries, headers, transport)
        super().__init__(self)

    async def single(self, path: str, answer: Any, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation by its path; the typed methods call this."""
        status, headers, body = await self._poster.post(f"/v1/{path}", _wire.encode(path, payload))
        if status != 200:
            raise _wire.error_from(status, headers, body)
        return _wire.decode(answer, status, body)

    async def batch(self, path: str, payload: Mapping[str, Any]) -> Any:
        """Ask one calculation over columns by its path; the typed methods call this."""
        status, headers, body = await self._poster.post(f"/v1/{path}/batch", _wire.encode(path, payload, batch=True))
        if status != 200:
            raise _wire.error_from(status, headers, body)
        return _wire.batch_from(path, status, body)

    async def close(self) -> None:
        """Close the connections."""
        await self._poster.close()

    async def __aenter__(self) -> "Self":
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.close()


class InProcess(Topics):
    """Calculates here, without a service; a script goes remote by making a :class:`Client` instead."""

    def __init__(self) -> None:
        _wire.load_topics()
        super().__init__(self)

    def single(self, path: str, answer: Any, payload: Mapping[str, Any]) -> Any:
        """Run one calculation by its path; the typed methods call this."""
        del answer
        try:
            return run(path, payload)
        except RequestRefused as error:
            raise _wire.refused(error) from None

    def batch(self, path: str, payload: Mapping[str, Any]) -> Any:
        """Run one calculation over columns by its path; the typed methods call this."""
        try:
            return run_batch(path, _wire.of_frames(payload))
        except RequestRefused as error:
            raise _wire.refused(error) from None

    def close(self) -> None:
        """Do nothing, as there is nothing to close; here so that a script can end as with a client."""

    def __enter__(self) -> "Self":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
