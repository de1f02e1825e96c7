"""Who may talk to the page: the browser on this machine that was shown the first address, nobody else.

Every request must name our own host (against names rebound to this machine) and, where the browser says
which page it comes from, our own origin. The token in the first address is changed for a cookie that no
other site can make the browser send (``SameSite=Strict``, RFC 6265bis). Everything else is refused before
any of it is read. The headers that every answer carries forbid scripts and styles that are not ours, and
any request to another machine (Content Security Policy Level 3, W3C).
"""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

# Styles may be set on elements: the drawing library and figures do so. Scripts never.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)

# The report is a page of its own with its styles inside; it runs no script at all.
REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; sandbox"

HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)

READS = ("GET", "HEAD")


@dataclass(frozen=True)
class Keys:
    """What a request must know: the port it came to and the token of this run."""

    port: int
    token: str

    @property
    def hosts(self) -> tuple[str, ...]:
        """Names by which this machine calls itself."""
        return (f"127.0.0.1:{self.port}", f"localhost:{self.port}")

    @property
    def cookie(self) -> str:
        """Name of the cookie; cookies do not tell ports apart, so the name does."""
        return f"coatproof_{self.port}"

    @property
    def address(self) -> str:
        """The first address, with the token."""
        return f"http://127.0.0.1:{self.port}/?token={self.token}"


class Guard:
    """Stands before the application and lets through what :func:`refusal` does not refuse.

    Parameters
    ----------
    inner
        The application.
    keys : Keys
    """

    def __init__(self, inner: Application, keys: Keys) -> None:
        self.inner, self.keys = inner, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse, or hand on one request."""
        if scope["type"] == "lifespan":
            await self.inner(scope, receive, send)
            return
        headers = read_headers(scope)
        if scope["type"] != "http" or headers is None:
            await _answer(send, 400, b"not a request this page answers\n")
            return
        if brings_token(scope, headers, self.keys):
            await _answer(send, 303, b"", _welcome(self.keys))
            return
        if why := refusal(scope["method"], headers, self.keys):
            await _answer(send, 403, f"refused: {why}\n".encode())
            return
        await self.inner(scope, receive, _with_headers(send))


def read_headers(scope: Scope) -> dict[str, str] | None:
    """Return the headers by lower-case name; None where one that decides is given twice or is not text."""
    found: dict[str, str] = {}
    for name, value in scope.get("headers", ()):
        key = name.decode("latin-1").lower()
        if key in found and key in ("host", "origin", "cookie"):
            return None
        found[key] = value.decode("latin-1")
    return found


def brings_token(scope: Scope, headers: dict[str, str], keys: Keys) -> bool:
    """Tell whether this is the first call, with the right token, of our own host."""
    if scope["method"] != "GET" or scope["path"] != "/" or headers.get("host") not in keys.hosts:
        return False
    given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("token", [""])[0]
    return hmac.compare_digest(given.encode(), keys.token.encode())


def refusal(method: str, headers: dict[str, str], keys: Keys) -> str:
    """Say why a request is refused; nothing if it is not.

    Parameters
    ----------
    method
    headers
        By lower-case name.
    keys : Keys

    Examples
    --------
    >>> keys = Keys(8000, "secret")
    >>> refusal("GET", {"host": "example.org"}, keys)
    'this page answers to its own address only'
    >>> refusal("GET", {"host": "127.0.0.1:8000"}, keys)
    'open the address that was printed when the page was started'
    """
    if headers.get("host") not in keys.hosts:
        return "this page answers to its own address only"
    origin = headers.get("origin")
    if origin is not None and origin != f"http://{headers['host']}":
        return "the request comes from another site"
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none") and method not in READS:
        return "the request comes from another site"
    if method not in (*READS, "POST"):
        return f"{method} is not used here"
    if method == "POST" and origin is None:
        return "the request does not say which page it comes from"
    if not _knows(headers.get("cookie", ""), keys):
        return "open the address that was printed when the page was started"
    return ""


def _knows(cookie: str, keys: Keys) -> bool:
    """Tell whether the cookie of this run was sent."""
    try:
        given = SimpleCookie(cookie).get(keys.cookie)
    except CookieError:
        return False
    return given is not None and hmac.compare_digest(given.value.encode(), keys.token.encode())


def _welcome(keys: Keys) -> list[tuple[bytes, bytes]]:
    """Return the headers that change the token for a cookie."""
    cookie = f"{keys.cookie}={keys.token}; Path=/; HttpOnly; SameSite=Strict"
    return [(b"location", b"/"), (b"set-cookie", cookie.encode())]


async def _answer(
    send: Send, status: int, body: bytes, more: list[tuple[bytes, bytes]] | None = None
) -> None:
    """Send a short answer of our own and close; what the request still carries is not read."""
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        *HEADERS,
        *(more or []),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def _with_headers(send: Send) -> Send:
    """Add the headers every answer carries, unless the answer brings its own."""

    async def forward(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            own = {name.lower() for name, _ in message.get("headers", ())}
            wanted = [*HEADERS, (b"content-security-policy", POLICY.encode())]
            added = [(name, value) for name, value in wanted if name not in own]
            message = {**message, "headers": [*message.get("headers", ()), *added]}
        await send(message)

    return forward
