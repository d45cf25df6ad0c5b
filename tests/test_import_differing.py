"""What two machines settled otherwise: an import keeps what is here and shows both, with the command."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.test_cli_journal import Desk, desk_in
from tests.test_cli_sending import BRIEF


def test_a_date_and_a_limit_that_differ_are_shown_with_the_command_that_takes_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = desk_in(tmp_path, monkeypatch)
    mine.see("piece", "add", str(tmp_path / "lamp.txt"), "--name", "The lamp", "--date", "2026-03-22")
    (tmp_path / "round.toml").write_text(BRIEF, encoding="utf-8")
    mine.see("brief", "add", str(tmp_path / "round.toml"))
    mine.see("export", str(tmp_path / "mine.zip"))
    again = mine.see("import", str(tmp_path / "mine.zip"))
    assert "otherwise" not in again, "the same on both sides"

    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "coach"))
    coach = Desk(tmp_path, monkeypatch)
    coach.see("import", str(tmp_path / "mine.zip"))
    coach.see("piece", "set", "The lamp", "--date", "2026-03-18", "--limit", "1:30")
    coach.see("brief", "set", "Saltmarrow", "slate = true")
    coach.see("export", str(tmp_path / "coach.zip"))

    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "home"))
    shown = " ".join(mine.see("import", str(tmp_path / "coach.zip")).split())
    assert "The lamp: date 2026-03-22 here, 2026-03-18 there." in shown
    assert 'offbook piece set "The lamp" --date 2026-03-18' in shown
    assert "The lamp: limit none here, 1:30 there." in shown
    assert "Saltmarrow Players, first round: the brief itself differs." in shown
    mine.see("piece", "set", "The lamp", "--date", "2026-03-18", "--limit", "1:30")
    after = " ".join(mine.see("import", str(tmp_path / "coach.zip")).split())
    assert "The lamp: " not in after, "what was taken over does not differ any more"
