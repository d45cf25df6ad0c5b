"""The page lets in only whoever has a link; everybody else gets nothing."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path

import pytest

from offbook.errors import JournalError, RecordingError, ScriptError
from offbook.intake import allowing
from offbook.page import PageServer, drafts, open_browser, running
from offbook.page.left_behind import DAYS, delete_old_drafts
from offbook.page.uploads import begin_upload
from tests.journals import Clock, open_at
from tests.pages import FORM, Visitor, add_piece, let_in, mode_of, served, stranger

SPEECH = "The tide went out and took the harbour lights.\nI waited on the wall until they came.\n"


@pytest.fixture(scope="module")
def piece(visitor: Visitor) -> str:
    return add_piece(visitor, SPEECH, "The tide")


@pytest.mark.heavy
def test_another_user_of_the_machine_gets_nothing(server: PageServer, piece: str) -> None:
    """They can reach the port and may even know the path, but without the cookie they get nothing."""
    other = stranger(server)
    assert other.ask("GET", "//").status == 403
    knows_the_place = Visitor(server.door.port, server.door.place)
    for at in ("/", f"/piece/{piece}", f"/piece/{piece}/speak", "/static/page.css", "/recording/1"):
        answer = knows_the_place.ask("GET", at)
        assert answer.status == 403
        assert "tide" not in answer.text
    assert knows_the_place.ask("GET", "/", Cookie="offbook1=guessed").status == 403


def test_a_link_works_only_once(server: PageServer) -> None:
    visitor = Visitor(server.door.port, server.door.place)
    at = server.door.link().partition(server.door.place)[2]
    first = visitor.ask("GET", at)
    assert first.status == 200
    second = visitor.ask("GET", at)
    assert second.status == 403
    assert "set-cookie" not in second.headers


def test_the_cookie_is_strict_hidden_from_scripts_and_bound_to_the_path(server: PageServer) -> None:
    """A cookie is sent to every port of a host (RFC 6265, 8.5): the random path keeps it for our page."""
    visitor = Visitor(server.door.port, server.door.place)
    cookie = visitor.ask("GET", server.door.link().partition(server.door.place)[2]).headers["set-cookie"]
    parts = {p.strip() for p in cookie.split(";")[1:]}
    assert {"HttpOnly", "SameSite=Strict", f"Path=/{server.door.place}/"} <= parts


def test_a_foreign_domain_name_that_points_to_this_machine_gets_nothing(
    server: PageServer, visitor: Visitor
) -> None:
    """DNS rebinding: the performer's own browser asks under another site's name, with the cookie."""
    for host in (f"rehearse.example:{server.door.port}", f"localhost:{server.door.port}", "127.0.0.1"):
        answer = visitor.ask("GET", "/", Host=host)
        assert answer.status == 403
        assert "tide" not in answer.text
    assert visitor.ask("GET", "/", Host=f"127.0.0.1:{server.door.port}").status == 200


def test_another_site_in_the_same_browser_gets_nothing(visitor: Visitor, piece: str) -> None:
    """A picture, a script or a fetch of another site: the browser says that it is cross-site."""
    for said in ("cross-site", "same-site"):
        assert visitor.ask("GET", f"/piece/{piece}", Sec_Fetch_Site=said).status == 403
    assert visitor.ask("GET", f"/piece/{piece}", Sec_Fetch_Site="same-origin").status == 200


@pytest.mark.parametrize("origin", ["https://rehearse.example", "null", "http://127.0.0.1:1", ""])
def test_a_form_posted_from_elsewhere_changes_nothing(
    server: PageServer, visitor: Visitor, origin: str
) -> None:
    """With the cookie, and even with the token: a change whose Origin is not the page's own is refused."""
    before = _coming_in(server)
    answer = visitor.ask("POST", "/add", b"text=planted&name=planted", Content_Type=FORM, Origin=origin)
    assert answer.status == 403
    assert _coming_in(server) == before


def test_a_change_without_the_token_of_the_session_is_refused(server: PageServer, visitor: Visitor) -> None:
    before = _coming_in(server)
    headers = {k: v for k, v in visitor.headers.items() if k != "X-Offbook-Token"}
    without = Visitor(visitor.port, visitor.place, headers)
    assert without.form("/add", text="planted", name="planted").status == 403
    assert without.form("/add", text="planted", name="planted", _token="guessed").status == 403
    assert without.form("/close").status == 403
    assert _coming_in(server) == before


def _coming_in(server: PageServer) -> set[Path]:
    """The scripts that somebody has uploaded but not yet added."""
    return set((server.room.home / "coming-in").glob("*"))


def test_the_token_of_one_session_is_of_no_use_in_another(server: PageServer, visitor: Visitor) -> None:
    other = let_in(server)
    mixed = Visitor(visitor.port, visitor.place, other.headers | {"Cookie": visitor.headers["Cookie"]})
    assert mixed.form("/add", text="planted", name="planted").status == 403


def test_a_second_link_in_the_same_browser_does_not_end_the_session_of_the_first_window(
    server: PageServer,
) -> None:
    """Somebody may be recording in the first: what it sends with its own token is still accepted."""
    first, second = let_in(server), let_in(server)
    cookies = f"{first.headers['Cookie']}; {second.headers['Cookie']}"
    for each in (first, second):
        window = Visitor(server.door.port, server.door.place, each.headers | {"Cookie": cookies})
        assert window.form("/add", text="The nets were dry.", name="Nets").status == 303
    assert first.headers["Cookie"].split("=")[0] != second.headers["Cookie"].split("=")[0]


def test_every_response_restricts_what_the_browser_may_do(visitor: Visitor, piece: str) -> None:
    """Nothing inline, nothing from elsewhere (CSP level 3), no frame; of the devices the microphone alone."""
    for at in ("/", f"/piece/{piece}", f"/piece/{piece}/speak", "/nowhere", "/static/page.css"):
        headers = visitor.ask("GET", at).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "style-src 'self';" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["permissions-policy"].startswith("microphone=(self), ")
        assert "camera=()" in headers["permissions-policy"]
        assert headers["x-content-type-options"] == "nosniff"


def test_no_script_or_style_of_a_page_is_inline_or_from_another_site(visitor: Visitor, piece: str) -> None:
    for at in ("/", "/add", f"/piece/{piece}", f"/piece/{piece}/time", f"/piece/{piece}/speak"):
        page = visitor.ask("GET", at).text
        assert "style=" not in page
        assert "<style" not in page
        assert " on" not in {word[:3] for word in page.split("<script")[1:]}
        assert "http://" not in page.replace("http://www.w3.org/2000/svg", "")
        assert "https://" not in page


@pytest.mark.heavy
def test_the_server_opens_no_path_that_a_visitor_sends(
    server: PageServer, visitor: Visitor, tmp_path: Path
) -> None:
    """A file name with a path in it is only used as a title; keys that are paths are refused."""
    secret = tmp_path / "secret.txt"
    secret.write_text("nobody may read this", encoding="utf-8")
    body = (
        b'--x\r\nContent-Disposition: form-data; name="file"; filename="../../'
        + str(secret).encode()
        + b'"\r\n\r\nOut of the shed he carried every oar.\r\n--x--\r\n'
    )
    answer = visitor.ask("POST", "/add", body, Content_Type="multipart/form-data; boundary=x")
    assert answer.status == 303
    shown = visitor.ask("GET", answer.headers["location"].partition(server.door.place)[2]).text
    assert "every oar" in shown
    assert "nobody may read" not in shown
    for at in ("/add/..%2f..%2fpage.json", "/static/../page.json", "/recording/..%2f..%2fpage.json",
               "/capture/..%2f..%2fx/end"):  # fmt: skip
        for method in ("GET", "POST"):
            answer = visitor.ask(method, at)
            assert answer.status in (400, 404, 405)
            assert server.door.again not in answer.text


@pytest.mark.heavy
def test_an_upload_above_its_size_limit_is_refused(visitor: Visitor, piece: str) -> None:
    begun = json.loads(visitor.form(f"/piece/{piece}/speak", rate="16000").text)
    for size in (300_000, 3 << 20):
        answer = visitor.ask("POST", f"/capture/{begun['key']}/0/0", bytes(size), Accept="application/json")
        assert answer.status in (400, 413)
    refused = visitor.ask("POST", "/add", b"text=" + b"a" * (22 << 20), Content_Type=FORM)
    assert refused.status == 413 and "offbook page --largest MB" in refused.text
    visitor.form(f"/capture/{begun['key']}/drop")


def test_the_performer_can_raise_the_size_limit_of_uploads(tmp_path: Path) -> None:
    """`offbook page --largest` raises the limits of the page; limits that are already larger stay."""
    upload = begin_upload(tmp_path, "piece", "film.mov")
    os.truncate(upload.path, 4_000_000_000)  # sparse
    with pytest.raises(RecordingError, match="larger than 4,000 MB"):
        upload.add(0, b"more")
    with pytest.raises(ScriptError, match="larger than 20 MB"):
        drafts.save(tmp_path, bytes(20_000_001), "play.txt", "")
    with allowing(30):
        with pytest.raises(RecordingError, match="larger than 4,000 MB"):
            upload.add(0, b"more")
        assert drafts.save(tmp_path, bytes(20_000_001), "play.txt", "").file == "script.txt"
    with allowing(5_000):
        assert upload.add(0, b"more") == 1


def test_uploads_that_nobody_kept_are_deleted_after_a_month(tmp_path: Path) -> None:
    draft = drafts.save(tmp_path, b"The lamp was lit.", "lamp.txt", "")
    old, going_on, kept_by_hand = (begin_upload(tmp_path, "piece", "run.m4a") for _ in range(3))
    mine = kept_by_hand.folder.rename(tmp_path / "my own folder")
    leads_away = tmp_path / ("0" * 32)
    leads_away.symlink_to(mine)
    written = max(p.stat().st_mtime for p in tmp_path.rglob("*"))
    now = written + DAYS * 86_400 + 60
    delete_old_drafts(tmp_path, written + DAYS * 86_400 - 60)
    assert draft.folder.exists() and old.folder.exists()
    os.utime(going_on.path, (now - 60, now - 60))  # a slice came a minute ago, into a folder made a month ago
    delete_old_drafts(tmp_path, now)
    assert {p.name for p in tmp_path.iterdir()} == {going_on.key, mine.name, leads_away.name}
    assert (mine / "upload.json").exists()


def test_the_page_does_not_start_if_its_secrets_cannot_be_stored(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a full disk or in a folder that cannot be written: two lines, and no server without its key."""

    def refuse(path: Path, text: str) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr("offbook.page.server.write_whole", refuse)
    journal = open_at(tmp_path / "home", Clock())
    with pytest.raises(JournalError, match=r"cannot be opened.*Read-only file system"):
        PageServer(journal, [])
    journal.close()
    assert open_browser(tmp_path / "home", "http://127.0.0.1:1/x", lambda address: True) is False


def test_only_the_owner_can_read_the_secrets_on_disk(server: PageServer) -> None:
    state = server.room.home / "page.json"
    assert mode_of(state) == 0o600
    opened: list[str] = []

    def browser(address: str) -> bool:
        opened.append(address)
        return True

    assert open_browser(server.room.home, "http://127.0.0.1/x", browser)
    file = server.room.home / "open-offbook.html"
    assert opened == [file.absolute().as_uri()]
    assert mode_of(file) == 0o600


def test_a_second_offbook_page_asks_the_first_for_a_link(server: PageServer) -> None:
    link = running(server.room.home)
    assert link is not None
    assert link.startswith(f"{server.door.origin}/{server.door.place}/enter/")
    other = Visitor(server.door.port, server.door.place)
    assert other.ask("POST", "/enter/again").status == 403
    assert other.ask("POST", "/enter/again", X_Offbook_Token="guessed").status == 403


def test_without_a_running_page_there_is_no_link(tmp_path: Path) -> None:
    assert running(tmp_path) is None
    (tmp_path / "page.json").write_text('{"port": 9, "place": "x", "again": "y"}', encoding="utf-8")
    assert running(tmp_path) is None


@pytest.mark.heavy
def test_the_close_button_stops_the_server_and_deletes_its_secrets(tmp_path: Path) -> None:
    with served(tmp_path) as server:
        assert let_in(server).form("/close").status == 200
        server._stopping.wait(5)
    assert not (tmp_path / "page.json").exists()
    assert not (tmp_path / "open-offbook.html").exists()
