"""A second week at the terminal, as text: options, mistakes and states that are not in the first set of
screens.

There are three performers, a poem, a scene and a piece of prose; run-throughs with slips of every kind,
deadlines that pass, and commands that are refused. Of each screen only the rows are kept that no screen
before it had; of a refusal its two lines.
"""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from offbook.desk import Heard
from offbook.errors import OffbookError
from offbook.notes import notes_on
from offbook.score import Verdict
from offbook.script import Script
from offbook.words import words_of
from tests.journals import Slips, run_with
from tests.once import keys_in_order, measure_once, spoken_anew, spoken_recording
from tests.test_cli_journal import MONDAY, Desk, desk_in
from tests.test_hear_sound import sound

SCENE = """ACT I

SCENE 1. A gate.

Enter PIM

PIM. One to the coast, a single. (He waits.)
CLERK. The last one has gone.
PIM. Then I will wait for the first one, and I will sit here until it comes.

SCENE 2. The same.

CLERK. It is not coming either.
PIM. I know it.
"""
PROSE = """The Keeper

I never asked for the lantern, and nobody ever told me why it was mine. In 1962 eleven men went out in
two small boats. The lamp was lit; it burned until the morning. It was not the lamp that failed!

So I ask you, Mr. Mayor: what will you do? Come up the 99 stairs. Look at the sea. Then tell us the
lamp is dear.
"""
MAIL = (
    "Send one take of The lamp, at most 1:00, as mp4 or mov, under 200 MB, by 17 March 2026, 5 pm. "
    "Slate first."
)
BRIEFS = {
    "first": 'name = "First round"\ndeadline = 2026-03-09T17:00:00Z\npieces = ["The lamp", "The keeper"]\n'
    'longest = "0:14"\nkinds = ["mp4"]\nslate = true\nlimits = { "The lamp" = "0:10" }\nunbroken = true\n',
    "second": 'name = "Second round"\ndeadline = 2026-03-12T09:00:00Z\n'
    'pieces = ["The lamp"]\nshortest = "0:05"\n'
    'longest = "1:00"\nmegabytes = 1\nconfirm_days = 2\nsend_to = "the playhouse"\nby_eye = ["Plain wall"]\n',
    "gone": 'name = "Gone by"\ndeadline = 2026-03-01T09:00:00Z\npieces = ["The keeper"]\n',
    "wrong": 'name = "Wrong"\ndeadline = "soon"\n',
    "odd": 'name = "Odd"\ndeadline = 2026-03-20\npieces = ["The oil"]\ncolour = "red"\n',
}


def _every(step: int, verdict: Verdict, heard: str | None, count: int = 34) -> Slips:
    return dict.fromkeys(range(1, count, step), (verdict, heard))


# By the name under which a step asks for them: what the hearing finds.
HEARD: dict[str, Slips] = {
    "clean": {},
    "few": {3: ("dropped", None), 12: ("changed", "cellar"), 20: ("unsure", "tied")},
    "line": dict.fromkeys(range(9, 16), ("dropped", None)),
    "many": _every(2, "changed", "kettle"),
    "unsure": _every(3, "unsure", "tide"),
    "same": {12: ("changed", "cellar"), 13: ("changed", "door")},
}

# Hours that pass, what the hearing finds from here on (or ""), what is typed, and the keys that are pressed.
STEPS: tuple[tuple[float, str, str, str], ...] = (
    (0, "", "read {home}/scene.txt --scene 2", ""),
    (0, "", "read {home}/scene.txt --scene 9", ""),
    (0, "", "read {home}/scene.txt --part pim --speech 2", ""),
    (0, "", "read {home}/scene.txt --part pim --speech 7", ""),
    (0, "", "read {home}/scene.txt --part NOBODY", ""),
    (0, "", "read {home}/scene.txt --part all", ""),
    (0, "", "read {home}/keeper.txt --from 2 --to 4", ""),
    (0, "", "read {home}/keeper.txt --from 4 --to 2", ""),
    (0, "", "read {home}/keeper.txt --from lamp", ""),
    (0, "", "read {home}/keeper.txt --from nothing", ""),
    (0, "", "read {home}/copy.txt --leave-out oil", ""),
    (0, "", "read {home}/copy.txt --say oil", ""),
    (0, "", "read {home}/nowhere.txt", ""),
    (0, "", "mark {home}/keeper.txt --rate 120 --limit 0:20", ""),
    (0, "", "mark {home}/keeper.txt --rate address --notes --phrases", ""),
    (0, "", "mark {home}/keeper.txt --rate sung", ""),
    (0, "", "mark {home}/lamp.txt --form prose --limit 1:00", ""),
    (0, "", "mark {home}/lamp.txt --metre trochaic", ""),
    (0, "", "mark {home}/lamp.txt --metre limping", ""),
    (0, "", "mark {home}/lamp.txt --pace-from {home}/lamp.txt=0:20", ""),
    (0, "", "mark {home}/lamp.txt --pace-from {home}/lamp.txt=soon", ""),
    (0, "", "mark {home}/scene.txt --part PIM --feet", ""),
    (0, "", "fit {home}/keeper.txt --limit 2:00", ""),
    (0, "", "fit {home}/keeper.txt --limit 0:25 --ends-too", ""),
    (0, "", "fit {home}/keeper.txt --limit 0:25 --keep 1-2 --cut 4", ""),
    (0, "", "fit {home}/keeper.txt --limit 0:25 --keep never --write {home}/cut.txt --proposal 9", ""),
    (0, "", "fit {home}/keeper.txt --limit 0:25 --write {home}/cut.txt", ""),
    (0, "", "fit {home}/keeper.txt --limit 0:02", ""),
    (0, "", "fit {home}/keeper.txt --limit 1:75", ""),
    (0, "", "today", ""),
    (0, "", "performer add Mara --zone Asia/Kathmandu", ""),
    (0, "", "performer add Mara", ""),
    (0, "", "performer add Ivo --zone Nowhere/Land", ""),
    (0, "", "performer set Mara --minutes 0", ""),
    (0, "", "performer add Ivo", ""),
    (0, "", "performer set Mara --minutes 20", ""),
    (0, "", "performer set Nobody --minutes 5", ""),
    (0, "", "piece add {home}/lamp.txt --name The+lamp --performer Mara --date +20 --limit 0:40", ""),
    (0, "", "piece add {home}/lamp.txt --name The+lamp --performer Mara", ""),
    (0, "", "piece add {home}/lamp.txt --name The+lamp --performer Ivo --date 2026-02-01", ""),
    (0, "", "piece add {home}/lamp.txt --name The+lamp --performer Ivo", ""),
    (0, "", "piece add {home}/keeper.txt --name The+keeper --performer Mara --date 2026-03-11", ""),
    (0, "", "piece add {home}/scene.txt --name Gate --performer Ivo", "PIM\n"),
    (0, "", "piece set Gate --performer Ivo --date +3 --limit 0:30", ""),
    (0, "", "piece show Gate --performer Ivo", ""),
    (0, "", "piece show The+lamp", ""),
    (0, "", "piece list", ""),
    (0, "clean", "run The+lamp {home}/one.wav", ""),
    (0, "few", "run The+lamp {home}/one.wav --performer Mara", ""),
    (0, "", "run {home}/lamp.txt {home}/one.wav --explain oil --explain 0:04 --explain nothing", ""),
    (0, "", "run {home}/lamp.txt {home}/one.wav --explain 9:59", ""),
    (26, "line", "run The+lamp {home}/one.wav --performer Mara --no-keep", ""),
    (0, "", "today --performer Mara", ""),
    (0, "", "drill The+lamp --performer Mara --minutes 1 --kind cue --seed 3", "\nthe lamp\nwas lit\nq\n"),
    (
        0,
        "",
        "drill The+lamp --performer Mara --minutes 1 --kind build-up --seed 3",
        "\nx\n\n?\nthe tide\nq\n",
    ),
    (0, "", "drill The+lamp --performer Mara --minutes 1 --kind tell-apart --seed 3", "\nq\n"),
    (26, "many", "run The+lamp {home}/one.wav --performer Mara", ""),
    (26, "unsure", "run The+lamp {home}/one.wav --performer Mara", ""),
    (0, "same", "run The+lamp {home}/one.wav --performer Ivo", ""),
    (26, "same", "run The+lamp {home}/one.wav --performer Ivo", ""),
    (0, "", "correct The+lamp --performer Ivo", ""),
    (0, "", "correct The+lamp door --performer Ivo --always", ""),
    (0, "", "correct The+lamp 13 --performer Ivo --as changed --note mine", ""),
    (0, "", "correct The+lamp 999 --performer Ivo", ""),
    (0, "", "correct The+lamp 13 --performer Ivo --run zz", ""),
    (0, "", "correct The+lamp 13 --performer Ivo --run 77", ""),
    (0, "", "progress --performer Ivo", ""),
    (0, "", "progress The+lamp --performer Ivo --lines --last 1", ""),
    (0, "", "progress The+lamp --performer Mara --thoughts", ""),
    (0, "", "progress The+lamp --performer Mara --runs --csv", ""),
    (0, "", "progress The+lamp --performer Mara", ""),
    (0, "", "progress The+keeper --performer Mara", ""),
    (0, "", "progress --performer Mara --all --csv", ""),
    (0, "", "brief add {home}/wrong.toml --performer Mara", ""),
    (0, "", "brief add {home}/odd.toml --performer Mara", ""),
    (0, "", "brief add {home}/gone.toml --performer Mara", ""),
    (0, "", "brief add {home}/first.toml --performer Mara", ""),
    (0, "", "brief add {home}/second.toml --performer Mara", ""),
    (0, "", "brief list --performer Mara", ""),
    (0, "", "brief show First --performer Mara", ""),
    (0, "", "brief show round --performer Mara", ""),
    (0, "", "brief table --performer Mara", ""),
    (0, "", 'brief set First --performer Mara picture+=+"landscape" --unset slate', ""),
    (0, "", "brief set First --performer Mara picture+=+7", ""),
    (0, "", "brief blank {home}/mail.toml --message {home}/mail.txt", ""),
    (0, "", "plan --performer Mara", ""),
    (0, "", "plan First --performer Mara", ""),
    (0, "", "plan Third --performer Mara", ""),
    (0, "", "plan --performer Ivo", ""),
    (0, "", "plan --performer Mara --csv", ""),
    (0, "", "check {home}/one.wav --brief First --performer Mara", ""),
    (0, "", "check {home}/one.wav --limit 0:05", ""),
    (0, "", "check {home}/lamp.txt", ""),
    (0, "few", "take add The+lamp {home}/one.wav --intention stay --performer Mara", ""),
    (0, "few", "take add The+lamp {home}/one.wav --intention stay --performer Mara --brief Second", ""),
    (0, "clean", "take add The+lamp {home}/one.wav --intention go --performer Mara --brief Second", ""),
    (
        0,
        "many",
        "take add The+lamp {home}/one.wav --intention wait --performer Mara --brief Second --no-keep",
        "",
    ),
    (0, "", "take list The+lamp --performer Mara", ""),
    (0, "", "take show The+lamp 3 --performer Mara", ""),
    (0, "", "take show The+lamp 9 --performer Mara", ""),
    (0, "", "take choose The+lamp 2 --performer Mara", ""),
    (0, "", "review The+lamp --take 2 --performer Mara", ""),
    (0, "", "review The+lamp --take 2 --beside 1 --performer Mara", ""),
    (0, "", "review The+lamp --run 99 --performer Mara", ""),
    (0, "", "margin add The+lamp 2 Slower. --by Ivo --take 2 --performer Mara", ""),
    (0, "", "margin add The+lamp 40 Slower. --performer Mara", ""),
    (0, "", "margin list The+lamp --performer Mara --all", ""),
    (0, "", "margin done The+lamp 1 --performer Mara", ""),
    (0, "", "margin done The+lamp 1 --undo --performer Mara", ""),
    (0, "", "brief sent Second --performer Mara", ""),
    (0, "", "brief pack Second {home}/packed --performer Mara", ""),
    (0, "", "brief pack Second {home}/packed --performer Mara", ""),
    (0, "", "brief sent Second --performer Mara --to them --confirm-by +3", ""),
    (26, "", "brief list --performer Mara", ""),
    (0, "", "today --performer Mara", ""),
    (0, "", "brief confirmed Second Thanks. --performer Mara", ""),
    (0, "", "brief confirmed Second --undo --performer Mara", ""),
    (50, "", "today", ""),
    (0, "", "plan --performer Mara", ""),
    (0, "", "class", ""),
    (0, "", "class --past --all", ""),
    (0, "", "class --csv", ""),
    (0, "", "performer timed Mara {home}/keeper.txt 0:31", ""),
    (0, "", "mark {home}/lamp.txt --performer Mara", ""),
    (0, "", "piece revise The+lamp {home}/copy.txt --performer Mara", "y\n"),
    (0, "", "piece revise The+lamp {home}/keeper.txt --performer Ivo", "n\n"),
    (0, "", "progress The+lamp --performer Mara", ""),
    (0, "", "piece recordings The+lamp --performer Mara", ""),
    (0, "", "piece forget The+lamp zz --performer Mara --yes", ""),
    (0, "", "take delete The+lamp 3 --performer Mara --recording", ""),
    (0, "", "export {home}/all.zip", ""),
    (0, "", "export {home}/all.zip", ""),
    (0, "", "import {home}/all.zip", ""),
    (0, "", "import {home}/lamp.txt", ""),
    (0, "", "piece delete The+keeper --performer Mara", "n\n"),
    (0, "", "piece delete The+keeper --performer Mara", "y\n"),
    (0, "", "performer delete Ivo", "Ivo\n"),
    (400, "", "today", ""),
)


def week_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Every step with the rows that are new, or the two lines of its refusal."""
    desk = _desk(tmp_path, monkeypatch)
    out, seen = list[str](), set[str]()
    slips: Slips = {}

    def listen_to(script: Script, recording: Path, *more: Any, **named: Any) -> Heard:
        words = words_of(script)
        fitting = {k: v for k, v in slips.items() if k < len(words)}
        found = notes_on(script, words, run_with(words, fitting))
        return Heard(script, words, Path(recording), MONDAY, "planted", sound(40.0), found)

    monkeypatch.setattr("offbook.desk.listening.listen_to", listen_to)
    for hours, heard, typed, keys in STEPS:
        desk.now += timedelta(hours=hours, minutes=2)
        if "one.wav" in typed:
            spoken_anew(tmp_path / "one.wav")
        slips = HEARD[heard] if heard else slips
        args = [part.replace("+", " ").format(home=tmp_path) for part in typed.split(" ")]
        done = desk.type(*args, keys=keys)
        shown, error = done.output, done.exception
        if isinstance(error, OffbookError):
            shown += f"refused: {error.what}\n{error.do}\n"
        rows = [row.rstrip() for row in shown.replace(str(tmp_path), "~").splitlines()]
        new = [row for row in rows if row and row not in seen]
        seen.update(new)
        status = "" if isinstance(error, OffbookError) else f" ({done.exit_code})"
        out.append("\n".join([f"$ offbook {typed.replace('{home}', '~')}{status}", *new]) + "\n")
    return re.sub(r"\b[0-9a-f]{8,32}\b", "KEY", "\n".join(out))


def _desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    desk = desk_in(tmp_path, monkeypatch)
    monkeypatch.setenv("COLUMNS", "80")
    measure_once(monkeypatch)
    keys_in_order(monkeypatch)
    for name, text in {"scene": SCENE, "keeper": PROSE, "mail": MAIL}.items():
        (tmp_path / f"{name}.txt").write_text(text, encoding="utf-8")
    lamp = (tmp_path / "lamp.txt").read_text(encoding="utf-8")
    (tmp_path / "copy.txt").write_text(lamp.replace("shoulders", "arms"), encoding="utf-8")
    for name, text in BRIEFS.items():
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    spoken_recording(tmp_path / "one.wav", 15, 8_000)
    return desk
