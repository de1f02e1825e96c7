"""Who is let through. Facts about browsers from: Fetch (WHATWG) on Origin, RFC 6265bis on SameSite=Strict."""

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from spectra.page.guard import Guard, Keys, refusal

KEYS = Keys(8123, "0123456789abcdef")
HOST = "127.0.0.1:8123"
GOOD = {"host": HOST, "cookie": f"{KEYS.cookie}={KEYS.token}", "origin": f"http://{HOST}"}


async def answer(_):
    return PlainTextResponse("inside")


@pytest.fixture
def client():
    inner = Starlette(routes=[Route("/", answer, methods=["GET", "POST"])])
    return TestClient(Guard(inner, KEYS), base_url=f"http://{HOST}", follow_redirects=False)


REFUSED = {
    "another name for this machine": {"host": "rebound.example:8123"},
    "another port": {"host": "127.0.0.1:8124"},
    "no host": {"host": None},
    "another origin": {"origin": "http://evil.example"},
    "an origin without a name": {"origin": "null"},
    "our name, another scheme": {"origin": f"https://{HOST}"},
    "no cookie": {"cookie": None},
    "another token": {"cookie": f"{KEYS.cookie}=0123456789abcdee"},
    "the cookie of another port": {"cookie": f"coatproof_8124={KEYS.token}"},
    "a broken cookie": {"cookie": "=;=\x01"},
    "a form of another site": {"origin": None, "sec-fetch-site": "cross-site"},
    "a form that says nothing": {"origin": None},
}


@pytest.mark.parametrize("change", REFUSED.values(), ids=REFUSED)
def test_a_form_is_refused(change):
    headers = {name: value for name, value in {**GOOD, **change}.items() if value is not None}
    assert refusal("POST", headers, KEYS)


def test_our_own_form_is_let_through():
    assert refusal("POST", GOOD, KEYS) == ""


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "OPTIONS", "CONNECT", "get"])
def test_other_methods_are_refused(method):
    assert "is not used here" in refusal(method, GOOD, KEYS)


@given(st.text(max_size=80))
def test_no_cookie_but_the_token_opens(text):
    if KEYS.token not in text:
        assert refusal("GET", {"host": HOST, "cookie": f"{KEYS.cookie}={text}"}, KEYS)


def test_the_token_is_changed_for_a_strict_cookie(client):
    first = client.get("/", params={"token": KEYS.token})
    assert first.status_code == 303
    assert first.headers["location"] == "/"
    cookie = first.headers["set-cookie"]
    assert "SameSite=Strict" in cookie
    assert "HttpOnly" in cookie
    assert client.get("/").text == "inside"  # the client kept the cookie


def test_a_wrong_token_opens_nothing(client):
    answer = client.get("/", params={"token": "x" + KEYS.token})
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_the_token_opens_our_own_host_only(client):
    answer = client.get("/", params={"token": KEYS.token}, headers={"host": "rebound.example:8123"})
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_every_answer_forbids_scripts_that_are_not_ours(client):
    client.cookies.set(KEYS.cookie, KEYS.token)
    headers = client.get("/").headers
    policy = headers["content-security-policy"]
    assert "script-src 'self';" in policy
    assert "default-src 'none'" in policy
    assert "unsafe-eval" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"  # the token must not leave with a link


def test_a_hundred_thousand_requests_are_refused_in_bounded_time():
    """Against the cost of a refusal that reads nothing: time grows with the number alone."""
    bad = {"host": "rebound.example", "cookie": "x" * 4000}
    start = time.perf_counter()
    assert all(refusal("POST", bad, KEYS) for _ in range(1_000))
    thousand = time.perf_counter() - start
    start = time.perf_counter()
    assert all(refusal("POST", bad, KEYS) for _ in range(100_000))
    assert time.perf_counter() - start < max(400 * thousand, 5.0)
