"""Runs the application on an ASGI server."""

import os
import signal
from collections.abc import Collection
from types import FrameType

import uvicorn
from litestar import Litestar

from dosewright.engine.run import quieten
from dosewright.http.app import create_app
from dosewright.http.bounded_head import BoundedHead
from dosewright.http.logs import configure

__all__ = ["serve", "worker_app"]

_SHUTDOWN_SECONDS = 30
_KEEP_ALIVE_SECONDS = 30

# Environment variables that pass the options to worker processes.
_LOG_LEVEL = "DOSEWRIGHT_LOG_LEVEL"
_ORIGINS = "DOSEWRIGHT_CORS_ORIGINS"


def worker_app() -> Litestar:
    """Build the application in a worker process, with its parent's options."""
    configure(os.environ.get(_LOG_LEVEL, "info"))
    quieten()
    return create_app(os.environ.get(_ORIGINS, "").split())


def _config(root_path: str, log_level: str, workers: int, origins: Collection[str]) -> uvicorn.Config:
    configure(log_level)
    os.environ[_LOG_LEVEL] = log_level
    os.environ[_ORIGINS] = " ".join(origins)
    return uvicorn.Config(
        "dosewright.http.server:worker_app" if workers > 1 else create_app(origins),
        factory=workers > 1,
        workers=workers,
        root_path=root_path,
        http=BoundedHead,
        ws="none",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        log_config=None,
        timeout_keep_alive=_KEEP_ALIVE_SECONDS,
        timeout_graceful_shutdown=_SHUTDOWN_SECONDS,
    )


def serve(*, host: str, port: int, workers: int, root_path: str, log_level: str, origins: Collection[str] = ()) -> None:
    """Serve until stopped; requests in flight are answered first.

    Parameters
    ----------
    host, port : str, int
        Where to listen; port 0 takes a free one, which is logged.
    workers : int
        Number of processes.
    root_path : str
        Path a proxy strips before the service.
    log_level : str
        Lowest level logged; ``info`` logs one line a request.
    origins : collection of str
        Web origins whose pages can call from a browser; ``*`` means any.
    """
    config = _config(root_path, log_level, workers, origins)
    config.host, config.port = host, port
    if workers > 1:
        from uvicorn.supervisors import Multiprocess  # noqa: PLC0415 - only this branch needs it

        Multiprocess(config, sockets=[config.bind_socket()]).run()
        return

    def stop_requested(_: int, __: FrameType | None) -> None:
        """Keep the default action from ending the process once the server has stopped gracefully."""

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, stop_requested)
    quieten()
    uvicorn.Server(config).run()
