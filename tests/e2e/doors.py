"""The three doors asked the same thing, each answer as plain data."""

from __future__ import annotations

import asyncio
import json
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from dosewright_sdk import AsyncClient, Client, InProcess, InvalidRequestError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dosewright.engine.registry import Calculation


def plain(value: Any) -> Any:
    """Return an answer as JSON would hold it, so that any difference shows; numbers keep every bit."""

    def arrays(inner: Any) -> Any:
        if isinstance(inner, np.ndarray):
            return inner.tolist()
        raise NotImplementedError(type(inner))

    return json.loads(msgspec.json.encode(value, enc_hook=arrays))


def outcome(method: Any, payload: Mapping[str, Any]) -> Any:
    """Return the answer as plain data, or the faults where the request is refused."""
    try:
        return plain(method(**payload))
    except InvalidRequestError as error:
        return {"refused": plain(error.faults)}


def ask_all(
    base_url: str, entry: Calculation[Any, Any], payload: Mapping[str, Any], *, batch: bool = False
) -> list[Any]:
    """Ask all doors, in process first."""
    name = entry.name.replace("-", "_") + ("_batch" if batch else "")

    def method(door: Any) -> Any:
        return getattr(getattr(door, entry.topic), name)

    async def ask_async() -> Any:
        async with AsyncClient(base_url) as client:
            try:
                return plain(await method(client)(**payload))
            except InvalidRequestError as error:
                return {"refused": plain(error.faults)}

    with Client(base_url) as client:
        return [outcome(method(InProcess()), payload), outcome(method(client), payload), asyncio.run(ask_async())]
