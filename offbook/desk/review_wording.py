"""A review in sentences, the same on the command line and on the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from offbook.markup import BARS
from offbook.phrasing import clock_time
from offbook.words import as_written, between_words

if TYPE_CHECKING:
    from offbook.delivery import Audible, ShiftStatement, StretchFinding, TakeReview
    from offbook.desk.delivery_review import ReviewedTake
    from offbook.desk.listening import Heard
    from offbook.desk.margins import PlacedNote

GRADE_NAMES = {1: "phrase", 2: "thought", 3: "turn"}
UNITS_EXPLAINED = (
    "A semitone is one key on a piano. 1 LU is about the least change of loudness that a listener notices."
)
_QUOTED = 7  # words of a thought that are quoted; set by hand, so that they fit on one row


def speech_name(heard: Heard) -> str:
    """What to call the speech: its title, and the part where there is one."""
    title = heard.script.title.replace("_", " ").strip() or heard.script.source
    title = title[:1].upper() + title[1:]  # it is often the name of the file, in small letters
    return f"{title} ({heard.script.part})" if heard.script.part else title


def review_headline(reviewed: ReviewedTake) -> str:
    """Length, words lost, and how many shifts of thought can be heard, in two sentences."""
    d, run = reviewed.delivery, reviewed.heard.review.run
    lost = sum(w.is_wrong for w in run.words)
    name = speech_name(reviewed.heard) + (f", take {reviewed.take}" if reviewed.take is not None else "")
    return (
        f"{name}: {clock_time(run.seconds)}, {lost} word{'s' * (lost != 1)} lost or changed. "
        f"{shifts_in_words(d)}"
    )


# What is said of some of the shifts, and of all of them where there are several.
_AUDIBLE: tuple[tuple[Audible, str, str], ...] = (
    ("heard", "can be heard", "All {} shifts of thought can be heard."),
    ("slight", "can be heard slightly", "All {} shifts of thought can be heard slightly."),
    ("not heard", "cannot be heard", "None of the {} shifts of thought can be heard."),
    ("not measured", "could not be measured", "None of the {} shifts of thought could be measured."),
)


def shifts_in_words(delivery: TakeReview) -> str:
    """How many of the marked shifts of thought can be heard, in a sentence."""
    shifts = sum(s.grade > 1 for s in delivery.shifts)
    told = [(n, some, every) for audible, some, every in _AUDIBLE if (n := delivery.count(audible))]
    if not told:
        return "The text has no marked shift of thought."
    if len(told) == 1:
        [(_, some, every)] = told
        told_of_all = f"The one shift of thought {some}." if shifts == 1 else every.format(shifts)
        return told_of_all.replace("All 2 ", "Both ").replace("None of the 2 ", "Neither of the two ")
    *first, last = [f"{n} {some}" for n, some, _ in told]
    return f"Of {shifts} shifts of thought, {', '.join(first)} and {last}."


def margin_note_in_words(p: PlacedNote) -> str:
    """A coach's note as it is shown."""
    return f"{p.where or 'a line that was cut'}, {p.note.author}: {p.note.text}"


def written_opening(reviewed: ReviewedTake, first: int, last: int | None = None) -> str:
    """The first words of a stretch as they are in the script, up to the next shift of thought."""
    words = reviewed.heard.words
    ends = [first + _QUOTED - 1, len(words) - 1 if last is None else last]
    ends += [s.before_word - 1 for s in reviewed.delivery.shifts if s.grade > 1 and s.before_word > first][:1]
    return as_written(reviewed.heard.script, words, first, min(ends))


def place_in_words(reviewed: ReviewedTake, p: ShiftStatement | StretchFinding) -> str:
    """A place that is worth a listen, in a sentence."""
    from offbook.delivery import ShiftStatement

    if isinstance(p, ShiftStatement):
        why = reviewed.reason(p.before_word)
        said = f"the {GRADE_NAMES[p.grade]} before “{written_opening(reviewed, p.before_word)}”: {p.told}."
        return said + (f" The script shifts here: {why}." if why else "")
    return f"{p.kind}: “{written_opening(reviewed, p.first, p.last)}”, {p.told}."


def other_findings(reviewed: ReviewedTake) -> tuple[StretchFinding, ...]:
    """What stands out over a stretch and is not already among the places worth a listen."""
    return tuple(f for f in reviewed.delivery.findings if f not in reviewed.delivery.worth_a_look)


@dataclass(frozen=True, slots=True)
class ReviewedStretch:
    """A thought of the speech, with what can be heard where it begins.

    first, last: its script words; bars: the mark of the shift before it, empty at the beginning of the
    speech; at: seconds into the recording, None where the shift was not measured; told: the evidence in
    words; notes: those in the margin beside it.
    """

    first: int
    last: int
    text: str
    bars: str
    at: float | None
    told: str
    notes: tuple[PlacedNote, ...]

    def words_apart(self, reviewed: ReviewedTake) -> list[tuple[str, str, float | None]]:
        """Each word, the text after it, and where it begins in the recording (s), None if it was not said."""
        heard = reviewed.heard
        between = between_words(heard.script, heard.words, self.first, self.last)
        starts = {w.i: w.start for w in reviewed.spoken}
        told = [
            (w.text, after, starts.get(w.i))
            for w, after in zip(heard.words[self.first : self.last + 1], between[1:], strict=True)
        ]
        text, after, at = told[0]
        return [(between[0].lstrip() + text, after, at), *told[1:]]


def reviewed_stretches(reviewed: ReviewedTake) -> tuple[ReviewedStretch, ...]:
    """The speech thought by thought."""
    words, script = reviewed.heard.words, reviewed.heard.script
    shifts = [s for s in reviewed.delivery.shifts if s.grade > 1]
    starts = [0, *(s.before_word for s in shifts)]
    ends = [*(s - 1 for s in starts[1:]), len(words) - 1]
    return tuple(
        ReviewedStretch(
            a,
            b,
            as_written(script, words, a, b),
            "" if s is None else BARS[s.grade],
            None if s is None or not was_measured(s) else s.at,
            "" if s is None else s.told,
            tuple(p for p in reviewed.margin if p.word is not None and a <= p.word <= b),
        )
        for a, b, s in zip(starts, ends, [None, *shifts], strict=True)
        if b >= a
    )


def was_measured(s: ShiftStatement) -> bool:
    """Whether there is a place in the recording where the shift was looked for."""
    return s.audible != "not measured" or s.at > 0.0
