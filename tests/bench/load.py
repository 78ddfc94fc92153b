"""A closed loop of HTTP requests over a few connections, light enough that the server stays the slower side."""

import os
import selectors
import socket
import time

CONNECTIONS = 16


def post_request(path, body):
    """Return a whole POST of JSON as bytes."""
    head = f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
    return f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body


def once(port, request):
    """Send one request and return the whole reply, which must be a success."""
    with socket.create_connection(("127.0.0.1", port), 10) as connection:
        connection.sendall(request)
        received = b""
        while not _whole(received):
            received += connection.recv(65536)
    if not received.startswith(b"HTTP/1.1 20"):
        raise RuntimeError(received[:500])
    return received


def requests_per_second(port, request, seconds):
    """Keep every connection busy with one request at a time and count whole replies."""
    size = len(once(port, request))
    chooser = selectors.DefaultSelector()
    connections = [socket.create_connection(("127.0.0.1", port), 10) for _ in range(CONNECTIONS)]
    for connection in connections:
        chooser.register(connection, selectors.EVENT_READ, [b""])
        connection.sendall(request)
    done = 0
    start = now = time.perf_counter()
    while now < start + seconds:
        for key, _ in chooser.select(1):
            received = key.data[0] + key.fileobj.recv(65536)
            if len(received) < size and not _whole(received):
                key.data[0] = received
                continue
            if not received.startswith(b"HTTP/1.1 20"):
                raise RuntimeError(received[:500])
            key.data[0] = b""
            done += 1
            key.fileobj.sendall(request)
        now = time.perf_counter()
    for connection in connections:
        connection.close()
    return done / (now - start)


def apart(server_pid):
    """Keep the server on the first processor and this process on the second, where the system can."""
    if hasattr(os, "sched_setaffinity") and len(os.sched_getaffinity(0)) > 1:
        first, second, *_ = sorted(os.sched_getaffinity(0))
        os.sched_setaffinity(server_pid, {first})
        return lambda: os.sched_setaffinity(0, {second})
    return lambda: None


def _whole(received):
    head, found, body = received.partition(b"\r\n\r\n")
    if not found:
        return False
    for line in head.lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            return len(body) >= int(line.partition(b":")[2])
    return True
