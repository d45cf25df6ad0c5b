"""One journal on a server for coaches and assistants, set up as docs/school.md says, on a fresh server."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from threading import Thread

import psycopg
import pytest

from offbook.desk import record_run
from offbook.errors import JournalError
from offbook.journal import add_performer, add_piece, delete_performer, performers, pieces_of, runs
from offbook.records import Performer
from tests.journals import Clock, desk_at, facts, open_at, run_with
from tests.servers import postgresql

pytestmark = pytest.mark.postgres
ROOT = Path(__file__).resolve().parent.parent


def steps() -> list[str]:
    """The two blocks of SQL in the docs: before the journal is made, and after."""
    text = (ROOT / "docs" / "school.md").read_text(encoding="utf-8")
    found = re.findall(r"```sql\n(.*?)```", text, re.DOTALL)
    assert len(found) == 2
    return found


def typed(address: str, block: str) -> None:
    """A block of SQL as psql runs it: one statement after the other."""
    bare = re.sub(r"--.*", "", block)
    with psycopg.connect(address, autocommit=True) as conn:
        for statement in filter(str.strip, bare.split(";")):
            conn.execute(statement)


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """A folder for homes, and the address of a journal with Mara in it; {who} stands for the login."""
    folder = tmp_path_factory.mktemp("school")
    before, after = steps()
    with postgresql() as url:
        address = url.replace("+psycopg", "")
        typed(address, before)
        place = url.replace("offbook@", "{who}@").rsplit("/", 1)[0] + "/offbook"
        desk_at(folder / "imogen", url=place.format(who="imogen")).journal.close()
        typed(address.rsplit("/", 1)[0] + "/offbook", after)
        yield folder, place


def test_an_assistant_can_hear_and_add_but_cannot_delete_a_performer(school: tuple[Path, str]) -> None:
    folder, place = school
    journal = open_at(folder / "tariq", Clock(), place.format(who="tariq"))
    with journal.writing() as conn:
        wren = add_performer(journal, conn, "Wren", "Europe/London")
        add_piece(journal, conn, wren, "The bell")
    with pytest.raises(JournalError) as refused, journal.writing() as conn:
        delete_performer(conn, wren.id)
    assert "your login is not allowed to do this" in refused.value.what
    assert "nothing was changed" in refused.value.do
    with journal.reading() as conn:
        # the other tests of this school may have added more
        assert {p.name for p in performers(conn)} >= {"Mara", "Wren"}
        assert [p.name for p in pieces_of(conn, wren.id)] == ["The bell"]
    journal.close()


def test_a_coach_and_two_assistants_who_work_at_the_same_time_lose_nothing(school: tuple[Path, str]) -> None:
    """Each keeps five run-throughs of a piece of theirs at the same time, with the memory of each thought."""
    folder, place = school
    counted: dict[str, int] = {}

    def work(name: str, who: str) -> None:
        desk = desk_at(folder / name, url=place.format(who=who), name=name)
        for _ in range(5):
            record_run(
                desk.journal, desk.piece, desk.version, run_with(desk.version.words), facts(desk.clock)
            )
        with desk.journal.reading() as conn:
            counted[name] = len(runs(conn, desk.piece.id))
        desk.journal.close()

    people = (("Ash", "tariq"), ("Bryn", "tariq"), ("Cole", "imogen"))
    threads = [Thread(target=work, args=each) for each in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert counted == {"Ash": 5, "Bryn": 5, "Cole": 5}


def test_a_coach_can_delete_a_performer_that_an_assistant_added(school: tuple[Path, str]) -> None:
    folder, place = school
    journal = open_at(folder / "imogen", Clock(), place.format(who="imogen"))

    def named(name: str) -> Performer | None:
        with journal.reading() as conn:
            return next((p for p in performers(conn) if p.name == name), None)

    with journal.writing() as conn:
        added = add_performer(journal, conn, "Gone", "UTC")
    with journal.writing() as conn:
        delete_performer(conn, added.id)
    assert named("Gone") is None and named("Mara") is not None
    journal.close()
