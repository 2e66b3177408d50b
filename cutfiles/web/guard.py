"""What a request has to be before anything looks at it: from this page, to this server, of a size.

A name that an attacker's name server points at this machine is refused by its ``Host``; a form or
script of another page by its ``Origin`` (Fetch standard: sent with every POST and PUT). Every
answer tells the browser to run nothing but the page's own scripts (CSP level 3).
"""

from __future__ import annotations

import ipaddress
import json
from dataclasses import dataclass
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cutfiles.errors import Finding
from cutfiles.web.refusal import RefusedError

JSON_BYTES: Final = 1_000_000
"""The most that a change or a job's text may be."""

DRAWING_BYTES: Final = 5_000_000
"""The most that a drawing may be."""

_FORM_BYTES: Final = 10_000
"""What the form round a drawing takes."""

PAGE_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'self'; frame-src 'self'; base-uri 'none'; "
    "frame-ancestors 'self'"
)
PREVIEW_POLICY: Final = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'self'; sandbox allow-scripts"
)
"""A preview is one file with its own script and styles; it is shown as a page of no origin."""

_HEADERS: Final = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "SAMEORIGIN",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}
_READING: Final = ("GET", "HEAD")


@dataclass(frozen=True, slots=True)
class Address:
    """Where the server is reached: the names it answers to, and its port."""

    names: frozenset[str]
    port: int

    def is_own(self, host: str, socket_ip: str | None) -> bool:
        """Whether a ``Host`` is one of the names, or the very number that was connected to: a
        number cannot be pointed elsewhere."""
        name, _, port = host.rpartition(":")
        if not name or name.endswith(":"):
            name, port = host, "80"
        if port != str(self.port):
            return False
        return name.lower() in self.names or _same_number(name.strip("[]"), socket_ip)


LOOPBACK_NAMES: Final = frozenset({"127.0.0.1", "localhost", "[::1]"})


def _same_number(name: str, socket_ip: str | None) -> bool:
    try:
        return socket_ip is not None and ipaddress.ip_address(name) == ipaddress.ip_address(
            socket_ip
        )
    except ValueError:
        return False


class Guard:
    """Wraps an application: refuses what it must not see, and adds headers to all answers."""

    def __init__(self, app: ASGIApp, address: Address) -> None:
        self._app, self._address = app, address

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or pass it on."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    own.setdefault(name, value)
            await send(message)

        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await _refuse(*refusal, with_headers)
            return
        limit = _limit(headers)
        read = 0

        async def limited() -> Message:
            nonlocal read
            message = await receive()
            read += len(message.get("body", b""))
            if read > limit:  # sent without its length, or with a wrong one
                raise RefusedError(413, [_too_large(limit)])
            return message

        await self._app(scope, limited, with_headers)

    def _refusal(self, scope: Scope, headers: Headers) -> tuple[int, Finding] | None:
        hosts = headers.getlist("host")
        server = scope.get("server")
        if len(hosts) != 1 or not self._address.is_own(hosts[0], server[0] if server else None):
            text = (
                f"Host: {', '.join(hosts) or 'none'}: is no name of this server: use the address "
                "that it printed when it started"
            )
            return 421, Finding("host", "error", text)
        if scope["method"] not in _READING:
            origins = headers.getlist("origin")
            if origins != [f"http://{hosts[0]}"]:
                text = f"Origin: {', '.join(origins) or 'none'}: only this page may change jobs"
                return 403, Finding("origin", "error", text)
        said = headers.get("content-length", "0")
        limit = _limit(headers)
        if not said.isdecimal() or len(said) > len(str(limit)) or int(said) > limit:
            return 413, _too_large(limit)
        return None


def _limit(headers: Headers) -> int:
    is_form = headers.get("content-type", "").startswith("multipart/form-data")
    return DRAWING_BYTES + _FORM_BYTES if is_form else JSON_BYTES


def _too_large(limit: int) -> Finding:
    text = f"the request has more than {limit / 1e6:g} million bytes: send less at once"
    return Finding("too-large", "error", text)


async def _refuse(status: int, finding: Finding, send: Send) -> None:
    body = json.dumps({"findings": [finding.table() | {"path": []}]}).encode()
    head = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    await send({"type": "http.response.start", "status": status, "headers": head})
    await send({"type": "http.response.body", "body": body})
