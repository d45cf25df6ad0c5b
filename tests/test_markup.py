"""The marked script as people and programs see it."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from offbook import pencil
from offbook.markup import MarkedScript
from offbook.markup import marked as markup
from offbook.markup import marked_json as markup_json
from offbook.markup import marked_page as markup_page
from offbook.markup import print_sheet as markup_sheet
from offbook.markup.blocks import block_notes, marked_blocks
from offbook.markup.cells import cells
from offbook.script import reading as script
from offbook.timing import estimate as timing
from offbook.words import entries as words

# Shakespeare, sonnet 73 (1609, public domain), its first quatrain.
VERSE = """That time of year thou mayst in me behold
When yellow leaves, or none, or few, do hang
Upon those boughs which shake against the cold,
Bare ruin'd choirs, where late the sweet birds sang.
"""
PROSE = """We kept the all-night lamp—my brother and I—for the boats. "Who steers by it?" I asked \
(I was six then).
Nobody in the family had ever asked him that before, and for a moment the whole place was quiet.

But he only laughed; he trimmed the wick, and he went up the stair again. I heard the door of the lamp \
room, and then the clockwork, and then nothing but the sea until it was light."""
SCENE = """HALE: I kept the light for him.

PERRY: And did he ever come, that man of yours, in all those winters?

HALE: He did not come. (She turns to the window.) I went on all the same.
"""


def marked(text: str, own: str = "", part: str | None = None) -> MarkedScript:
    s = script.parse_script(text, title="lamp", part=part)
    w = words.words_of(s)
    return markup.mark(s, w, pencil.read_pencil(own, w))


def shown(m: MarkedScript, width: int) -> list[str]:
    return ["".join(p.text for p in row).rstrip() for row in markup_page.marked_rows(m, width)]


def word(m: MarkedScript, text: str) -> int:
    return next(w.i for w in m.words if w.text == text)


def test_the_performers_marks_replace_computed_ones() -> None:
    m = marked(
        PROSE,
        "up the | stair again\nfor the boats + Who steers\nBut he ||| only laughed\n    I nearly smile\n",
    )
    by_word = {s.before_word: s for s in m.shifts}
    assert word(m, "Who") not in by_word
    assert by_word[word(m, "stair")].source == "performer"
    only = by_word[word(m, "only")]
    assert (only.grade, only.reason) == (3, "I nearly smile")


def test_the_line_only_these_marks_removes_every_computed_mark() -> None:
    m = marked(PROSE, "only these marks\nup the || stair again\n")
    assert [(s.before_word, s.grade) for s in m.shifts] == [(word(m, "stair"), 2)]


def test_a_fixed_word_is_scanned_as_the_performer_says_it() -> None:
    line = "My whole revenue went to feed the sea\nAnd all the harbour slept in front of me\n"
    plain, fixed = marked(line), marked(line, "[REV-en-ue]\n")
    assert fixed.lines[0].scansion is not None
    assert fixed.lines[0].scansion.stress[2:5] == "sww"
    assert plain.lines[0].scansion != fixed.lines[0].scansion


def test_the_thoughts_cover_the_speech_without_gap_or_overlap() -> None:
    m = marked(PROSE)
    edges = [(t.first, t.last) for t in m.thoughts]
    assert edges[0][0] == 0
    assert edges[-1][1] == len(m.words) - 1
    assert all(a[1] + 1 == b[0] for a, b in pairwise(edges))


@pytest.mark.parametrize("text", [VERSE, PROSE, SCENE])
def test_the_blocks_contain_every_word_once_and_print_all_the_text(text: str) -> None:
    m = marked(text, part="HALE" if text == SCENE else None)
    held = [i for b in marked_blocks(m) for i in range(b.first, b.last + 1)]
    assert held == list(range(len(m.words)))
    printed = "".join(c.printed for b in marked_blocks(m) for c in cells(m, b.first, b.last))
    for line in m.script.lines:
        for piece in line.text.split():
            if piece.strip("()").isalpha() and "(" not in piece:
                assert piece.rstrip(")") in printed
    for mark in '“”"—?;':
        spoken = "".join(line.text for line in m.script.lines)
        assert printed.count(mark) == spoken.count(mark), mark


def test_stress_marks_are_printed_over_the_vowels_of_their_syllables() -> None:
    m = marked(VERSE, "only these marks\n")
    rows = shown(m, 120)
    stress, line = rows[0], rows[1]
    text = "That time of year thou mayst in me behold"
    start = line.index(text)
    marks = {i - start: c for i, c in enumerate(stress) if c in "x/"}
    assert len(marks) == 10
    assert all(text[i] in "aeiouy" for i in marks)
    assert marks[text.index("time") + 1] == "/"


@pytest.mark.parametrize("width", [40, 60, 80, 120])
@pytest.mark.parametrize("text", [VERSE, PROSE])
def test_no_row_is_wider_than_the_terminal(text: str, width: int) -> None:
    assert max(map(len, shown(marked(text), width))) <= width


def test_bars_are_printed_in_the_text_and_reasons_in_the_margin_or_below() -> None:
    m = marked(PROSE, "he trimmed the wick || and he went\n    he is done with me\n")
    wide, narrow = shown(m, 120), shown(m, 60)
    assert any("|| and he went" in r and r.index("|| and") < 80 for r in wide) or any(
        r.strip().startswith(("0:", "1:")) and "|| and he went" in r for r in wide
    )
    assert any("he is done with me" in r and r.startswith(" ") for r in wide)
    below = next(k for k, r in enumerate(narrow) if "he is done with me" in r)
    assert "and he went" in " ".join(narrow[max(0, below - 4) : below])


def test_the_times_in_the_margin_rise_through_the_speech() -> None:
    rows = shown(marked(PROSE * 4), 80)
    times = [r[4:9].strip() for r in rows if ":" in r[4:9]]
    seconds = [int(t.split(":")[0]) * 60 + int(t.split(":")[1]) for t in times]
    assert seconds[0] == 0
    assert seconds == sorted(seconds)
    assert seconds[-1] > 10


def test_cues_and_directions_are_shown_but_are_not_spoken_words() -> None:
    m = marked(SCENE, part="HALE")
    rows = "\n".join(shown(m, 80))
    assert "cue PERRY: … that man of yours, in all those winters?" in rows
    assert "(She turns to the window.)" in rows
    assert "winters" not in {w.text for w in m.words}


def test_the_json_has_every_promised_field_with_consistent_values() -> None:
    s = script.parse_script(VERSE, title="lamp")
    m = marked(VERSE)
    got = json.loads(json.dumps(markup_json.marked_as_json(m, 12.0)))
    assert {"title", "form", "words", "lines", "shifts", "time"} <= got.keys()
    assert got["words"][0] == {"i": 0, "text": "That", "start": 0, "end": 4, "line": 1, "sentence": 1}
    for w in got["words"]:
        assert s.text[w["start"] : w["end"]] == w["text"]
    line = got["lines"][0]
    assert line["words"] == [0, 8]
    assert "".join(line["feet"]).count("s") + "".join(line["feet"]).count("w") == line["syllables"]
    assert len(line["stress"]) == line["syllables"]
    time = got["time"]
    assert time["low"] < time["seconds"] < time["high"]
    assert time["limit"] == 12.0
    assert time["fits"] is (time["seconds"] <= 12.0)
    assert time["over_by"] == pytest.approx(time["seconds"] - 12.0, abs=0.02)
    assert all(0 < x["before_word"] < len(got["words"]) and x["grade"] in (1, 2, 3) for x in got["shifts"])


def test_the_json_of_prose_has_no_scansion() -> None:
    line = markup_json.marked_as_json(marked(PROSE))["lines"][0]
    assert line["stress"] is None
    assert line["feet"] is None
    assert line["pattern"] is None


class Page(HTMLParser):
    """Reads a page: its tags must close in order; its visible text is kept."""

    VOID = frozenset(["meta", "br", "link"])

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag not in ("script", "img", "link"), "the page needs nothing else"
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text.append(data)


@pytest.mark.parametrize("text", [VERSE, PROSE])
def test_the_sheet_is_a_complete_page_with_the_speech_and_the_name_of_each_bar(text: str) -> None:
    m = marked(text)
    page = Page()
    page.feed(markup_sheet.sheet(m, 12.0))
    assert page.open == []
    seen = "".join(page.text)
    assert "lamp" in seen
    assert "Limit 0:12" in seen
    assert ("thought:" in seen) == any(s.grade == 2 for s in m.shifts)
    assert "http" not in seen


def test_markup_in_a_script_cannot_break_the_sheet() -> None:
    m = marked('He said <b>nothing</b> & "left" — then <script>alert(1)</script> he laughed.')
    assert "<script>" not in markup_sheet.sheet(m)


def test_entries_of_the_pencil_file_without_a_place_in_the_script_are_shown() -> None:
    m = marked(PROSE, "seven green bottles || hanging there\n")
    foot = " ".join(p.text for row in markup_page.foot(m, 120) for p in row)
    assert "row 1" in foot
    assert "seven green bottles" in foot


def test_a_form_given_by_the_performer_is_used_whatever_the_script_looks_like() -> None:
    s = script.parse_script(PROSE, title="p")
    as_verse = markup.as_form(s, "verse")
    m = markup.mark(as_verse, words.words_of(as_verse), None, timing.preset("verse"))
    assert m.script.form == "verse"
    v = script.parse_script(VERSE, title="v")
    as_prose = markup.as_form(v, "prose")
    assert all(x.scansion is None for x in markup.mark(as_prose, words.words_of(as_prose)).lines)


def test_a_bar_whose_reason_is_visible_on_the_page_gets_no_note() -> None:
    """A sentence end or a line end needs only the bar; a reason that the page does not show is written."""
    m = marked("The lamp was lit. The door was open. But the house was empty.")
    notes = [note for block in marked_blocks(m) for note in block_notes(m, block)]
    assert [n for n in notes if n.startswith("||")] == [
        "|||? what about: “but” sets the other side against it"
    ]


def test_free_verse_has_stress_and_groups_of_syllables_but_no_plain_metre_in_the_json() -> None:
    """Whitman, "When I Heard the Learn'd Astronomer" (1865, public domain), its first five lines."""
    text = """When I heard the learn'd astronomer,
When the proofs, the figures, were ranged in columns before me,
When I was shown the charts and diagrams, to add, divide, and measure them,
When I sitting heard the astronomer where he lectured with much applause in the lecture-room,
How soon unaccountable I became tired and sick,
"""
    m = marked(text)
    line = markup_json.marked_as_json(m)["lines"][1]
    assert m.versification.metre == "free verse"
    assert line["pattern"] is None
    assert line["metre"] is None
    assert len("".join(line["feet"])) == len(line["stress"]) == line["syllables"]


def test_a_text_in_another_language_is_marked_with_a_warning() -> None:
    """Dante, Inferno 1.1-9 (public domain)."""
    text = """Nel mezzo del cammin di nostra vita
mi ritrovai per una selva oscura,
che la diritta via era smarrita.
Ahi quanto a dir qual era è cosa dura
esta selva selvaggia e aspra e forte
che nel pensier rinova la paura!
Tant' è amara che poco è più morte;
ma per trattar del ben ch'i' vi trovai,
dirò de l'altre cose ch'i' v'ho scorte.
"""
    assert "seems to be in Italian" in markup_page.summary(marked(text))[0]
    assert "seems" not in " ".join(markup_page.summary(marked(VERSE)))
