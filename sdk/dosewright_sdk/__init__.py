"""Typed client of the Dosewright calculations: over HTTP, over HTTP with asyncio, and in process.

from dosewright_sdk import InProcess

answer = InProcess().pipe.velocity(flow="9 gal/min", bore="20 mm")
answer.velocity, answer.units["velocity"]
"""

from dosewright.contracts.base import Answer, Basis, BatchAnswer, Caution, Warn
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
