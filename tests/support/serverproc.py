"""A real ``dosewright serve`` process for tests: found by address, stopped as an operator stops it."""

from __future__ import annotations

import contextlib
import http.client
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

START_SECONDS = 30.0
STOP_SECONDS = 30.0


@dataclass(slots=True)
class ServerProcess:
    """A started server: its process, where it listens, and what it has written so far."""

    process: subprocess.Popen[bytes]
    port: int
    output: IO[str]

    @property
    def base_url(self) -> str:
        """Address as a client on this machine uses it, behind no proxy."""
        return f"http://127.0.0.1:{self.port}"

    def written(self) -> str:
        """Return everything the server has printed."""
        self.output.seek(0)
        return self.output.read()

    def stop(self) -> str:
        """Send SIGTERM, wait, and return what the server printed; any exit code but 0 is a failure."""
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(STOP_SECONDS)
        assert code == 0, f"exit code {code} after SIGTERM:\n{self.written()}"
        return self.written()


@contextlib.contextmanager
def serving(
    *options: str, port: int = 0, workers: int = 1, root_path: str = "", log_level: str = "warning"
) -> Iterator[ServerProcess]:
    """Run ``dosewright serve`` on a loopback port, a free one unless named, until the block ends; then SIGTERM.

    What the server printed is shown when it does not start, or does not stop with exit code 0.
    A block that has already called ``stop`` is left alone.
    """
    port = port or _free_port()
    command = [*_ends_with_us(), _installed_command(), "serve", "--host", "127.0.0.1"]
    command += ["--port", str(port), "--workers", str(workers)]
    command += ["--root-path", root_path, "--log-level", log_level, *options]
    # A file, not a pipe: a pipe that nobody reads fills up and stops the server.
    with tempfile.TemporaryFile("w+", encoding="utf-8") as output:
        process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=output, stderr=subprocess.STDOUT, start_new_session=True
        )
        server = ServerProcess(process, port, output)
        try:
            _wait_until_ready(server)
            yield server
            if process.poll() is None:
                server.stop()
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)  # its workers too, where a test failed half-way
            process.wait()


@pytest.fixture(scope="session")
def server() -> Iterator[ServerProcess]:
    """One server of one worker, shared by the tests of a run."""
    with serving() as started:
        yield started


def _ends_with_us() -> list[str]:
    """Return what to start a command by so that it ends with this run, even one that is killed; Linux has it."""
    setpriv = shutil.which("setpriv")
    return [setpriv, "--pdeathsig", "TERM"] if setpriv else []


def _installed_command() -> str:
    found = shutil.which("dosewright", path=str(Path(sys.executable).parent))
    if found is None:
        raise RuntimeError("dosewright is not installed in this environment: pip install -e '.[server]'")
    return found


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _wait_until_ready(server: ServerProcess) -> None:
    deadline = time.monotonic() + START_SECONDS
    while not _is_ready(server.port):
        code = server.process.poll()
        if code is not None:
            raise RuntimeError(f"the server stopped with exit code {code}:\n{server.written()}")
        if time.monotonic() > deadline:
            raise RuntimeError(f"the server was not ready after {START_SECONDS} s:\n{server.written()}")
        time.sleep(0.05)


def _is_ready(port: int) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=2)
    try:
        connection.request("GET", "/health/ready")
        return connection.getresponse().status == http.client.OK
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()
