"""What a row of an archive must look like before it comes into the journal.

An archive may come from a stranger. Every row is checked against a schema with types, ranges and lengths
(pydantic in strict mode, directly from the JSON). Texts inside a row that are JSON have schemas of their
own. The module `fields` has the ranges of single values; `references` checks what rows say about each
other.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    ConfigDict,
    Field,
    TypeAdapter,
    ValidationError,
    model_validator,
)

from offbook.journal.archive.fields import (
    DAY_SECONDS,
    LONGEST_TEXT,
    MOST,
    MOST_WORDS,
    ArchiveRow,
    At,
    Chance,
    Confidence,
    Count,
    Day,
    Key,
    Moment,
    Name,
    Part,
    Said,
    Seconds,
    Settled,
    Short,
    Text,
    Zone,
    one_line,
)
from offbook.journal.packing import pack_verdicts
from offbook.score import WordVerdict

_LONGEST_FIELD = 30  # characters of a field's name that a message repeats; ours are shorter. Set by hand
_LONGEST_REASON = 120  # characters of pydantic's message that are shown; set by hand, about a line and a half


class Misfit(ValueError):
    """A row cannot come into its table; the text says why, in a few words."""


class _Line(Part):
    n: Count
    start: Count
    end: Count
    text: Text
    paragraph: Count
    speaker: Text | None = None
    verse: bool = False


class _LeftOut(Part):
    start: Annotated[int, Field(ge=0, le=LONGEST_TEXT)]
    end: Annotated[int, Field(ge=0, le=LONGEST_TEXT)]
    text: Text
    reason: Text


class _Cue(Part):
    start: Annotated[int, Field(ge=0, le=LONGEST_TEXT)]
    end: Annotated[int, Field(ge=0, le=LONGEST_TEXT)]
    text: Text
    speaker: Text
    before_line: Count | None


class _Script(Part):
    title: Text
    source: Annotated[str, Field(max_length=LONGEST_TEXT)]
    text: Annotated[str, Field(max_length=LONGEST_TEXT)]
    form: Literal["verse", "prose", "mixed"]
    lines: Annotated[list[_Line], Field(min_length=1, max_length=MOST_WORDS)]
    left_out: Annotated[list[_LeftOut], Field(max_length=MOST_WORDS)]
    cues: Annotated[list[_Cue], Field(max_length=MOST_WORDS)]
    parts: Annotated[list[Text], Field(max_length=MOST_WORDS, default_factory=list)]
    part: Text | None = None


_Ways = Annotated[
    list[Annotated[list[Annotated[str, Field(max_length=500)]], Field(min_length=1, max_length=500)]],
    Field(min_length=1, max_length=500),
]
_Word = tuple[Annotated[str, Field(min_length=1, max_length=500)], Count, Count, Count, Count, _Ways]
_Unit = tuple[Count, Count, Count, Count, Text, Count | None]
_Extra = tuple[Count, Short, At, At, Confidence]
_STRICT = ConfigDict(strict=True)


class _Circumstances(ArchiveRow):
    prompts: list[tuple[Count, Count, Text, At, bool]]
    pick_ups: list[tuple[Text, Count, Seconds]]
    reasons: list[tuple[Count, Short, Said, Text]]

    @property
    def furthest(self) -> int:
        """The highest number of a script word that is mentioned."""
        named = [last for _, last, *_ in self.prompts]
        named += [word for _, word, _ in self.pick_ups] + [word for word, *_ in self.reasons]
        return max(named, default=0)


_script = TypeAdapter(_Script)
_words = TypeAdapter(Annotated[list[_Word], Field(min_length=1, max_length=MOST_WORDS)], config=_STRICT)
_slots = TypeAdapter(Annotated[list[Count], Field(max_length=MOST_WORDS)], config=_STRICT)
_units = TypeAdapter(Annotated[list[_Unit], Field(min_length=1, max_length=MOST_WORDS)], config=_STRICT)
_extras = TypeAdapter(Annotated[list[_Extra], Field(max_length=MOST_WORDS)], config=_STRICT)


class _Point(Part):
    what: Text
    wanted: Text
    found: Text
    met: bool | None
    do: Text


class _Checks(Part):
    seconds: Seconds
    checks: Annotated[list[_Point], Field(max_length=1000)]


_checks = TypeAdapter(_Checks)


class _PackedFile(Part):
    piece: Text
    take: Count
    name: Short
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    bytes: Annotated[int, Field(ge=0, le=1 << 44)]


_packed = TypeAdapter(Annotated[list[_PackedFile], Field(max_length=1000)])


class PerformerIn(ArchiveRow):
    """A row of `performer`."""

    id: Key
    name: Name
    zone: Zone
    minutes_a_day: Annotated[float, Field(gt=0, le=1440, allow_inf_nan=False)]
    voice_minutes: Annotated[float, Field(gt=0, le=1440, allow_inf_nan=False)]
    added_at: Moment
    settled: Settled | None = None


class PieceIn(ArchiveRow):
    """A row of `piece`."""

    id: Key
    performer_id: Key
    name: Name
    part: Annotated[str, Field(max_length=200), AfterValidator(one_line)] | None = None
    limit_seconds: Annotated[float, Field(gt=0, le=1e7, allow_inf_nan=False)] | None = None
    due_day: Day | None = None
    keep_recordings: bool
    added_at: Moment
    settled: Settled | None = None


class VersionIn(ArchiveRow):
    """A row of `version`. The JSON texts in it are read too, and compared with each other."""

    id: Key
    piece_id: Key
    n: Annotated[int, Field(ge=1, le=MOST)]
    made_at: Moment
    script: Annotated[str, Field(max_length=4 * LONGEST_TEXT)]
    words: Annotated[str, Field(max_length=4 * LONGEST_TEXT)]
    slots: Annotated[str, Field(max_length=LONGEST_TEXT)]
    units: Annotated[str, Field(max_length=LONGEST_TEXT)]

    @model_validator(mode="after")
    def _hangs_together(self) -> VersionIn:
        script = _script.validate_json(self.script)
        words, slots = _words.validate_json(self.words), _slots.validate_json(self.slots)
        units = _units.validate_json(self.units)
        size, lines = len(script.text), {line.n for line in script.lines}
        spans = [(start, end) for _, start, end, *_ in words]
        spans += [(x.start, x.end) for part in (script.lines, script.left_out, script.cues) for x in part]
        if (
            any(not start <= end <= size for start, end in spans)
            or not {line for _, _, _, line, *_ in words} <= lines
        ):
            raise ValueError("its words are not in its script")
        if len(slots) != len(words) or len({*slots}) != len(slots):
            raise ValueError("it does not have one slot for each word")
        if len({key for _, key, *_ in units}) != len(units) or [n for n, *_ in units] != [*range(len(units))]:
            raise ValueError("its thoughts are not numbered one after another")
        if any(not first <= last < len(words) for _, _, first, last, *_ in units):
            raise ValueError("its thoughts reach beyond its words")
        return self


class RecordingIn(ArchiveRow):
    """A row of `recording`.

    Only the suffix of `path` is used; the journal decides where the recording goes.
    """

    id: Key
    piece_id: Key
    at: Moment
    day: Day
    zone: Zone
    path: Annotated[str, Field(pattern=r"^[0-9a-zA-Z_-]{1,64}/[0-9a-zA-Z_-]{1,64}(\.[^/\\]{0,100})?$")]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    bytes: Annotated[int, Field(ge=0, le=1 << 44)]


class _Verdict(ArchiveRow):
    i: Count
    text: Annotated[str, Field(max_length=500)]
    verdict: Said
    heard: Short | None
    start: At | None
    end: At | None
    confidence: Confidence | None


class RunIn(ArchiveRow):
    """A row of `run`, word by word."""

    id: Key
    piece_id: Key
    version_id: Key
    recording_id: Key | None = None
    at: Moment
    day: Day
    zone: Zone
    model: Annotated[str, Field(max_length=200), AfterValidator(one_line)] | None = None
    seconds: Seconds
    speaking_seconds: Seconds
    words: Count
    said: Count
    unsure: Count
    changed: Count
    dropped: Count
    added: Count
    prompts: Count
    verdicts: Annotated[list[_Verdict], Field(max_length=MOST_WORDS)]
    extras: Annotated[str, Field(max_length=LONGEST_TEXT)]
    ratings: Annotated[str, Field(max_length=MOST_WORDS, pattern=r"^[0-4]*$")]
    predicted: Annotated[str, Field(max_length=2 * MOST_WORDS, pattern=r"^([0-9]{2}|--)*$")]
    told: Annotated[str, Field(max_length=LONGEST_TEXT)] | None = None

    @model_validator(mode="after")
    def _adds_up(self) -> RunIn:
        if self.words != len(self.verdicts) or [v.i for v in self.verdicts] != list(range(self.words)):
            raise ValueError("its words are not numbered one after another")
        if self.said + self.unsure + self.changed + self.dropped != self.words:
            raise ValueError("its counts do not add up to its words")
        if len(self.predicted) != 2 * len(self.ratings):
            raise ValueError("its predictions do not fit its ratings")
        if any(e[0] > self.words for e in _extras.validate_json(self.extras)):
            raise ValueError("a word that was added is beyond its end")
        if self.told is not None and _Circumstances.model_validate_json(self.told).furthest >= self.words:
            raise ValueError("a word that is named is beyond its end")
        return self


class CorrectionIn(ArchiveRow):
    """A row of `correction`."""

    id: Key
    run_id: Key
    word: Count
    at: Moment
    was: Said
    now: Said
    note: Text


class SessionIn(ArchiveRow):
    """A row of `session`."""

    id: Key
    piece_id: Key
    at: Moment
    day: Day
    zone: Zone
    minutes: Annotated[float, Field(ge=0, le=1440, allow_inf_nan=False)]
    ended_at: Moment | None = None


class AnswerIn(ArchiveRow):
    """A row of `answer`."""

    id: Key
    piece_id: Key
    version_id: Key
    session_id: Key
    at: Moment
    day: Day
    zone: Zone
    kind: Annotated[str, Field(pattern=r"^[a-z][a-z_ -]{0,15}$")]
    unit: Count
    help: Annotated[int, Field(ge=0, le=9)]
    first: Count
    last: Count
    given: Text | None = None
    right: Count
    words: Count
    seconds: Seconds
    pick_up: Seconds | None = None
    spoken: bool
    rating: Annotated[int, Field(ge=0, le=4)]
    predicted: Chance | None = None

    @model_validator(mode="after")
    def _adds_up(self) -> AnswerIn:
        if self.first > self.last or self.right > self.words:
            raise ValueError("it ends before it begins, or has more right words than words")
        return self


class MemoryIn(ArchiveRow):
    """A row of `memory`. state: 1 learning, 2 review, 3 relearning, as FSRS counts them."""

    piece_id: Key
    unit: Count
    state: Annotated[int, Field(ge=1, le=3)]
    step: Annotated[int, Field(ge=0, le=100)] | None = None
    stability: Annotated[float, Field(gt=0, le=1e6, allow_inf_nan=False)] | None = None
    difficulty: Annotated[float, Field(ge=1, le=10, allow_inf_nan=False)] | None = None
    due: Moment
    last_review: Moment | None = None
    times: Count
    lapses: Count
    help: Annotated[int, Field(ge=0, le=9)]


class ReadingIn(ArchiveRow):
    """A row of `reading`."""

    id: Key
    performer_id: Key
    at: Moment
    day: Day
    zone: Zone
    title: Annotated[str, Field(max_length=200), AfterValidator(one_line)]
    text: Annotated[Text, Field(min_length=1)]
    seconds: Annotated[float, Field(gt=0, le=DAY_SECONDS, allow_inf_nan=False)]


class BriefIn(ArchiveRow):
    """A row of `brief`. Its text is checked with `FitsBrief`."""

    id: Key
    performer_id: Key
    name: Name
    text: Annotated[str, Field(max_length=1_000_000)]
    deadline: Moment
    added_at: Moment
    sent_at: Moment | None = None
    settled: Settled | None = None
    file: Annotated[str, Field(max_length=400)] | None = None


class TakeIn(ArchiveRow):
    """A row of `take`."""

    id: Key
    piece_id: Key
    recording_id: Key | None = None
    run_id: Key | None = None
    brief_id: Key | None = None
    at: Moment
    day: Day
    zone: Zone
    n: Annotated[int, Field(ge=1, le=MOST)]
    intention: Text
    file: Annotated[str, Field(max_length=5000)]
    checks: Annotated[str, Field(max_length=LONGEST_TEXT)] | None = None
    chosen: bool
    settled: Settled | None = None

    @model_validator(mode="after")
    def _was_checked(self) -> TakeIn:
        if self.checks is not None:
            _checks.validate_json(self.checks)
        return self


class MarginNoteIn(ArchiveRow):
    """A row of `margin_note`."""

    id: Key
    piece_id: Key
    at: Moment
    day: Day
    zone: Zone
    n: Annotated[int, Field(ge=1, le=MOST)]
    slot: Count
    quote: Text
    take: Annotated[int, Field(ge=1, le=MOST)] | None = None
    author: Name
    text: Annotated[Text, Field(min_length=1)]
    done_at: Moment | None = None
    settled: Settled | None = None


class ParcelIn(ArchiveRow):
    """A row of `parcel`. Its folder is only shown, never opened."""

    id: Key
    brief_id: Key
    at: Moment
    day: Day
    zone: Zone
    folder: Annotated[str, Field(max_length=5000), AfterValidator(one_line)]
    files: Annotated[str, Field(max_length=LONGEST_TEXT)]
    sent_at: Moment | None = None
    sent_to: Short
    confirm_by: Day | None = None
    confirmed_at: Moment | None = None
    confirmation: Text
    settled: Settled | None = None

    @model_validator(mode="after")
    def _was_packed(self) -> ParcelIn:
        _packed.validate_json(self.files)
        return self


ROWS: Mapping[str, type[ArchiveRow]] = {
    "performer": PerformerIn,
    "piece": PieceIn,
    "version": VersionIn,
    "recording": RecordingIn,
    "run": RunIn,
    "correction": CorrectionIn,
    "session": SessionIn,
    "answer": AnswerIn,
    "memory": MemoryIn,
    "reading": ReadingIn,
    "brief": BriefIn,
    "take": TakeIn,
    "margin_note": MarginNoteIn,
    "parcel": ParcelIn,
}


def row_of(table: str, line: bytes) -> dict[str, Any]:
    """The columns of a row of `table`, from its line of JSON. The verdicts of a run-through are packed.

    Raises Misfit with the reason. A row's `day` may be one day before or after that of its moment in UTC,
    because time zones are up to 14 hours from UTC.
    """
    try:
        found: dict[str, Any] = dict(ROWS[table].model_validate_json(line))
    except (ValidationError, RecursionError) as e:
        raise Misfit(_why(e)) from e
    if "day" in found and abs((found["day"] - found["at"].date()).days) > 1:
        raise Misfit("day: is not the local day of its moment")
    if table == "run":
        words = [WordVerdict(**dict(v)) for v in found.pop("verdicts")]
        found["letters"], found["heard"], found["times"] = pack_verdicts(words)
        found["texts"] = [w.text for w in words]
    return found


def _why(e: ValidationError | RecursionError) -> str:
    """The first thing that is wrong, in a few words, without repeating any value from the archive."""
    if isinstance(e, RecursionError):
        return "it is nested too deeply"
    first = e.errors(include_url=False, include_context=False, include_input=False)[0]
    place = next((str(x) for x in first["loc"] if isinstance(x, str)), "")
    told = first["msg"].removeprefix("Value error, ").splitlines()[0][:_LONGEST_REASON]
    known = place.isidentifier() and len(place) <= _LONGEST_FIELD
    return f"{place}: {told}" if known else told
