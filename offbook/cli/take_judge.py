"""Judging a take: it is logged first, then measured, heard and held against the brief, then committed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from offbook.cli.desk import draft_of, plural, which, wide, wrapped

if TYPE_CHECKING:
    from datetime import datetime

    from offbook.brief import Brief
    from offbook.cli.run_keep import Saved
    from offbook.cli.run_listen import Heard
    from offbook.cli.run_model import Loading
    from offbook.journal import Journal, Piece, Recording, TakeRow, Version
    from offbook.takes import Check, Facts


@dataclass(frozen=True, slots=True)
class Logged:
    """A take in the journal, not judged yet. path: where its recording is read from."""

    piece: Piece
    version: Version
    take: TakeRow
    brief: Brief | None
    path: Path
    stored: Recording | None
    today: int


@dataclass(frozen=True, slots=True)
class Judged:
    """A take with all that was found. saved: the run-through that was added, None where it was there before;
    run: that run-through's key."""

    logged: Logged
    facts: Facts
    checks: tuple[Check, ...]
    heard: Heard
    saved: Saved | None
    run: str | None


def log_take(
    journal: Journal,
    name: str,
    performer: str | None,
    source: Path,
    intention: str,
    brief: str | None,
    keep: bool | None,
) -> Logged:
    """Commit that the take was made, with its recording where recordings are kept. Raises OffbookError."""
    from offbook import audio
    from offbook.cli.run_keep import spoken_at
    from offbook.cli.take import brief_for
    from offbook.journal import add_take, keep_recording, takes_on

    with journal.reading() as conn:
        piece = which(conn, name, performer)
        version = draft_of(conn, piece)
        asked = brief_for(conn, piece, brief)
    audio.probe(source)  # what is no recording is refused before anything is written
    at: datetime = spoken_at(journal, piece, source)
    stored = (
        keep_recording(journal, piece, source, at)
        if (piece.keep_recordings if keep is None else keep)
        else None
    )
    with journal.writing() as conn:
        take = add_take(
            journal,
            conn,
            piece,
            at=at,
            intention=intention,
            file=str(source.absolute()),
            recording_id=None if stored is None else stored.id,
            brief_id=None if asked is None else asked[0].id,
        )
        today = takes_on(conn, piece.id, take.day)
    return Logged(piece, version, take, None if asked is None else asked[1], source, stored, today)


def logged_take(journal: Journal, name: str, performer: str | None, number: int) -> Logged:
    """A take logged earlier, with its recording found again. Raises JournalError."""
    from offbook.cli.brief import read_briefs
    from offbook.journal import recordings, take_numbered, takes_on

    with journal.reading() as conn:
        piece = which(conn, name, performer)
        version = draft_of(conn, piece)
        take = take_numbered(conn, piece, number)
        stored = next((r for r in recordings(conn, piece.id) if r.id == take.recording_id), None)
        read = next(
            (read for row, read, _ in read_briefs(conn, piece.performer_id) if row.id == take.brief_id), None
        )
        today = takes_on(conn, piece.id, take.day)
    path = journal.recordings / stored.path if stored is not None else Path(take.file)
    return Logged(piece, version, take, read, path, stored, today)


def judge(journal: Journal, logged: Logged, loading: Loading) -> Judged:
    """Measure and hear a take, and commit what was found. Raises OffbookError; the take stays logged."""
    from offbook.cli.run_keep import commit
    from offbook.cli.run_listen import listen_to
    from offbook.journal import judge_take, run_of_take
    from offbook.takes import checks_of, facts_of, spoken_of

    facts = facts_of(logged.path)
    heard = listen_to(logged.version.script, logged.path, loading, facts.sound)
    checks = checks_of(facts, logged.brief, logged.piece.limit_seconds, spoken_of(heard.review))
    with journal.reading() as conn:
        before = run_of_take(conn, logged.take)
    # what was judged before is no second run-through
    saved = None if before else commit(journal, logged.piece, logged.version, heard, logged.stored)
    run = saved.run if saved is not None else before
    told = {"seconds": round(facts.seconds, 2), "checks": [asdict(c) for c in checks]}
    with journal.writing() as conn:
        judge_take(
            conn, logged.take.id, None if run is None else run.id, json.dumps(told, ensure_ascii=False)
        )
    return Judged(logged, facts, checks, heard, saved, None if run is None else run.id)


def as_json(judged: Judged) -> dict[str, Any]:
    """The take for other programs; `run` is what `offbook run --json` gives."""
    from offbook.cli.run import as_json as run_json
    from offbook.takes import missed

    take = judged.logged.take
    return {
        "piece": judged.logged.piece.name,
        "take": take.n,
        "takes_today": judged.logged.today,
        "intention": take.intention,
        "brief": None if judged.logged.brief is None else judged.logged.brief.name,
        "file": take.file,
        "seconds": round(judged.facts.seconds, 2),
        "checks": [asdict(c) for c in judged.checks],
        "met": not missed(judged.checks),
        "run": run_json(judged.heard) | {"run": judged.run},
    }


_MARK = {True: "yes", False: "NO", None: "look"}


def check_lines(checks: Sequence[dict[str, Any]]) -> list[str]:
    """The points for people: whether it is met, what was asked, what was found, what to do."""
    import textwrap

    lines = []
    for c in checks:
        said = f"{c['what']}: {c['found']}"
        if c["wanted"] != "not asked" and c["what"] != "by eye":
            said += f" (asked: {c['wanted']})"
        elif c["what"] == "by eye":
            said = f"{c['wanted']}: {c['found']}"
        if c["do"]:
            said += f". {c['do'][0].upper()}{c['do'][1:]}."
        head = f"  {_MARK[c['met']]:4}  "
        lines.append(
            textwrap.fill(
                said, wide(), initial_indent=head, subsequent_indent=" " * 8, break_on_hyphens=False
            )
        )
    return lines


def print_checks(checks: Sequence[Check]) -> None:
    """Print the points for people, and how many are not met."""
    from offbook.takes import missed

    for line in check_lines([asdict(c) for c in checks]):
        click.echo(line)
    unmet = len(missed(checks))
    click.echo(f"{plural(unmet, 'point')} not met." if unmet else "Everything that can be checked is met.")


def screen(judged: Judged) -> None:
    """Print a take for people: its points, then the line notes, then what to do next."""
    from offbook.cli.brief import CONSENT
    from offbook.cli.run_report import report
    from offbook.plan import TAKES

    logged = judged.logged
    most = logged.brief.takes if logged.brief is not None and logged.brief.takes is not None else TAKES
    against = f", for {logged.brief.name}" if logged.brief is not None else ""
    click.echo(f"{logged.piece.name}, take {logged.take.n}{against}: {logged.take.intention}")
    print_checks(judged.checks)
    click.echo("")
    report(judged.heard)
    if judged.saved is not None:
        click.echo(judged.saved.line)
    if logged.today >= most:
        click.echo(
            wrapped(
                f"That was take {logged.today} of {most} for one day: stop here, rest the voice, and choose "
                f'tomorrow with `offbook take list "{logged.piece.name}"`.'
            )
        )
    else:
        click.echo(f"Take {logged.today} of {most} for one day.")
    if judged.facts.picture is not None:
        click.echo(wrapped(CONSENT))
