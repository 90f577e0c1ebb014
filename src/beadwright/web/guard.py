"""What stands between the bench and the rest of the world, in one place.

The bench listens on loopback only, but a page from elsewhere that is open in the same browser could still try to reach
it. So: the Host must name this machine (a foreign name that resolves here is refused), a write must come from our own
page, no script but our own files may run, and a body may not be larger than the stated bound.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

OWN_NAMES = frozenset({"127.0.0.1", "localhost", "[::1]"})
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
MOST_BYTES = 2 * 1024**3
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


class TooLargeError(Exception):
    """A body went past the bound while it was being read."""


class Guard:
    """ASGI wrapper: refuses foreign hosts, foreign writes and oversized bodies; adds the safety headers."""

    def __init__(self, app: App, *, most_bytes: int = MOST_BYTES) -> None:
        self.app = app
        self.most_bytes = most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = refuse(scope["method"], headers, self.most_bytes)
        if refusal is not None:
            status, sentence = refusal
            await PlainTextResponse(sentence, status)(scope, receive, _with_headers(send))
            return
        await self.app(scope, _bounded(receive, self.most_bytes), _with_headers(send))


def refuse(method: str, headers: Headers, most_bytes: int = MOST_BYTES) -> tuple[int, str] | None:
    """Return the status and sentence to refuse a request with, None where it may pass."""
    host = headers.get("host", "")
    if _name(host) not in OWN_NAMES:
        return 421, "The bench answers only to this machine's own names, 127.0.0.1 and localhost.\n"
    if method not in SAFE_METHODS and not _from_our_page(headers, host):
        return 403, "A change must come from the bench's own page; this one came from elsewhere.\n"
    length = headers.get("content-length", "0")
    if not length.isdigit():
        return 400, "Content-Length is not a number.\n"
    if int(length) > most_bytes:
        return 413, f"That is larger than the bench takes at once ({most_bytes / 1024**3:g} GiB).\n"
    return None


def _name(host: str) -> str:
    if host.startswith("["):
        return host.split("]")[0] + "]"
    return host.rsplit(":", 1)[0].lower()


def _from_our_page(headers: Headers, host: str) -> bool:
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return False
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc.lower() == host.lower()


def _bounded(receive: Receive, most_bytes: int) -> Receive:
    seen = 0

    async def bounded() -> MutableMapping[str, Any]:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most_bytes:
            raise TooLargeError
        return message

    return bounded


def _with_headers(send: Send) -> Send:
    async def sending(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            present = {name for name, _ in message.get("headers", [])}
            added = [pair for pair in HEADERS if pair[0] not in present]
            message["headers"] = [*message.get("headers", []), *added]
        await send(message)

    return sending
