"""Requests as bytes, and answers or errors from bytes."""

import importlib
import math
import re
from collections.abc import Mapping
from functools import cache
from typing import Any, cast

import msgspec
import numpy as np

from dosewright.engine.base import BatchAnswer, as_mapping
from dosewright.engine.faults import Fault, RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.unsendable import reading_faults
from dosewright.engine.writing import numeric_names
from dosewright.quantities import PintQuantity, Quantity, Unreadable, from_pint
from dosewright_sdk.errors import DosewrightError, InvalidRequestError, ServiceError

__all__ = ["batch_from", "decode", "encode", "error_from", "load_topics", "of_frames", "refused"]


def load_topics() -> None:
    """Register the calculations; done when they are first needed, so that importing the client stays quick."""
    importlib.import_module("dosewright.topics")


def _plain(value: Any) -> Any:
    """Return what msgspec does not know as plain data: arrays, numpy numbers, pint quantities."""
    if isinstance(value, np.ndarray):
        return cast("Any", value).tolist()
    if isinstance(value, np.generic):
        return cast("Any", value).item()
    if hasattr(value, "to_base_units") and isinstance(value, PintQuantity):
        return from_pint(value)
    raise NotImplementedError(f"{type(value).__name__} cannot be sent")


_ENCODER = msgspec.json.Encoder(enc_hook=_plain)


def _given(value: Any) -> Any:
    """Return an item, or each of a list of items, as what was set in it and in the items within."""
    if isinstance(value, (str, float, int)):
        return value
    if hasattr(value, "to_numpy"):
        return _values(value)
    if isinstance(value, Quantity):
        return Quantity(_given(value.value), value.unit)
    if isinstance(value, msgspec.Struct):
        value = as_mapping(value)
    if isinstance(value, Mapping):
        return {name: _given(inner) for name, inner in cast("Mapping[str, Any]", value).items()}
    if not isinstance(value, (list, tuple)):
        return value
    items = cast("list[Any]", value)
    # A number or text starts a column, which can be long and has no items.
    if not items or isinstance(items[0], (float, int, str)):
        return items
    return [_given(item) for item in items]


def _values(column: Any) -> Any:
    """Return a data frame's column as an array of numbers, or as a list where it holds texts or gaps."""
    values = column.to_numpy()
    if getattr(values, "ndim", 0) != 1 or values.dtype.kind in "biuf":
        return values
    # What is missing is a float that is not a number in one library, and a special value in another.
    return [value if isinstance(value, (str, int, float)) and value == value else None for value in values.tolist()]


def of_frames(payload: Mapping[str, Any]) -> dict[str, Any]:
    """Return a request whose columns are arrays and lists where a data frame's were given."""
    return {name: _given(value) for name, value in payload.items() if value is not None}


def encode(path: str, payload: Mapping[str, Any], *, batch: bool = False) -> bytes:
    """Return a request's body without the values that are None.

    Raises
    ------
    InvalidRequestError
        A value cannot be sent, for instance a number that is not finite; every fault of the request is listed.
    """
    try:
        body = _ENCODER.encode(of_frames(payload))
    except (NotImplementedError, TypeError, OverflowError, Unreadable) as error:
        raise _refused_here(path, payload, str(error), batch=batch) from None
    # NaN is written as null, which means absent: only then it must be searched for.
    if b"null" in body and _holds_not_finite(payload):
        raise _refused_here(path, payload, Unreadable.not_finite().message, batch=batch)
    return body


def _refused_here(path: str, payload: Mapping[str, Any], reason: str, *, batch: bool) -> InvalidRequestError:
    """Return what reading finds in a request that cannot be sent; nothing is computed here."""
    load_topics()
    faults = reading_faults(path, of_frames(payload) if batch else payload, batch=batch)
    if faults:
        return refused(RequestRefused(faults))
    return InvalidRequestError([Fault(pointer="", code="wrong_type", message=reason)])


def _holds_not_finite(value: Any) -> bool:
    """Return whether a single number is not finite; in a column it is a row with an error, and can be sent as null."""
    if isinstance(value, msgspec.Struct):
        value = {name: getattr(value, name) for name in value.__struct_fields__}
    if isinstance(value, Mapping):
        return any(_holds_not_finite(inner) for inner in cast("Mapping[str, Any]", value).values())
    if isinstance(value, (list, tuple)):
        # A bare number in a list is an entry of a column, not a quantity by itself.
        return any(
            _holds_not_finite(inner) for inner in cast("list[Any]", value) if not isinstance(inner, (int, float))
        )
    if hasattr(value, "to_base_units"):
        value = getattr(value, "magnitude", None)
    return isinstance(value, (float, np.floating)) and not math.isfinite(cast("float", value))


class _Problem(msgspec.Struct):
    detail: str = ""
    errors: list[Fault] = []
    request_id: str = ""


@cache
def _decoder(answer: Any) -> "msgspec.json.Decoder[Any]":
    return msgspec.json.Decoder(answer)


_problem_decoder = msgspec.json.Decoder(_Problem)


def decode(answer: Any, status: int, body: bytes) -> Any:
    """Return an answer as its contract type.

    Raises
    ------
    ServiceError
        The body is not an answer of this calculation.
    """
    try:
        return _decoder(answer).decode(body)
    except (msgspec.DecodeError, RecursionError) as error:
        raise ServiceError(
            status, body.decode("utf-8", "replace"), reason=f"No answer of this kind ({error}):"
        ) from None


def batch_from(path: str, status: int, body: bytes) -> BatchAnswer[Any]:
    """Return a batch answer with its numeric columns as arrays."""
    given: BatchAnswer[Any] = decode(BatchAnswer, status, body)
    load_topics()
    numeric = numeric_names(find(path).answer)
    for name, column in given.columns.items():
        if re.sub(r"\.\d+\.", ".", name) in numeric:
            given.columns[name] = np.array(column, dtype=np.float64)
    return given


def error_from(status: int, headers: Mapping[str, str], body: bytes) -> DosewrightError:
    """Return the error of an answer other than 200; the body need not be problem details."""
    request_id = headers.get("x-request-id", "")
    if 400 <= status < 500 and headers.get("content-type", "").startswith("application/problem+json"):
        try:
            problem = _problem_decoder.decode(body)
        except (msgspec.DecodeError, RecursionError):
            return ServiceError(status, body.decode("utf-8", "replace"), request_id)
        return InvalidRequestError(problem.errors, problem.detail, problem.request_id or request_id)
    return ServiceError(status, body.decode("utf-8", "replace"), request_id)


def refused(error: RequestRefused) -> InvalidRequestError:
    """Return an error in process as the error that the service's reply becomes."""
    count = len(error.faults)
    return InvalidRequestError(
        error.faults, "The request has 1 fault." if count == 1 else f"The request has {count} faults."
    )
