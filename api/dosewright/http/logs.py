"""Logs as one JSON object a line, through the standard logging module."""

import datetime as dt
import logging
import sys
from typing import Any, TextIO

import msgspec

__all__ = ["configure"]

_EXTRAS = ("request_id", "method", "path", "status", "milliseconds")


class _JsonFormatter(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        stamp = dt.datetime.fromtimestamp(record.created, tz=dt.UTC)
        line: dict[str, Any] = {
            "time": stamp.isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "event": record.getMessage(),
        }
        line.update((name, getattr(record, name)) for name in _EXTRAS if hasattr(record, name))
        if record.exc_info:
            line["exception"] = self.formatException(record.exc_info)
        return msgspec.json.encode(line).decode()


def configure(level: str, stream: TextIO = sys.stderr) -> None:
    """Send all logs of the process to a stream.

    Parameters
    ----------
    level : str
        Name of the lowest level written, e.g. ``info``, which includes one line a request.
    stream : text stream
        Standard error by default.
    """
    handler = logging.StreamHandler(stream)
    handler.setFormatter(_JsonFormatter())
    logging.basicConfig(level=level.upper(), handlers=[handler], force=True)
