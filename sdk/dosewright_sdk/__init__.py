"""Typed client of the Dosewright calculations: over HTTP, over HTTP with asyncio, and in process.

from dosewright_sdk import InProcess

answer = InProcess().pipe.velocity(flow="9 gal/min", bore="20 mm")
answer.velocity, answer.units["velocity"]
"""

from typing import Any

from dosewright.engine.base import Answer, Basis, BatchAnswer, Caution, Warn
from dosewright.quantities import Quantity
from dosewright_sdk.clients import AsyncClient, Client, InProcess
from dosewright_sdk.errors import (
    DosewrightError,
    Fault,
    InvalidRequestError,
    ServiceError,
    ServiceTimeoutError,
    ServiceUnreachableError,
)

__all__ = [
    "FROM_PLAN",
    "Answer",
    "AsyncClient",
    "Basis",
    "BatchAnswer",
    "Caution",
    "Client",
    "DosewrightError",
    "Fault",
    "InProcess",
    "InvalidRequestError",
    "Quantity",
    "ServiceError",
    "ServiceTimeoutError",
    "ServiceUnreachableError",
    "Warn",
]

FROM_PLAN: Any = None
"""Stands in a part of a plan for what the plan has for all its parts: UVT, peak flow, water temperature."""
