"""A day on the page, as text: every form is sent, rightly and wrongly, and what each answer shows is kept.

Of each answer only the rows are kept that no answer before it had. The journal has the same contents each
time, the clock is put forward by a minute before each step, and keys are replaced by names.
"""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlencode

import pytest

from tests.golden_screens import seeded, text_of, with_names_for_keys
from tests.once import keys_in_order
from tests.pages import FORM, let_in, served

GATE = "THE GATE\n\nWARDEN: Who goes there?\n\nMARA: Perhaps the tide took every light. (She sits.) Stay.\n"
LONG = "\n".join(
    f"The lamp went round for the {n} time, and nobody saw it." for n in ("first", "second", "third")
)
MAIL = "Send one take of The lamp by Friday 20 March 2026, 5 pm, at most 1:00, as an mp4."

SENT_ON = "You should be redirected"  # what a redirection says to who is shown it

# Method, address, fields; {names} are keys that an earlier answer led to, kept under the name after ">".
STEPS: tuple[tuple[str, str, dict[str, object]], ...] = (
    ("POST", "/add", {"text": "  "}),
    ("POST", "/add", {"text": "Dies ist ein deutscher Satz, und noch einer, und auch der dritte."}),
    ("POST", "/add >draft", {"text": GATE, "name": " The   gate "}),
    ("GET", "/add/{draft}", {}),
    ("POST", "/add/{draft}", {"part": "MARA", "limit": "0:20", "day": "2026-03-22"}),
    ("GET", "/add/{draft}", {}),
    ("POST", "/add/{draft}", {"part": "NOBODY"}),
    ("POST", "/add/{draft}", {"turn": "0-0-1"}),
    ("POST", "/add/{draft}", {"turn": "82-94-1"}),
    ("POST", "/add/{draft}", {"turn": "82-94-2"}),
    ("GET", "/add/{draft}", {}),
    ("POST", "/add/{draft}", {"do": "keep", "limit": "soon"}),
    ("POST", "/add/{draft}", {"do": "keep", "limit": "0:20", "day": "some day"}),
    ("POST", "/add/{draft} >gate", {
        "do": "keep", "limit": "0:20", "day": "2026-03-22", "performer": "{mara}",
    }),
    ("GET", "/", {}),
    ("GET", "/piece/{gate}", {}),
    ("GET", "/piece/{gate}/settings", {}),
    ("POST", "/add >dropped", {"text": LONG, "name": "Long"}),
    ("POST", "/add/{dropped}", {"do": "drop"}),
    ("GET", "/add/{dropped}", {}),
    ("GET", "/add?revises={piece}", {}),
    ("POST", "/piece/{piece}/pencil", {"word": "3", "grade": "3", "reason": "she sees him"}),
    ("GET", "/piece/{piece}?word=3", {}),
    ("POST", "/piece/{piece}/pencil", {"word": "3", "grade": "own"}),
    ("POST", "/piece/{piece}/pencil", {"word": "0", "grade": "2"}),
    ("POST", "/piece/{piece}/pencil", {"word": "4", "said": "BE-fore", "was": "be-FORE"}),
    ("GET", "/piece/{piece}?word=4", {}),
    ("POST", "/piece/{piece}/pencil", {"word": "4", "said": "be-fore-ly", "was": "BE-fore"}),
    ("POST", "/piece/{piece}/pencil", {"word": "4", "said": "BE-fore", "was": "BE-fore", "unfix": "1"}),
    ("POST", "/piece/{piece}/pencil", {"word": "999"}),
    ("GET", "/piece/{piece}?show=clock&show=stress&show=phrases", {}),
    ("GET", "/piece/{piece}/time", {}),
    ("GET", "/piece/{piece}/time?limit=0:09", {}),
    ("GET", "/piece/{piece}/time?limit=0:09&ends=1", {}),
    ("GET", "/piece/{piece}/time?limit=x", {}),
    ("POST", "/piece/{piece}/cut", {"limit": "0:09", "proposal": "77"}),
    ("POST", "/piece/{piece}/cut", {"limit": "0:09", "proposal": "x"}),
    ("POST", "/piece/{piece}/cut >cut", {"limit": "0:09", "proposal": "0", "ends": "1"}),
    ("GET", "/add/{cut}", {}),
    ("GET", "/piece/{piece}/drill?minutes=5", {}),
    ("POST", "/piece/{piece}/drill", {"minutes": "0.05"}),
    ("POST", "/piece/{piece}/drill", {"minutes": "181"}),
    ("POST", "/piece/{piece}/drill", {"minutes": "soon"}),
    ("POST", "/piece/{piece}/drill >sit", {"minutes": "10"}),
    ("GET", "/piece/{piece}/drill/{sit}", {}),
    ("POST", "/piece/{piece}/drill/{sit}", {"do": "read"}),
    ("GET", "/piece/{piece}/drill/{sit}", {}),
    ("POST", "/piece/{piece}/drill/{sit}", {"do": "prompt", "answer": "the lamp"}),
    ("GET", "/piece/{piece}/drill/{sit}", {}),
    ("POST", "/piece/{piece}/drill/{sit}", {
        "answer": "the lamp was lit before the tide came", "pick_up": "1.5",
    }),
    ("GET", "/piece/{piece}/drill/{sit}", {}),
    ("POST", "/piece/{piece}/drill/{sit}", {"do": "unknown", "pick_up": "x"}),
    ("GET", "/piece/{piece}/drill/{sit}", {}),
    ("POST", "/piece/{piece}/drill/{sit}", {"do": "leave"}),
    ("GET", "/piece/{piece}/drill/{sit}", {}),
    ("GET", "/piece/{piece}/notes/{run}", {}),
    ("POST", "/piece/{piece}/notes/{run}/correct", {"words": "3-3", "verdict": "said"}),
    ("GET", "/piece/{piece}/notes/{run}", {}),
    ("POST", "/piece/{piece}/notes/{run}/correct", {"words": "3-999", "verdict": "said"}),
    ("POST", "/piece/{piece}/notes/{run}/correct", {"words": "5-4", "verdict": "said"}),
    ("POST", "/piece/{piece}/notes/{run}/correct", {"words": "4-5", "verdict": "sung"}),
    ("POST", "/piece/{piece}/notes/{run}/correct", {"words": "4-5", "verdict": "dropped"}),
    ("GET", "/piece/{piece}/notes/{run}", {}),
    ("POST", "/piece/{piece}/notes/{run}/correct", {"words": "4-4", "verdict": "said"}),
    ("GET", "/piece/{piece}/notes/{run}", {}),
    ("GET", "/piece/{gate}/notes/{run}", {}),
    ("POST", "/piece/{piece}/margin", {"line": "2", "text": "Who is this said to?", "author": "Ivo"}),
    ("POST", "/piece/{piece}/margin", {"line": "9", "text": "Nobody."}),
    ("POST", "/piece/{piece}/margin", {"line": "two", "text": "Nobody."}),
    ("POST", "/piece/{piece}/margin", {"line": "1", "text": "  "}),
    ("GET", "/piece/{piece}", {}),
    ("POST", "/piece/{piece}/margin/1", {"do": "done"}),
    ("POST", "/piece/{piece}/margin/7", {"do": "done"}),
    ("GET", "/piece/{piece}/progress", {}),
    ("GET", "/piece/{piece}/takes", {}),
    ("POST", "/piece/{piece}/takes", {"intention": "make her stay"}),
    ("POST", "/piece/{piece}/takes/1", {"do": "choose"}),
    ("GET", "/piece/{piece}/takes", {}),
    ("POST", "/piece/{piece}/takes/1", {"do": "dance"}),
    ("POST", "/piece/{piece}/takes/9", {"do": "choose"}),
    ("GET", "/brief/new?as=text", {}),
    ("POST", "/brief/new", {"name": "Second round"}),
    ("POST", "/brief/new", {"name": "Second round", "deadline": "tomorrow"}),
    ("POST", "/brief/new", {"name": "Second round", "deadline": "2026-03-20", "megabytes": "big"}),
    (
        "POST",
        "/brief/new >second",
        {
            "name": "Second round", "deadline": "2026-03-20", "clock": "17:00", "longest": "1:00",
            "shortest": "0:20",
            "together": "1:30", "picture": "landscape", "kinds": "MP4, .mov", "megabytes": "200",
            "slate": "true",
            "unbroken": "true", "confirm_days": "2", "by_eye": "Say it to one person\n\n  Plain  wall",
            "piece": "The lamp",
            "known": "0", "name-0": "The lamp", "from-0": "free", "limit-0": "0:50", "performer": "{mara}",
        },
    ),
    ("GET", "/brief/{second}", {}),
    ("GET", "/brief/{second}/change", {}),
    ("POST", "/brief/{second}/change", {"deadline": "2026-03-20", "longest": "soon"}),
    ("POST", "/brief/{second}/change", {
        "deadline": "2026-03-20", "clock": "17:00", "piece": "The lamp", "known": "1", "name-0": "The lamp",
        "from-0": "free", "limit-0": "0:50", "shortest": "0:20", "longest": "1:00", "together": "1:30",
        "picture": "landscape", "unbroken": "true", "confirm_days": "2", "slate": "", "kinds": "mp4, mov",
        "megabytes": "200", "by_eye": "Say it to one person\nPlain wall"}),
    ("GET", "/brief/{second}", {}),
    ("GET", "/brief/{second}/change?as=text", {}),
    ("POST", "/brief/new", {
        "text": 'name = "Third"\ndeadline = 2026-03-01T10:00:00Z\n', "performer": "{mara}",
    }),
    ("POST", "/brief/new", {"text": 'name = "Third"\nwhen = 1\n', "performer": "{mara}"}),
    ("GET", "/briefs", {}),
    ("POST", "/brief/{brief}/sent", {}),
    ("POST", "/brief/{brief}/sent", {"where": "the playhouse", "anyway": "1"}),
    ("GET", "/brief/{brief}", {}),
    ("POST", "/brief/{brief}/confirmed", {"words": "Thank you, got it."}),
    ("GET", "/brief/{brief}", {}),
    ("POST", "/brief/{second}/delete", {}),
    ("GET", "/class", {}),
    ("POST", "/class", {"name": "  "}),
    ("POST", "/class", {"name": "Ivo"}),
    ("POST", "/class/nobody", {"minutes_a_day": "25", "voice_minutes": "9"}),
    ("POST", "/class/{mara}", {"minutes_a_day": "601", "voice_minutes": "9"}),
    ("POST", "/class/{mara}", {"minutes_a_day": "0.9", "voice_minutes": "9"}),
    ("POST", "/class/{mara}", {"minutes_a_day": "x", "voice_minutes": "9"}),
    ("POST", "/class/{mara}", {"minutes_a_day": "25", "voice_minutes": "9"}),
    ("GET", "/class", {}),
    ("POST", "/piece/{gate}/settings", {"name": "", "limit": "0:20", "day": ""}),
    ("POST", "/piece/{gate}/settings", {"name": "The gate at night", "limit": "1:70", "day": ""}),
    ("POST", "/piece/{gate}/settings", {"name": "The gate at night", "limit": "1:10", "day": "2026-04-01"}),
    ("GET", "/piece/{gate}/settings", {}),
    ("GET", "/piece/{gate}/progress", {}),
    ("GET", "/piece/{gate}/notes", {}),
    ("GET", "/piece/{gate}/takes", {}),
    ("GET", "/piece/{gate}/speak", {}),
    ("POST", "/piece/{gate}/forget", {}),
    ("POST", "/piece/{gate}/delete", {"name": "The gate"}),
    ("POST", "/piece/{gate}/delete", {"name": "The gate at night"}),
    ("GET", "/piece/{gate}", {}),
    ("GET", "/", {}),
    ("GET", "/today", {}),
    ("GET", "/today?who={mara}", {}),
    ("GET", "/today?who=nobody", {}),
    ("GET", "/calendar", {}),
)  # fmt: skip


def day_text(home: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Every step with its status, the page that it leads to, and the rows that are new."""
    monkeypatch.setenv("OFFBOOK_HOME", str(home))
    keys_in_order(monkeypatch)
    monkeypatch.setattr("offbook.moment.system_zone", lambda: "Europe/London")
    found = seeded(home)
    keys = {"piece": found.piece, "run": found.run, "brief": found.brief, "mara": found.performer}
    with served(home, clock=found.clock) as server:
        visitor, out, seen = let_in(server), list[str](), set[str]()
        for method, typed, fields in STEPS:
            found.clock.on(minutes=1)
            at, _, kept = typed.partition(" >")
            sent = urlencode([(k, str(v).format(**keys)) for k, v in fields.items()]).encode()
            answer = visitor.ask(
                method, at.format(**keys), sent if method == "POST" else b"", Content_Type=FORM
            )
            leads = answer.headers.get("location", "")
            if kept:
                keys[kept] = leads.rsplit("/", 1)[-1] or "none"
            rows = [
                row
                for row in text_of(answer.text).split("\n")
                if row not in seen and not row.startswith(SENT_ON)
            ]
            seen.update(rows)
            told = " ".join(f"{k}={v}" for k, v in fields.items())
            head = f"# {method} {at} {told}".strip() + f" ({answer.status}{' ' + leads if leads else ''})"
            out.append("\n".join([head.replace("\n", " / "), *rows]) + "\n")
    return with_names_for_keys("\n".join(out), home, server)
