"""What every core function shares: its value type, checks of values, and work in chunks that stay in cache."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final, cast

import numpy as np
from numpy.typing import NDArray

__all__ = ["Array", "OutsideModelError", "Values", "by_chunks", "over_chunks", "refuse_unless", "sum_over_nodes"]

_KEPT: Final = 1 << 20  # floats

Array = NDArray[np.float64]
Values = float | Array


class OutsideModelError(ValueError):
    """A value for which a core function is not defined."""


def refuse_unless(condition: object, message: str) -> None:
    """Raise OutsideModelError with the message unless the condition, or every element of it, is true.

    Source
    ------
    Definition: a check, without a formula.
    """
    if condition is True or (isinstance(condition, np.bool_) and condition):
        return
    if not np.all(np.asarray(condition)):
        raise OutsideModelError(message)


def sum_over_nodes(terms: Array) -> Array:
    """Sum over the last axis but one, always in the same order, for any length of the last axis.

    A library reduction can change its order of summation with the shape. One case alone would then differ from the
    same case in a batch by a rounding error. Folding halves onto each other is elementwise and cannot.

    Source
    ------
    Derived here: halves are folded onto each other, elementwise.
    """
    count = terms.shape[-2]
    while count > 1:
        half = count // 2
        folded = terms[..., :half, :] + terms[..., half : 2 * half, :]
        if count % 2:
            folded[..., 0, :] += terms[..., count - 1, :]
        terms, count = folded, half
    return terms[..., 0, :]


def by_chunks(kernel: Callable[..., tuple[Array, ...]], chunk: int, *values: Values) -> tuple[Values, ...]:
    """Apply a kernel to broadcast cases, a cache-sized chunk at a time.

    Parameters
    ----------
    kernel : callable
        Takes each value as a float, or as an array of one chunk's cases, and gives arrays over the cases (of length 1
        where no array was among the values).
    chunk : int
        Cases at a time.
    *values : float or array
        Broadcast against each other. A float stays a float, so that values of floats alone are computed once.

    Returns
    -------
    tuple of float or array
        What the kernel gives: floats where every value is one, else arrays of the broadcast shape.

    Source
    ------
    Common practice, no source: work in pieces that stay in the processor's cache.
    """
    plain = [value if isinstance(value, (float, int)) else np.asarray(value, dtype=np.float64) for value in values]
    shapes = [value.shape for value in plain if not isinstance(value, (float, int))]
    if not shapes:
        return tuple(float(answer[0]) for answer in kernel(*plain))
    shape = np.broadcast_shapes(*shapes)
    flat = [value if isinstance(value, (float, int)) else np.broadcast_to(value, shape).reshape(-1) for value in plain]
    size = int(np.prod(shape))
    if size > chunk:
        # Taken and given back untouched: the C library then keeps blocks of this size instead of returning each
        # temporary array to the system, whose page faults cost more than the arithmetic.
        np.empty(_KEPT)
    answers: list[Array] = []
    for start in range(0, max(size, 1), chunk):
        part = slice(start, start + chunk)
        pieces = kernel(*(value if isinstance(value, (float, int)) else value[part] for value in flat))
        if not answers:
            answers = [np.empty(size) for _ in pieces]
        for answer, piece in zip(answers, pieces, strict=True):
            answer[part] = piece
    return tuple(answer.reshape(shape) for answer in answers)


def over_chunks(function: Callable[..., tuple[Array, ...]], chunk: int, *arguments: Any) -> tuple[Values, ...]:
    """Apply a function to broadcast cases a chunk at a time, as `by_chunks`, its arguments being values or tuples.

    Parameters
    ----------
    function : callable
        Gives arrays over the cases, of length 1 where all values are floats.
    chunk : int
        Cases at a time.
    *arguments
        Floats, arrays, tuples of them (named ones too); texts, flags and None pass through.

    Returns
    -------
    tuple of float or array
        Floats where every value is one, else arrays of the broadcast shape.

    Source
    ------
    Common practice, no source: as `by_chunks`.
    """
    leaves = [leaf for argument in arguments for leaf in _leaves(argument)]

    def kernel(*values: Values) -> tuple[Array, ...]:
        left = iter(values)
        return function(*(_rebuilt(argument, left) for argument in arguments))

    return by_chunks(kernel, chunk, *leaves)


def _is_value(tree: Any) -> bool:
    return isinstance(tree, (float, int, np.ndarray, np.floating)) and not isinstance(tree, bool)


def _leaves(tree: Any) -> Iterator[Values]:
    if isinstance(tree, tuple):
        for branch in cast("tuple[Any, ...]", tree):
            yield from _leaves(branch)
    elif _is_value(tree):
        yield tree


def _rebuilt(tree: Any, values: Iterator[Values]) -> Any:
    if isinstance(tree, tuple):
        whole = cast("tuple[Any, ...]", tree)
        branches = [_rebuilt(branch, values) for branch in whole]
        made: Any = type(whole)
        return made(*branches) if hasattr(whole, "_fields") else tuple(branches)
    return next(values) if _is_value(tree) else tree
