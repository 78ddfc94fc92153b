"""Requests as bytes, and answers or errors from bytes."""

import re
from collections.abc import Mapping
from functools import cache
from typing import Any, cast

import msgspec
import numpy as np

from dosewright.calculations.registry import find
from dosewright.contracts.base import BatchAnswer, as_mapping
from dosewright.contracts.writing import numeric_names
from dosewright.faults import Fault, RequestRefused
from dosewright.quantities import PintQuantity, Quantity, Unreadable, from_pint, spoken
from dosewright_sdk.errors import DosewrightError, InvalidRequestError, ServiceError

__all__ = ["batch_from", "decode", "encode", "error_from", "refused"]


def _plain(value: Any) -> Any:
    """Return what msgspec does not know as plain data: arrays, numpy numbers, pint quantities."""
    if isinstance(value, np.ndarray):
        return cast("Any", value).tolist()
    if isinstance(value, np.generic):
        return cast("Any", value).item()
    if hasattr(value, "to_base_units") and isinstance(value, PintQuantity):
        try:
            return from_pint(value)
        except Unreadable as fault:
            raise InvalidRequestError([Fault(pointer="", code=fault.code, message=fault.message)]) from None
    raise NotImplementedError(f"{type(value).__name__} cannot be sent")


_ENCODER = msgspec.json.Encoder(enc_hook=_plain)


def _given(value: Any) -> Any:
    """Return an item, or each of a list of items, as what was set in it."""
    if isinstance(value, msgspec.Struct) and not isinstance(value, Quantity):
        return as_mapping(value)
    if not isinstance(value, (list, tuple)):
        return value
    items = cast("list[Any]", value)
    # A number or text starts a column, which may be long and holds no items.
    if not items or isinstance(items[0], (float, int, str)):
        return items
    return [_given(item) for item in items]


def encode(payload: Mapping[str, Any]) -> bytes:
    """Return a request's body; what is None is left out.

    Raises
    ------
    InvalidRequestError
        A value cannot be sent, for instance a number that is not finite.
    """
    try:
        body = _ENCODER.encode({name: _given(value) for name, value in payload.items() if value is not None})
    except (NotImplementedError, TypeError, OverflowError) as error:
        raise InvalidRequestError([Fault(pointer="", code="wrong_type", message=str(error))]) from None
    # Not a number is written as null, which stands for absent: only then is it worth looking for.
    if b"null" in body:
        _refuse_not_finite(payload)
    return body


def _refuse_not_finite(value: Any, pointer: str = "") -> None:
    """Refuse a single number that is not finite, as the calculation would; in a column it is a row at fault."""
    if isinstance(value, msgspec.Struct):
        value = {name: getattr(value, name) for name in value.__struct_fields__}
    if isinstance(value, Mapping):
        members = cast("Mapping[str, Any]", value)
        if set(members) == {"value", "unit"}:
            _refuse_number(members["value"], spoken(members), pointer)
            return
        for name, inner in members.items():
            _refuse_not_finite(inner, f"{pointer}/{name}")
    elif isinstance(value, (list, tuple)):
        for index, inner in enumerate(cast("list[Any]", value)):
            # A bare number in a list is an entry of a column, not a quantity of its own.
            if not isinstance(inner, (int, float)):
                _refuse_not_finite(inner, f"{pointer}/{index}")
    else:
        _refuse_number(value, spoken(value), pointer)


def _refuse_number(value: Any, given: str, pointer: str) -> None:
    if isinstance(value, float) and value - value != 0.0:
        fault = Unreadable.not_finite()
        told = Fault(pointer=pointer, code=fault.code, message=fault.message, given=given, allowed=fault.allowed)
        raise InvalidRequestError([told], "One fault was found.")


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
        The body is not such an answer.
    """
    try:
        return _decoder(answer).decode(body)
    except msgspec.DecodeError as error:
        raise ServiceError(
            status, body.decode("utf-8", "replace"), reason=f"No answer of this kind ({error}):"
        ) from None


def batch_from(path: str, status: int, body: bytes) -> BatchAnswer[Any]:
    """Return a batch answer with its numeric columns as arrays."""
    given: BatchAnswer[Any] = decode(BatchAnswer, status, body)
    numeric = numeric_names(find(path).answer)
    for name, column in given.columns.items():
        if re.sub(r"\.\d+\.", ".", name) in numeric:
            given.columns[name] = np.array(column, dtype=np.float64)
    return given


def error_from(status: int, headers: Mapping[str, str], body: bytes) -> DosewrightError:
    """Return the error that an answer other than 200 stands for; a body that is no problem details is survived."""
    request_id = headers.get("x-request-id", "")
    if 400 <= status < 500 and headers.get("content-type", "").startswith("application/problem+json"):
        try:
            problem = _problem_decoder.decode(body)
        except msgspec.DecodeError:
            return ServiceError(status, body.decode("utf-8", "replace"), request_id)
        return InvalidRequestError(problem.errors, problem.detail, problem.request_id or request_id)
    return ServiceError(status, body.decode("utf-8", "replace"), request_id)


def refused(error: RequestRefused) -> InvalidRequestError:
    """Return a refusal in process as the error the service's refusal becomes."""
    count = len(error.faults)
    return InvalidRequestError(error.faults, "One fault was found." if count == 1 else f"{count} faults were found.")
