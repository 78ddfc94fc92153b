"""How long the service takes to refuse what a stranger may send, beside a good request.

Times are of the whole exchange over one loopback connection, so they are more than the server spends.

Run: python tests/bench/hostile_inputs.py
"""

import json
import socket
import statistics
import time

from load import apart, post_request
from processes import free_port, service

CALLS = 200
PATH = "/v1/pipe/velocity"
GOOD = {"flow": "9 gal/min", "bore": "20 mm"}
LIMIT = 256 * 1024 - 200


def flow(value):
    """Return a request's body with this flow."""
    return json.dumps({**GOOD, "flow": value}).encode()


CASES = {
    "a good request": flow("9 gal/min"),
    "10**10**10 m": flow("10**10**10 m"),
    "6^800000": flow("6^800000"),
    "digits, 260 kB": flow("9" * LIMIT),
    "NaN as a text": flow("NaN"),
    "NaN as a number": b'{"flow": NaN, "bore": "20 mm"}',
    "1e400 as a number": b'{"flow": 1e400, "bore": "20 mm"}',
    "1e400 gal/min": flow("1e400 gal/min"),
    "full-width digits": flow("９ gal/min"),
    "a pressure": flow("9 psi"),
    "a volume": flow("9 gal"),
    "2,500": flow("2,500"),
    "brackets, 260 kB": b"[" * LIMIT,
    "nested objects, 260 kB": b'{"a":' * (LIMIT // 5),
    "15,000 unknown fields": json.dumps({f"flow_{number}": 1 for number in range(15_000)}).encode(),
    "answer_units, 12,000 names": json.dumps({**GOOD, "answer_units": {f"v{n}": "m" for n in range(12_000)}}).encode(),
    "an unknown unit of 60 letters": flow("9 " + "g" * 60),
    "brackets, 1 MB, refused unread": None,
}


def request_of(body):
    """Return the bytes to send; None stands for a megabyte that is announced and never sent."""
    if body is None:
        head = f"POST {PATH} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
        return f"{head}Content-Length: 1000000\r\n\r\n".encode()
    return post_request(PATH, body)


def exchange(port, request):
    """Send a request over a new connection and return status, milliseconds from the last byte sent, and reply size."""
    with socket.create_connection(("127.0.0.1", port), 10) as connection:
        connection.sendall(request)
        start = time.perf_counter()
        received = connection.recv(65536)
        taken = (time.perf_counter() - start) * 1e3
        return int(received[9:12]), taken


def main():
    """Measure and print."""
    port = free_port()
    with service(port, request_of(CASES["a good request"])) as server:
        apart(server)()
        for name, body in CASES.items():
            request = request_of(body)
            replies = [exchange(port, request) for _ in range(CALLS)]
            statuses = {status for status, _ in replies}
            taken = sorted(milliseconds for _, milliseconds in replies)
            print(f"{name:34s} {statuses}  median {statistics.median(taken):6.2f} ms  worst {taken[-1]:6.2f} ms")


if __name__ == "__main__":
    main()
