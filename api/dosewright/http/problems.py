"""Problem details (RFC 9457): how an error is reported over HTTP."""

from collections.abc import Iterable

import msgspec

from dosewright.engine.faults import Fault

__all__ = ["KINDS_OF_PROBLEM", "Problem", "ProblemError", "brief_text"]

_LONGEST_BRIEF = 250

KINDS_OF_PROBLEM: dict[str, tuple[int, str]] = {
    "preflight-refused": (400, "Calls from this origin are not allowed"),
    "unreadable-body": (400, "Body does not match its content type"),
    "unreadable-query": (400, "Unreadable query"),
    "not-found": (404, "Not found"),
    "method-not-allowed": (405, "Method not allowed"),
    "not-acceptable": (406, "Format not available"),
    "body-too-large": (413, "Body too large"),
    "unsupported-media-type": (415, "Unsupported content type"),
    "invalid-request": (422, "Invalid request"),
    "internal-error": (500, "Internal error"),
}


class Problem(msgspec.Struct, kw_only=True, omit_defaults=True):
    """Body of an error reply.

    Attributes
    ----------
    type : str
        Reference that names the kind of problem; it can be fetched.
    title : str
        The kind in words.
    status : int
        HTTP status.
    detail : str
        What is wrong this time.
    errors : list of Fault
        Every fault, each with a pointer to its field.
    request_id : str
        To find the request in the logs.
    """

    type: str
    title: str
    status: int
    detail: str
    errors: list[Fault] = []
    request_id: str = ""


class ProblemError(Exception):
    """Raised inside the service to answer with problem details."""

    def __init__(self, kind: str, detail: str, faults: Iterable[Fault] = (), headers: Iterable[tuple[str, str]] = ()):
        super().__init__(detail)
        self.status, title = KINDS_OF_PROBLEM[kind]
        self.headers = tuple(headers)
        self.problem = Problem(
            type=f"/problems/{kind}", title=title, status=self.status, detail=detail, errors=list(faults)
        )


def brief_text(problem: Problem) -> bytes:
    """Return an error as a short text for a spreadsheet cell; its first word can be found by a formula."""
    faults = problem.errors
    texts = " ".join(f"{fault.pointer.lstrip('/')}: {fault.message}" for fault in faults) or problem.detail
    text = f"ERROR: {texts}"
    return (text if len(text) <= _LONGEST_BRIEF else f"{text[: _LONGEST_BRIEF - 1]}…").encode()
