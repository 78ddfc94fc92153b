"""Server processes for benchmarks: started, waited for, stopped; a server that does not come up is an error."""

import contextlib
import socket
import subprocess
import sys
import time

from load import once

START_SECONDS = 20


def free_port():
    """Return a port nobody listens at."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextlib.contextmanager
def running(command, port, request):
    """Run a server until the block ends, from when it answers this request; give its process id."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    deadline = time.monotonic() + START_SECONDS
    try:
        while not _answers(port, request):
            if process.poll() is not None or time.monotonic() > deadline:
                raise SystemExit(f"{command} does not answer")
            time.sleep(0.1)
        yield process.pid
    finally:
        process.terminate()
        process.wait(20)


def service(port, request, *further):
    """Run ``dosewright serve`` with one worker, as :func:`running` does."""
    command = [sys.executable, "-m", "dosewright", "serve", "--port", str(port), "--log-level", "warning", *further]
    return running(command, port, request)


def _answers(port, request):
    try:
        once(port, request)
    except OSError:
        return False
    return True
