"""The door: who may come in to the page, and what may be done from where.

The page listens only on 127.0.0.1, but others share that address: other users of the machine can reach it,
and so can every website that is open in the same browser. Each of them meets several of these checks:

- every address begins with a random place, and the cookie is bound to it, so that the cookie never goes to
  another program that listens on 127.0.0.1 (cookies do not tell ports apart: RFC 6265, section 8.5);
- a session begins only with a token that works once; the cookie is `SameSite=Strict` and hidden from scripts;
- the `Host` header must be ours (a name that somebody else's DNS points here is not), the `Origin` of every
  change too, and `Sec-Fetch-Site`, where the browser sends it, must say "same-origin";
- every change carries a token of the session that another site cannot read.

Each session has a cookie of its own name: a second link opened in the same browser begins another session and
leaves the first alone, in whose window somebody may be speaking.

What the browser may do with our pages is narrowed by headers: nothing inline, nothing from elsewhere, no
frame, and of the machine's devices the microphone alone.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from hmac import compare_digest
from threading import Lock

from flask import Flask, Request, Response, g, request

HOST = "127.0.0.1"
COOKIE = "offbook"  # its name begins so; a number follows
FIELD = "_token"  # of a form
HEADER = "X-Offbook-Token"  # of a request made by our scripts
TOKEN_BYTES = 24  # 192 bits: not to be guessed
PLACE_BYTES = 9
SAFE = frozenset({"GET", "HEAD"})
ENTRANCE = "enter"  # the only address below the place that needs no session

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "media-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
_OTHER_DEVICES = (
    "accelerometer autoplay camera display-capture geolocation gyroscope hid magnetometer midi "
    "payment serial usb"
)
DEVICES = ", ".join(["microphone=(self)", *(f"{name}=()" for name in _OTHER_DEVICES.split())])
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Permissions-Policy": DEVICES,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # Not "no-referrer": with it a browser sends "Origin: null" with our own forms (Fetch standard, 3.2).
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


@dataclass
class Door:
    """The secrets of one run of the server; none of them is kept when it stops.

    port: set as soon as it is known; again: with this, another `offbook page` of the same user gets a new
    token.
    """

    port: int = 0
    place: str = field(default_factory=lambda: secrets.token_urlsafe(PLACE_BYTES))
    again: str = field(default_factory=lambda: secrets.token_urlsafe(TOKEN_BYTES))
    _tokens: set[str] = field(default_factory=set)
    _sessions: dict[str, str] = field(default_factory=dict)  # cookie -> token of its changes
    _lock: Lock = field(default_factory=Lock)

    @property
    def origin(self) -> str:
        """The origin of our own pages."""
        return f"http://{HOST}:{self.port}"

    def link(self) -> str:
        """An address that opens the page, once."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        with self._lock:
            self._tokens.add(token)
        return f"{self.origin}/{self.place}/{ENTRANCE}/{token}"

    def enter(self, token: str) -> tuple[str, str] | None:
        """Use up a token; returns name and value of a new session's cookie, None where it is not valid."""
        with self._lock:
            fits = [each for each in self._tokens if compare_digest(each.encode(), token.encode())]
            if not fits:
                return None
            self._tokens.discard(fits[0])
            cookie = secrets.token_urlsafe(TOKEN_BYTES)
            self._sessions[cookie] = secrets.token_urlsafe(TOKEN_BYTES)
            return f"{COOKIE}{len(self._sessions)}", cookie

    def changes(self, cookies: Mapping[str, str]) -> list[str]:
        """The tokens that changes of this browser's sessions carry, the newest session last."""
        shown = [value.encode() for name, value in cookies.items() if name.startswith(COOKIE)]
        with self._lock:
            known = list(self._sessions.items())
        return [t for c, t in known if any(compare_digest(c.encode(), each) for each in shown)]


def refusal(door: Door, asked: Request) -> str | None:
    """Why this request is turned away, None where it may go on. Sets `g.token` for the forms of the page."""
    if asked.host != f"{HOST}:{door.port}":
        return "this address is not the page's own"
    if not asked.path.startswith(f"/{door.place}/"):
        return "there is nothing here"
    entering = asked.path.startswith(f"/{door.place}/{ENTRANCE}/")
    if entering and asked.method == "GET":
        return None
    if asked.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        return "another site asked for this"
    if entering:
        return None if _same(asked.headers.get(HEADER), door.again) else "this needs the key of the journal"
    tokens = door.changes(asked.cookies)
    if not tokens:
        return "this browser is not allowed in"
    g.token = tokens[-1]
    if asked.method in SAFE:
        return None
    if asked.headers.get("Origin") != door.origin:
        return "this change was not asked for by the page itself"
    given = asked.headers.get(HEADER) or asked.form.get(FIELD)
    return (
        None
        if any(_same(given, token) for token in tokens)
        else "this change did not come from a form of this page"
    )


def _same(given: str | None, wanted: str) -> bool:
    return given is not None and compare_digest(given.encode(), wanted.encode())


def protect(app: Flask, door: Door, refused: Callable[[str], Response]) -> None:
    """Put the checks before, and the headers behind, every answer of `app`."""

    @app.before_request
    def check() -> Response | None:
        why = refusal(door, request)
        return None if why is None else refused(why)

    @app.after_request
    def narrow(answer: Response) -> Response:
        for name, value in HEADERS.items():
            answer.headers[name] = value
        answer.headers.setdefault("Cache-Control", "no-store")
        return answer


def let_in(door: Door, answer: Response, cookie: tuple[str, str]) -> Response:
    """Give the session's cookie, bound to the place."""
    answer.set_cookie(*cookie, path=f"/{door.place}/", httponly=True, samesite="Strict")
    return answer
