"""What an address answers beside its numbers: methods, caching, its length, other origins."""

import pytest

from asgi import get, send
from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.http.app import create_app
from requests_velocity import ASKED, PATHS

# Methods, redirects, caching


@pytest.mark.parametrize("target", [ASKED, "/v1", "/docs", "/openapi.json", "/health/live"])
def test_options_answers_204_and_head_as_get(target: str) -> None:
    asked = send("OPTIONS", target)
    assert asked.status == 204
    assert {"GET", "HEAD", "OPTIONS"} <= set(asked.headers["allow"].split(", "))
    got, head = get(target), send("HEAD", target)
    assert head.status == got.status == 200
    assert head.headers["content-type"] == got.headers["content-type"]
    assert head.headers["content-length"] == str(len(got.body))


@pytest.mark.parametrize(
    "target", ["/v1/", "/v1/pipe/velocity/?flow=9", "/docs/", "/openapi.json/", "/health/live/", "//v1", "/V1"]
)
def test_nothing_redirects(target: str) -> None:
    assert get(target).status in {200, 404}


def test_an_answer_is_tagged_and_may_be_kept() -> None:
    first = get(ASKED + "&pick=velocity")
    assert first.headers["cache-control"] == "public, max-age=3600"
    tag = first.headers["etag"]
    for given in (tag, f'"other", {tag}', f"W/{tag}", "*"):
        again = send("GET", ASKED + "&pick=velocity", headers={"if-none-match": given})
        assert (again.status, again.body) == (304, b"")
        assert again.headers["etag"] == tag
    other = send("GET", ASKED + "&pick=bore", headers={"if-none-match": tag})
    assert other.status == 200
    assert other.headers["etag"] != tag


# Addresses


@pytest.mark.parametrize("path", PATHS)
def test_the_address_of_an_example_is_short_enough_for_a_spreadsheet(path: str) -> None:
    question = run(path, calculations()[path].example).question
    address = f"https://dosewright.a-rather-long-host-name.example/behind/a/proxy{question}"
    assert len(f"{address}&pick={'x' * 60}&decimal=comma&errors=text") < 2048


# Other origins


def asked_from(origin: str, *origins: str, method: str = "GET", **headers: str) -> dict[str, str]:
    reply = send(method, ASKED, headers={"origin": origin, **headers}, service=create_app(origins))
    return {name: value for name, value in reply.headers.items() if name.startswith("access-control")}


def test_no_other_origin_unless_named() -> None:
    assert asked_from("https://page.example") == {}
    assert "access-control-allow-origin" not in asked_from("https://page.example", "https://other.example")


def test_a_named_origin_may_ask() -> None:
    shared = asked_from("https://page.example", "https://page.example")
    assert shared["access-control-allow-origin"] == "https://page.example"
    assert "etag" in shared["access-control-expose-headers"]
    assert "access-control-allow-credentials" not in shared
    assert asked_from("https://any.example", "*")["access-control-allow-origin"] == "*"


def test_a_preflight_is_answered() -> None:
    wanted = {"access-control-request-method": "POST", "access-control-request-headers": "content-type"}
    shared = asked_from("https://page.example", "https://page.example", method="OPTIONS", **wanted)
    assert "POST" in shared["access-control-allow-methods"]
    assert "content-type" in shared["access-control-allow-headers"]
    assert "access-control-allow-methods" not in asked_from("https://page.example", method="OPTIONS", **wanted)


def test_a_refused_preflight_is_a_problem_document() -> None:
    asked = {"origin": "https://any.example", "access-control-request-method": "POST"}
    reply = send("OPTIONS", ASKED, headers=asked, service=create_app(["https://page.example"]))
    assert reply.status == 400
    assert reply.headers["content-type"] == "application/problem+json"
    told = reply.json()
    assert told["type"] == "/problems/preflight-refused"
    assert told["status"] == 400
    assert "origin" in told["detail"]
    assert told["request_id"] == reply.headers["x-request-id"]
