"""The one rule of when to ask again: calculations are pure, so any request is safe to repeat."""

import email.utils
import random
import time
from collections.abc import Mapping

__all__ = ["DEFAULT_RETRIES", "RETRIED_STATUSES", "wait_before"]

DEFAULT_RETRIES = 2
RETRIED_STATUSES = frozenset({429, 502, 503, 504})
_FIRST_WAIT = 0.25
_LONGEST_WAIT = 8.0
_LONGEST_WAIT_ASKED_FOR = 30.0


def wait_before(attempt: int, headers: Mapping[str, str] | None = None) -> float | None:
    """Return the seconds to wait before a further attempt, or None if the service forbids an attempt that soon.

    Parameters
    ----------
    attempt : int
        Number of attempts made, from 1.
    headers : mapping, optional
        Headers of the answer; its Retry-After is honoured. Beyond 30 s it is for the caller to come back.
    """
    requested = _retry_after(headers.get("retry-after")) if headers else None
    if requested is not None:
        return max(requested, 0.0) if requested <= _LONGEST_WAIT_ASKED_FOR else None
    # Jitter spreads out clients that were turned away together.
    return min(_FIRST_WAIT * 2 ** (attempt - 1), _LONGEST_WAIT) * random.uniform(0.5, 1.0)  # noqa: S311


def _retry_after(text: str | None) -> float | None:
    if text is None:
        return None
    if text.isascii() and text.strip().isdigit():
        return float(text)
    try:
        return email.utils.parsedate_to_datetime(text).timestamp() - time.time()
    except ValueError:
        return None
