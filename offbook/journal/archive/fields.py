"""The values that a row of an archive may have: names, texts, days and counts, each within its range.

The ranges follow from what the columns mean. They are a little wider than what offbook itself writes, so
that no row of a real journal is ever refused. A value that is not accepted raises ValueError with the
reason.
"""

from __future__ import annotations

import unicodedata
from datetime import date, datetime
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter

from offbook.moment import utc_from

# All set by hand. The years that a moment or a day may be in. They are far from both ends of Python's
# calendar, so that a few more days or another time zone never lead out of it.
_YEARS = range(1970, 3000)
MOST_WORDS = 200_000  # of one draft; Shakespeare's longest play has about 30,000
LONGEST_TEXT = 8_000_000  # characters of one script, note or reading
DAY_SECONDS = 86_400.0  # s: no recording, answer or sitting lasts longer
MOST = 1_000_000  # the highest number of anything that is counted


def _plain(text: str) -> str:
    if any(unicodedata.category(c) == "Cc" and c not in "\n\t" for c in text):
        raise ValueError("holds control characters")
    return text


def one_line(text: str) -> str:
    """The text itself. Raises ValueError if it is more than one line or holds control characters."""
    if any(unicodedata.category(c) in ("Cc", "Zl", "Zp") for c in text):
        raise ValueError("is more than one line, or holds control characters")
    return text


def _name(text: str) -> str:
    if text != " ".join(text.split()):
        raise ValueError("cannot be used as a name")
    return one_line(text)


def _moment(text: str) -> datetime:
    found = utc_from(text)
    if found.year not in _YEARS:
        raise ValueError(f"is in the year {found.year}")
    return found


def _day(text: str) -> date:
    found = date.fromisoformat(text)
    if found.year not in _YEARS:
        raise ValueError(f"is in the year {found.year}")
    return found


def _zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (LookupError, ValueError, OSError):
        raise ValueError("is not a time zone") from None
    return text


def _settled(text: str) -> str:
    for at in _moments.validate_json(text).values():
        _moment(at)
    return text


_moments = TypeAdapter(dict[Annotated[str, Field(pattern=r"^[a-z_]{1,40}$")], str])
Key = Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
Name = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_name)]
Text = Annotated[str, Field(max_length=LONGEST_TEXT), AfterValidator(_plain)]
Short = Annotated[str, Field(max_length=500), AfterValidator(one_line)]
Moment = Annotated[
    str,
    Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d)$"),
    AfterValidator(_moment),
]
Day = Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\d$"), AfterValidator(_day)]
Zone = Annotated[str, Field(min_length=1, max_length=64), AfterValidator(_zone)]
Count = Annotated[int, Field(ge=0, le=MOST)]
Seconds = Annotated[float, Field(ge=0, le=DAY_SECONDS, allow_inf_nan=False)]
# A time in a recording, in seconds. The recogniser may find the first word a little before the start.
At = Annotated[float, Field(ge=-10, le=DAY_SECONDS, allow_inf_nan=False)]
Confidence = Annotated[float, Field(ge=0, le=1.01, allow_inf_nan=False)]
Chance = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Settled = Annotated[str, Field(max_length=2000), AfterValidator(_settled)]  # column: moment, as JSON
Said = Literal["said", "unsure", "changed", "dropped"]


class ArchiveRow(BaseModel):
    """The base of all rows: a row has exactly these columns, and each has exactly this type."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class Part(BaseModel):
    """A part of a script. An older or newer offbook may have written other fields too; they are ignored."""

    model_config = ConfigDict(strict=True, extra="ignore", frozen=True)
