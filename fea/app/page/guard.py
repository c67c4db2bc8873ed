"""What stands before the page: requests that do not come from the page itself are refused.

The threats: another web site that the user has open (cross-site requests, DNS rebinding), another
user of the same machine, who can reach a loopback port, and files with hostile names or contents.
The page therefore lives under a random key, the first part of every path, which only the terminal
shows. It is no cookie: cookies go to every port of a host, and so to the page of another user.
"""

from __future__ import annotations

import hmac

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 1_000_000
"""Bytes of a request; a case file has a few thousand."""

LONGEST_PATH = 2_000

POLICY = (
    "default-src 'none'; script-src 'self' {more}; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; frame-src 'self'; form-action 'none'; base-uri 'none'; "
    "frame-ancestors 'self'"
)


class Guard:
    """ASGI middleware: host, key, origin, token, size; headers on each answer."""

    def __init__(self, app: ASGIApp, port: int, token: str, key: str) -> None:
        self._app, self._token, self._key = app, token, key
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on a sound request; answer any other with a refusal."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # no web sockets here
            await send({"type": "websocket.close", "code": 1008})
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await JSONResponse({"error": refusal[1]}, refusal[0])(
                scope, receive, _with_security_headers(send)
            )
            return
        body = b""
        if scope["method"] != "GET":
            while True:
                message = await receive()
                if message["type"] != "http.request":
                    return
                body += message.get("body", b"")
                if len(body) > LARGEST_BODY:
                    answer = JSONResponse({"error": f"allowed: up to {LARGEST_BODY} bytes"}, 413)
                    await answer(scope, receive, _with_security_headers(send))
                    return
                if not message.get("more_body"):
                    break
        whole: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

        async def given() -> Message:
            return whole.pop() if whole else await receive()

        inner = scope["path"][len(self._key) + 1 :]
        await self._app(
            {**scope, "path": inner, "raw_path": inner.encode()},
            given,
            _with_security_headers(send),
        )

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Status and words for a request that is not the page's own, else None."""
        headers = Headers(scope=scope)
        host = headers.getlist("host")
        if len(host) != 1 or host[0].lower() not in self._hosts:
            return 421, "allowed: the address that platestack printed"
        if len(scope["raw_path"]) + len(scope["query_string"]) > LONGEST_PATH:
            return 414, f"allowed: addresses of up to {LONGEST_PATH} characters"
        if scope["method"] not in ("GET", "POST"):
            return 405, "allowed: GET or POST"
        key, slash, inner = scope["path"].removeprefix("/").partition("/")
        if not _alike(key, self._key) or not slash:
            return 403, "allowed: the whole address that platestack printed, with its key"
        if inner and headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return 403, "allowed: requests of the page itself"
        if scope["method"] == "GET":
            return None
        if headers.get("origin") != f"http://{host[0]}":
            return 403, "allowed: requests of the page itself"
        if not _alike(headers.get("x-page-token", ""), self._token):
            return 403, "the page is out of date; load it again"
        if headers.get("content-type", "").partition(";")[0].strip() != "application/json":
            return 415, "allowed: application/json"
        length = headers.get("content-length")
        if length is not None and (not length.isdecimal() or int(length[:20]) > LARGEST_BODY):
            return 413, f"allowed: up to {LARGEST_BODY} bytes"
        return None


def _alike(given: str, wanted: str) -> bool:
    """Compare in a time that tells nothing."""
    return hmac.compare_digest(given.encode("utf-8", "replace"), wanted.encode())


def _with_security_headers(send: Send) -> Send:
    """Add the headers that every answer carries."""

    async def passing(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers.setdefault("content-security-policy", POLICY.format(more="").replace(" ;", ";"))
            headers["x-content-type-options"] = "nosniff"
            headers["referrer-policy"] = "no-referrer"
            headers["cross-origin-resource-policy"] = "same-origin"
            headers["cross-origin-opener-policy"] = "same-origin"
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return passing
