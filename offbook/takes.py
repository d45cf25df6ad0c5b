"""Takes: a recording that is meant to be sent is compared with the brief and with the text.

`facts_of` measures the file as its receiver would get it: its size, its length, its picture, its loudness and
the faults of its sound. `checks_of` compares this with the brief, the limit and what was heard of the speech.
For every point it says whether it is met, what was found, and what to do. Points that a machine cannot check
are listed for the performer to look at, and are never said to be met. `best_take` compares takes by their
checks and words, not by how they felt.
"""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from offbook.audio import (
    EARLIEST,
    LATEST,
    FilmFacts,
    Light,
    Loudness,
    Picture,
    Playing,
    SoundReport,
    film_facts_of,
    loudness_of,
    moving_picture,
    playing_of,
    survey,
)
from offbook.brief import Brief, figure, length_told
from offbook.errors import RecordingError
from offbook.intake import MEGABYTE
from offbook.notes import Review
from offbook.phrasing import PERCENT, clock_tenths
from offbook.score import accuracy_share

# EBU R 128 (2014 and later): maximum permitted true peak level -1 dBTP. From memory.
TRUE_PEAK_DBTP = -1.0
# The longest silence before the first word and after the last; common practice, no source.
LEAD_SECONDS, TAIL_SECONDS = 3.0, 4.0
# Seconds that are left at the beginning and the end after trimming; set by hand
_LEFT_BEFORE, _LEFT_AFTER = 1, 2
# The mean brightness (0 black, 1 white) below which a face is hard to see; common practice, no source.
DARK = 0.12
# The smallest share of the words for a take that can be sent: actors say so many in performance (Noice &
# Noice, Memory 7(3), 1999).
CLEAN = 0.98
_ONE_TAKE, _CUTS, _EVEN = "one unbroken take", "cuts are allowed", "even"
_PLACES = 3  # possible cuts that are listed, at most; set by hand
_ROUNDING = 0.5  # seconds by which a container's length may differ from the sound's; set by hand
_TWO_FIGURES = 10  # a smaller rate has its second figure after the decimal point
_SILENCE = -100.0  # LUFS: what the meter returns if nothing was loud enough to be counted
_KBIT = 8_000  # in a megabyte
_FOR_THE_CONTAINER = 0.95  # of the file's size is sound and picture, the rest is the container; set by hand
# 23.976, 29.97 and 59.94 pictures a second are called 24, 30 and 60: they are smaller by this factor (SMPTE
# ST 12-1, from memory). Files round them, so a little less is accepted.
_DROP_FACTOR, _RATE_ROUNDING = 1.001, 0.01


@dataclass(frozen=True, slots=True)
class RecordingFacts:
    """A recording as it would be received.

    kind: the file's ending. megabytes: of 10^6 bytes. seconds: of the sound or the picture, whichever is
    longer. picture, film: None if there is none. playing: whether everybody can play it, None if it was not
    checked.
    """

    path: Path
    kind: str
    megabytes: float
    seconds: float
    loudness: Loudness
    sound: SoundReport
    picture: Picture | None
    film: FilmFacts | None = None
    playing: Playing | None = None


@dataclass(frozen=True, slots=True)
class HeardTake:
    """What was heard in a take.

    words: of the script. accuracy, accuracy_low: the share of them that was said, with unsure words counted
    as said and as missed. missed: how many words were changed, dropped or added. slate: whether a name or
    title came first. first, last: when the script begins and ends, in seconds, None if nothing of it was
    heard.
    """

    words: int
    accuracy: float
    accuracy_low: float
    missed: int
    prompts: int
    slate: bool
    first: float | None
    last: float | None


@dataclass(frozen=True, slots=True)
class Check:
    """One point that was checked.

    met: None if only a person can tell. do: what to do if it is not met, otherwise "". asked: whether the
    receiver asks for it; False for what offbook always checks.
    """

    what: str
    wanted: str
    found: str
    met: bool | None
    do: str = ""
    asked: bool = False


# The points that offbook always checks.
_LOOKED_AT = frozenset(
    {*("sound", "true peak", "light", "words", "prompts", "beginning", "end"),
     *("one take", "even light", "in step", "in a browser")}
)  # fmt: skip
_MOVING = "a moving picture"


def asked_for(told: Mapping[str, Any]) -> bool:
    """Whether the receiver asked for a point, given its `Check` as the journal keeps it.

    Older journals do not have this field; for them it is worked out from the other fields.
    """
    if "asked" in told:
        return bool(told["asked"])
    return told["what"] not in _LOOKED_AT and told["wanted"] not in ("not asked", "any", _MOVING)


def facts_of(path: Path | str) -> RecordingFacts:
    """Measure a recording as its receiver would get it. Raises RecordingError if it cannot be read."""
    path = Path(path)
    picture = moving_picture(path)
    sound, loudness = survey(path), loudness_of(path)
    film = None if picture is None else film_facts_of(path, sound)
    playing = playing_of(path)
    try:
        size = path.stat().st_size
    except OSError as e:
        raise RecordingError(
            f"{path} disappeared while it was being measured", "put it back and try again"
        ) from e
    seconds = max(sound.seconds, picture.seconds or 0.0 if picture is not None else 0.0)
    kind = path.suffix.lower().lstrip(".")
    return RecordingFacts(path, kind, size / MEGABYTE, seconds, loudness, sound, picture, film, playing)


def spoken_of(review: Review) -> HeardTake:
    """What was heard in a take, from the review of it."""
    heard = [w for w in review.run.words if w.start is not None and w.end is not None]
    return HeardTake(
        words=len(review.run.words),
        accuracy=review.run.accuracy,
        accuracy_low=review.run.accuracy_low,
        missed=sum(w.is_wrong for w in review.run.words) + len(review.added),
        prompts=sum(a.kind == "prompt" for a in review.asides),
        slate=any(a.kind in ("slate", "title") for a in review.asides),
        first=min((w.start for w in heard if w.start is not None), default=None),
        last=max((w.end for w in heard if w.end is not None), default=None),
    )


def checks_of(
    facts: RecordingFacts,
    brief: Brief | None = None,
    limit: float | None = None,
    spoken: HeardTake | None = None,
    piece: str | None = None,
) -> tuple[Check, ...]:
    """Every point of a take: file, length, sound, picture, words, then what a person must look at.

    limit: of the piece in seconds, used if the brief has no longest length. spoken: None if the take was not
    heard. piece: its name, because the brief may have a length for it.
    """
    found = (
        _file(facts, brief)
        + _length(facts, (brief.length_of(piece) if brief is not None else (None, None)), limit, spoken)
        + _sound(facts, brief)
        + _picture(facts, brief)
        + film_checks(facts, None if brief is None else brief.unbroken)
    )
    if spoken is not None:
        found += _spoken(facts, brief, spoken)
    eye = brief.by_eye if brief is not None else ()
    return tuple(found + [Check("by eye", each, "look yourself", None, asked=True) for each in eye])


def film_checks(facts: RecordingFacts, unbroken: bool | None = None) -> list[Check]:
    """The points of a film: whether it is one take, its light, sound and picture together, who can play it.

    unbroken: True if one take is asked for, False if cuts are allowed, None if the brief does not say.
    """
    found = [] if facts.film is None else [_unbroken(facts.film, unbroken), *_light(facts.film.light)]
    if facts.film is not None and facts.film.sound_late is not None:
        found.append(_step(facts))
    return found if facts.playing is None else found + _playing(facts, facts.playing)


def _unbroken(film: FilmFacts, wanted: bool | None) -> Check:
    asked = wanted is not None
    if not film.joins:
        seen = "no jump seen" if film.whole else "no jump seen in the part that was watched"
        return Check("one take", _CUTS if wanted is False else _ONE_TAKE, seen, True, asked=asked)
    likely = [j for j in film.joins if j.likelihood == "likely"]
    places = "; ".join(f"at {clock_tenths(j.at)} {j.why}" for j in (likely or film.joins)[:_PLACES])
    more = f" and {len(film.joins) - _PLACES} places more" if len(film.joins) > _PLACES else ""
    sure = "likely not" if likely else "possibly not"
    found = f"{sure}: {places}{more}"
    if wanted is False:
        return Check("one take", _CUTS, found, True, asked=True)
    do = "look there; film it in one go if it is cut"
    return Check("one take", _ONE_TAKE, found, None, do, asked)


def _light(light: Light) -> list[Check]:
    if light.flicker is not None:
        do = "switch off the lamp that flickers, or set the camera's shutter to the mains"
        return [Check("even light", _EVEN, f"flickering {light.flicker:.0f} times a second", False, do)]
    if light.is_blown_out:
        found = f"blown out: {light.blown:.0%} is white"
        return [
            Check("even light", _EVEN, found, False, "turn away from the window, or set the exposure lower")
        ]
    if light.is_patchy:
        found = f"patchy: the {light.darker} half is {light.stops:.1f} stops darker"
        return [Check("even light", _EVEN, found, None, "look whether the face is half in the dark")]
    return [Check("even light", _EVEN, "even", True)]


def _step(facts: RecordingFacts) -> Check:
    late = 0.0 if facts.film is None or facts.film.sound_late is None else facts.film.sound_late
    wanted = "sound and picture together"
    if EARLIEST <= late <= LATEST:
        return Check("in step", wanted, "together, as far as one can tell", True)
    found = f"the sound comes {abs(late):.1f} s {'late' if late > 0 else 'early'}, as far as one can tell"
    new = facts.path.with_stem(f"{facts.path.stem}_new").name
    do = (
        f"look yourself; this would put it right: ffmpeg -i {_typed(facts.path.name)} -itsoffset {-late:.2f} "
        f"-i {_typed(facts.path.name)} -map 0:v -map 1:a -c copy {_typed(new)}"
    )
    return Check("in step", wanted, found, None, do)


def _playing(facts: RecordingFacts, playing: Playing) -> list[Check]:
    name, new = _typed(facts.path.name), _typed(f"{facts.path.stem}_new.mp4")
    if playing.lacks is not None:
        coded = "-c:v libx264 -pix_fmt yuv420p " if facts.picture is not None else "-vn "
        do = f"ask whether they take it, or: ffmpeg -i {name} {coded}-c:a aac -movflags +faststart {new}"
        return [Check("in a browser", "plays in any", f"not everywhere: {playing.lacks}", None, do)]
    if playing.header_first is False:
        helps = f"ffmpeg -i {name} -c copy -movflags +faststart {new}"
        do = f"it plays only when all of it has arrived; this corrects it: {helps}"
        return [Check("in a browser", "plays in any, at once", "its header is at the end", None, do)]
    return [Check("in a browser", "plays in any", "yes", True)]


def _typed(name: str) -> str:
    """A file's name as it is typed on a command line."""
    return shlex.quote(name if not name.startswith("-") else f"./{name}")


def unmet_checks(checks: Sequence[Check]) -> list[Check]:
    """The points that are not met."""
    return [c for c in checks if c.met is False]


def _point(what: str, wanted: str, found: str, met: bool, do: str, asked: bool = False) -> Check:
    """A point that a machine can check. do: what to do if it is not met."""
    return Check(what, wanted, found, met, "" if met else do, asked)


def _file(facts: RecordingFacts, brief: Brief | None) -> list[Check]:
    out: list[Check] = []
    if brief is not None and brief.kinds:
        wanted = " or ".join(brief.kinds)
        same = {"jpeg": "jpg", "m4v": "mp4", "qt": "mov"}
        met = same.get(facts.kind, facts.kind) in {same.get(k, k) for k in brief.kinds}
        out.append(_point("file", wanted, facts.kind or "no ending", met, f"export it as {wanted}", True))
    if brief is not None and brief.megabytes is not None:
        wanted = f"at most {figure(brief.megabytes)} MB"
        rate = _KBIT * brief.megabytes / max(1.0, facts.seconds) * _FOR_THE_CONTAINER
        do = f"export it again at {_two_figures(rate)} kbit/s or less, picture and sound together"
        met = facts.megabytes <= brief.megabytes
        out.append(_point("size", wanted, f"{facts.megabytes:.1f} MB", met, do, True))
    return out


def _two_figures(value: float) -> str:
    """A rate, rounded down to two figures so that the exported file does not get too large."""
    if value < _TWO_FIGURES:
        return f"{value:.1f}"
    figures = str(int(value))
    return figures[:2] + "0" * (len(figures) - 2)


def _length(
    facts: RecordingFacts,
    asked: tuple[float | None, float | None],
    limit: float | None,
    spoken: HeardTake | None,
) -> list[Check]:
    """Whether the length is right: as the brief asks (`asked`), and otherwise within the piece's limit."""
    shortest, longest = asked[0], asked[1] if asked[1] is not None else limit
    by_brief = asked != (None, None)
    found = clock_tenths(facts.seconds)
    if shortest is None and longest is None:
        return [Check("length", "not asked", found, True)]
    wanted = length_told(shortest, longest)
    if longest is not None and facts.seconds > longest + _ROUNDING:
        do = _shorter(facts.seconds, longest, spoken)
        return [Check("length", wanted, found, False, do, by_brief)]
    if shortest is not None and facts.seconds < shortest - _ROUNDING:
        do = f"{shortest - facts.seconds:.1f} s short: take a longer piece"
        return [Check("length", wanted, found, False, do, by_brief)]
    return [Check("length", wanted, found, True, asked=by_brief)]


def _shorter(seconds: float, longest: float, spoken: HeardTake | None) -> str:
    """What to do about a recording that is too long: trim it, or cut the speech if that alone is too long."""
    over = f"{seconds - longest:.1f} s over: "
    if spoken is None or spoken.first is None or spoken.last is None:
        return over + "trim the ends, or `offbook fit` the speech"
    alone = spoken.last - spoken.first
    if alone <= longest:
        return over + f"trim the ends, the speech alone takes {clock_tenths(alone)}"
    return over + f"the speech alone takes {clock_tenths(alone)}; `offbook fit` proposes cuts"


def _sound(facts: RecordingFacts, brief: Brief | None) -> list[Check]:
    line, loud = facts.sound.line, facts.loudness
    out = [
        _point("sound", "clear enough to judge", line or "clear", line is None, _BETTER),
        _point(
            "true peak",
            f"at most {TRUE_PEAK_DBTP:g} dBTP",
            f"{loud.true_peak:.1f} dBTP",
            loud.true_peak <= TRUE_PEAK_DBTP,
            "set the recorder lower, or export it a little softer: players may distort it",
        ),
    ]
    silent = loud.integrated <= _SILENCE
    level = "silence" if silent else f"{loud.integrated:.1f} LUFS"
    if brief is None or brief.lufs is None:
        return [*out, Check("loudness", "not asked", level, True)]
    low, high = brief.lufs
    change = (low if loud.integrated < low else high) - loud.integrated
    do = f"make it {abs(change):.1f} dB {'louder' if change > 0 else 'softer'} on export"
    met = low <= loud.integrated <= high
    return [
        *out,
        _point("loudness", f"{low:g} to {high:g} LUFS", level, met, _BETTER if silent else do, True),
    ]


_BETTER = "record it again, nearer to the microphone, in a quieter and softer room"


def _picture(facts: RecordingFacts, brief: Brief | None) -> list[Check]:
    picture, wanted = facts.picture, brief.picture if brief is not None else None
    if picture is None:
        if wanted in (None, "none"):
            return (
                [] if wanted is None else [Check("picture", "sound alone", "sound alone", True, asked=True)]
            )
        return [Check("picture", str(wanted), "sound alone", False, "film it: a picture is asked for", True)]
    size = f"{picture.width} × {picture.height}"
    if wanted == "none":
        return [Check("picture", "sound alone", size, False, "export the sound alone", True)]
    shape = "portrait" if picture.upright else "landscape"
    asked = wanted if wanted is not None and wanted != "either" else "any"
    met = asked in ("any", shape)
    do = "turn the camera and film it again"
    out = [_point("picture", asked, f"{shape}, {size}", met, do, wanted is not None)]
    short = min(picture.width, picture.height)
    if brief is not None and brief.lines is not None:
        do = "film it at a higher resolution; making it larger afterwards does not help"
        found = f"{short} pixels"
        out.append(
            _point("sharpness", f"at least {brief.lines} pixels", found, short >= brief.lines, do, True)
        )
    if brief is not None and brief.frames is not None:
        out.append(_motion(picture, brief.frames))
    bright = f"{round(PERCENT * picture.brightness)} % bright"
    do = "put a lamp or a window in front of you"
    out.append(_point("light", "a face can be seen", bright, picture.brightness >= DARK, do))
    if picture.still:
        do = "check the camera; film it again"
        out.append(Check("motion", _MOVING, "one still picture", False, do))
    return out


def _motion(picture: Picture, least: float) -> Check:
    wanted = f"at least {least:g} a second"
    if picture.frames_a_second is None:
        return Check("motion", wanted, "the file does not say", None, asked=True)
    met = picture.frames_a_second >= least / _DROP_FACTOR - _RATE_ROUNDING
    do = "set the camera to more pictures a second"
    return _point("motion", wanted, f"{picture.frames_a_second:.4g} a second", met, do, True)


def _spoken(facts: RecordingFacts, brief: Brief | None, spoken: HeardTake) -> list[Check]:
    words = f"{accuracy_share(spoken.accuracy)} of {spoken.words}"
    do = "see its notes, drill the words that went wrong, and record it again"
    out = [_point("words", f"at least {round(PERCENT * CLEAN)} %", words, spoken.accuracy >= CLEAN, do)]
    if spoken.prompts:
        out.append(Check("prompts", "none", str(spoken.prompts), False, "take it again without the book"))
    if brief is not None and brief.slate is not None:
        out.append(_slate(brief.slate, spoken))
    if spoken.first is None or spoken.last is None:
        return out
    lead, tail = spoken.first, facts.seconds - spoken.last
    if not spoken.slate:
        wanted = f"speech within {LEAD_SECONDS:g} s"
        do = f"trim about {lead - _LEFT_BEFORE:.0f} s from the beginning"
        out.append(_point("beginning", wanted, f"after {lead:.1f} s", lead <= LEAD_SECONDS, do))
    wanted = f"at most {TAIL_SECONDS:g} s after the last word"
    do = f"trim about {tail - _LEFT_AFTER:.0f} s from the end"
    out.append(_point("end", wanted, f"{tail:.1f} s", tail <= TAIL_SECONDS, do))
    return out


def _slate(wanted: bool, spoken: HeardTake) -> Check:
    told = "a name or title is said first" if spoken.slate else "none heard"
    if not wanted:
        return _point("slate", "not wanted", told, not spoken.slate, "trim the beginning", True)
    if spoken.slate:
        return Check("slate", "wanted", told, True, asked=True)
    do = "say your name and the piece first, or listen yourself whether it is there"
    return Check("slate", "wanted", told, None, do, True)


@dataclass(frozen=True, slots=True)
class TakeStanding:
    """One take, to be compared with others.

    n: its number. unmet: how many points are not met, without the words. wrong: how many words were changed,
    dropped or added. prompts: how many were given. None for what was not judged.
    """

    n: int
    unmet: int
    wrong: int | None
    prompts: int | None


def best_take(takes: Sequence[TakeStanding]) -> TakeStanding | None:
    """The take with the fewest points that are not met. None if no take was judged.

    Among equal ones, the one with fewer prompts, then with fewer wrong words, then the latest.
    """
    judged = [t for t in takes if t.wrong is not None]
    return min(judged, key=lambda t: (t.unmet, t.prompts or 0, t.wrong or 0, -t.n), default=None)
