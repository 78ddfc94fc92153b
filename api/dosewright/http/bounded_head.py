"""What the HTTP parser itself does not do: bound the length of a request's head, and leave an offered upgrade alone."""

import re

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

__all__ = ["LONGEST_HEAD", "BoundedHead"]

LONGEST_HEAD = 64 * 1024
_UPGRADE = re.compile(rb"\nupgrade:", re.IGNORECASE)


class BoundedHead(HttpToolsProtocol):
    """Refuses a request whose first line and headers are longer than is read here, instead of keeping them all."""

    _head = 0
    _ended: object = None

    def data_received(self, data: bytes) -> None:
        """Count what belongs to a head; a chunk that ends one restarts the count."""
        before = self.cycle
        in_head = before is self._ended
        super().data_received(_without_upgrade(data) if in_head else data)
        if self.cycle is not before:
            self._head = 0
        elif in_head:
            self._head += len(data)
            if self._head > LONGEST_HEAD and not self.transport.is_closing():
                self.send_400_response("The request's headers are too long.")

    def on_message_complete(self) -> None:
        """Note whose message has ended: a head comes next."""
        self._ended = self.cycle
        super().on_message_complete()


def _without_upgrade(data: bytes) -> bytes:
    """Return a request whose head offers no upgrade, by another name for the field.

    The parser takes what follows this head for the other protocol's and drops the body. Java's client offers HTTP/2
    so with every request; a server without it ignores the offer (RFC 9110, section 7.8).
    """
    end = data.find(b"\r\n\r\n")
    head = data if end < 0 else data[:end]
    if b"\nupgrade:" not in head.lower():
        return data
    return _UPGRADE.sub(b"\nx-upgrade:", head) + data[len(head) :]
