"""What can go wrong, as typed exceptions.

DosewrightError
├── InvalidRequestError     the request is invalid: every fault, with a pointer to its field
├── ServiceUnreachableError no answer came: connection refused or lost, or a timeout (ServiceTimeoutError)
└── ServiceError            an answer came that is not the calculation's: a failing service, a gateway's page
"""

from collections.abc import Iterable

from dosewright.engine.faults import Fault

__all__ = [
    "DosewrightError",
    "Fault",
    "InvalidRequestError",
    "ServiceError",
    "ServiceTimeoutError",
    "ServiceUnreachableError",
]


class DosewrightError(Exception):
    """Base of all errors of this package."""


class InvalidRequestError(DosewrightError):
    """Invalid request.

    Attributes
    ----------
    faults : tuple of Fault
        Every fault: pointer, code, message, the value received, what is allowed.
    request_id : str
        Finds the request in the service's logs; empty in process.
    """

    def __init__(self, faults: Iterable[Fault], detail: str = "", request_id: str = "") -> None:
        self.faults = tuple(faults)
        self.request_id = request_id
        texts = "\n".join(f"  {fault.pointer}: {fault.message}" for fault in self.faults)
        detail = detail or "Invalid request."
        super().__init__(f"{detail}\n{texts}" if texts else detail)


class ServiceUnreachableError(DosewrightError):
    """No answer came from the service, after the retries."""


class ServiceTimeoutError(ServiceUnreachableError):
    """The service timed out."""


class ServiceError(DosewrightError):
    """The service answered something else than the calculation's answer or problem details about the request.

    Attributes
    ----------
    status : int
        HTTP status.
    body : str
        Beginning of what came, for instance a gateway's page.
    request_id : str
        Finds the request in the service's logs, where it was given one.
    """

    def __init__(self, status: int, body: str, request_id: str = "", reason: str = "") -> None:
        self.status = status
        self.body = body[:2000]
        self.request_id = request_id
        excerpt = " ".join(body[:200].split())
        super().__init__(f"{reason or 'The service answered'} {status}: {excerpt}")
