"""The brief: what a school, a festival or a casting asks for, in a form that can be checked.

A brief is a small TOML file (the TOML 1.0 standard) beside the scripts: by when, which pieces, how long each
and all together, one take or cuts, what kind of file, what of the picture and the sound, and what only a
person can look at. What it does not say is unknown, and shown as that. `points` reads it, `wording` tells it
to people and writes it, `message` finds its points in what somebody wrote, and `shared` finds the one
recording that serves several briefs.
"""

from __future__ import annotations

from offbook.brief.message import (
    Asked,
    asked_in,
    read_message,
)
from offbook.brief.points import (
    FILE_NAME,
    KEYS,
    PICTURES,
    Brief,
    BriefError,
    Limit,
    Picture,
    figure,
    load_brief,
    parse_brief,
    raw_of,
    read_raw,
    same_name,
)
from offbook.brief.shared import (
    SharedRecording,
    clashes,
    recordings_of,
    separate_files,
)
from offbook.brief.wording import (
    as_toml,
    blank_brief,
    brief_in_words,
    late,
    length_told,
    line,
    unsaid,
    until,
    with_lines,
    written,
)

__all__ = [
    "FILE_NAME",
    "KEYS",
    "PICTURES",
    "Asked",
    "Brief",
    "BriefError",
    "Limit",
    "Picture",
    "SharedRecording",
    "as_toml",
    "asked_in",
    "blank_brief",
    "brief_in_words",
    "clashes",
    "figure",
    "late",
    "length_told",
    "line",
    "load_brief",
    "parse_brief",
    "raw_of",
    "read_message",
    "read_raw",
    "recordings_of",
    "same_name",
    "separate_files",
    "unsaid",
    "until",
    "with_lines",
    "written",
]
