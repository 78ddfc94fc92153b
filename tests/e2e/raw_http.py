"""HTTP by hand, for what no client library will send."""

from __future__ import annotations

import json
import socket
from dataclasses import dataclass
from typing import Any, Self


@dataclass(frozen=True, slots=True)
class Reply:
    """Status, headers in lower case, body, and whether the server then closed the connection."""

    status: int
    headers: dict[str, str]
    body: bytes
    closed: bool

    def json(self) -> Any:
        """Return the body decoded."""
        return json.loads(self.body)


class Connection:
    """One TCP connection to a server on this machine."""

    def __init__(self, port: int, timeout: float = 10.0) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._socket.close()

    def send(self, data: bytes) -> None:
        """Send bytes as they are."""
        self._socket.sendall(data)

    def request(self, method: str, target: str, *headers: str, body: bytes = b"") -> Reply:
        """Send one request and read its reply; `headers` are whole lines."""
        head = "\r\n".join([f"{method} {target} HTTP/1.1", "Host: 127.0.0.1", *headers, "", ""])
        self.send(head.encode("latin-1") + body)
        return self.reply(head_only=method == "HEAD")

    def post(self, target: str, body: bytes) -> Reply:
        """Send JSON."""
        return self.request("POST", target, "Content-Type: application/json", f"Content-Length: {len(body)}", body=body)

    def reply(self, *, head_only: bool = False) -> Reply:
        """Read one reply with a Content-Length."""
        received = b""
        while b"\r\n\r\n" not in received:
            received += self._receive()
        head, _, body = received.partition(b"\r\n\r\n")
        first, *lines = head.decode("latin-1").split("\r\n")
        pairs = (line.partition(":") for line in lines)
        headers = {name.lower(): value.strip() for name, _, value in pairs}
        length = 0 if head_only else int(headers.get("content-length", "0"))
        while len(body) < length:
            body += self._receive()
        assert len(body) == length, f"{len(body) - length} bytes follow the reply"
        return Reply(int(first.split(" ")[1]), headers, body, self.closed() if self._closing(headers) else False)

    def closed(self) -> bool:
        """Say whether the server has closed its side, waiting for it."""
        try:
            return self._socket.recv(1) == b""
        except ConnectionResetError:
            return True
        except TimeoutError:
            return False

    @staticmethod
    def _closing(headers: dict[str, str]) -> bool:
        return headers.get("connection", "").lower() == "close"

    def _receive(self) -> bytes:
        part = self._socket.recv(65536)
        if not part:
            raise ConnectionError("the server closed the connection before its reply was whole")
        return part
