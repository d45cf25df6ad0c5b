"""The page as a web application: the screens put together behind the door.

Everything is made on the server and sent as plain HTML. A screen works without scripts as far as it can; the
scripts only save the person from loading it again. An error that a person can mend is two lines on the page,
as in the terminal.
"""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

from flask import (
    Blueprint,
    Flask,
    Response,
    g,
    jsonify,
    make_response,
    redirect,
    render_template,
    request,
    url_for,
)
from jinja2 import StrictUndefined
from markupsafe import Markup
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge

from offbook.errors import OffbookError
from offbook.page import door as doors
from offbook.page.door import FIELD, Door
from offbook.page.room import Room
from offbook.phrasing import jump_clock

# Bytes of a form with a pasted script; routes that take files set their own limit. Set by hand.
FORM_BYTES = 2 << 20
RAISE = "offbook page --largest MB"  # what to say where a file is too large
MESSAGES = 8  # messages that wait to be shown at most; set by hand

Screens = Callable[[Blueprint, Room], None]


def make_app(room: Room, door: Door, screens: list[Screens], stop: Callable[[], None]) -> Flask:
    """The application. screens: what adds the routes of each screen; stop: ends the server."""
    app = Flask("offbook.page", static_url_path=f"/{door.place}/static")
    app.config["MAX_CONTENT_LENGTH"] = FORM_BYTES
    app.config["MAX_FORM_MEMORY_SIZE"] = FORM_BYTES
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    doors.protect(app, door, _refused)
    _handle_errors(app)
    place = Blueprint("page", __name__, url_prefix=f"/{door.place}")
    _add_entrance(place, door)
    _add_close(place, stop)
    for add in screens:
        add(place, room)
    app.register_blueprint(place)
    names = {rule.endpoint.partition(".")[2] for rule in app.url_map.iter_rules()}

    @app.context_processor
    def everywhere() -> dict[str, Any]:
        return {
            "url": url,
            "clock": jump_clock,
            "asset": lambda name: url_for("static", filename=name),
            "token": lambda: Markup('<input type="hidden" name="{}" value="{}">').format(FIELD, g.token),
            "session_token": g.get("token", ""),
            "screens": names,
            "here": (request.endpoint or "").partition(".")[2],
            "told": room.messages.pop(g.get("token", ""), []),
            "failed": None,
        }

    return app


def url(name: str, **values: Any) -> str:
    """The address of a screen."""
    return url_for(f"page.{name}", **values)


def rendered(template: str, status: int = HTTPStatus.OK, **values: Any) -> Response:
    """The screen that a template makes."""
    return make_response(render_template(template, **values), status)


def go(name: str, **values: Any) -> Response:
    """The answer that sends the browser on to another screen, after a change."""
    answer = redirect(url(name, **values), HTTPStatus.SEE_OTHER)
    return make_response(answer)


def tell(room: Room, message: str) -> None:
    """Put a message on the next screen."""
    waiting = room.messages.setdefault(g.token, [])
    waiting.append(message)
    del waiting[:-MESSAGES]


def wants_json() -> bool:
    """Whether one of our scripts asked, rather than the browser itself."""
    return request.headers.get("Accept", "").startswith("application/json")


def _refused(why: str) -> Response:
    text = f"offbook: {why}.\nOpen the page with the link that `offbook page` gives.\n"
    return Response(text, HTTPStatus.FORBIDDEN, mimetype="text/plain")


def _add_entrance(place: Blueprint, door: Door) -> None:
    @place.get(f"/{doors.ENTRANCE}/<token>")
    def enter(token: str) -> Response:
        cookie = door.enter(token)
        if cookie is None:
            return _refused("this link was used before")
        # A page, not a redirect: a strict cookie is not sent on a redirect that began outside the page.
        return doors.let_in(door, rendered("enter.html", link=url("home")), cookie)

    @place.post(f"/{doors.ENTRANCE}/again")
    def again() -> Response:
        return Response(door.link(), mimetype="text/plain")


def _add_close(place: Blueprint, stop: Callable[[], None]) -> None:
    @place.post("/close")
    def close() -> Response:
        stop()
        return rendered("closed.html")


def _handle_errors(app: Flask) -> None:
    @app.errorhandler(OffbookError)
    def failed(e: OffbookError) -> Response:
        return _failure(e.what, e.do, HTTPStatus.BAD_REQUEST)

    @app.errorhandler(RequestEntityTooLarge)
    def too_large(e: RequestEntityTooLarge) -> Response:
        return _failure(
            "this is larger than the page takes",
            f"give a smaller file, or begin the page with {RAISE}",
            HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
        )

    @app.errorhandler(HTTPException)
    def http(e: HTTPException) -> Response:
        if e.code == HTTPStatus.NOT_FOUND:
            return _failure("there is no such page", "go back to the list of pieces", e.code)
        return _failure(
            str(e.name).lower(), "go back and try again", e.code or HTTPStatus.INTERNAL_SERVER_ERROR
        )


def _failure(what: str, do: str, status: int) -> Response:
    if wants_json():
        return make_response(jsonify({"what": what, "do": do}), status)
    if "token" not in g:
        return Response(f"offbook: {what}\n{do}\n", status, mimetype="text/plain")
    return rendered("failed.html", status, failed=OffbookError(what, do))
