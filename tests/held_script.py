"""Held values of scripts: single rows, shapes of blocks, and families of pages that differ in one thing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from itertools import product

from offbook.script.finders.bare_directions import (
    _continuing_rows,
    _is_bracketed_direction,
    _names_only,
    direction_certainty,
)
from offbook.script.finders.directions import looks_like_direction
from offbook.script.finders.heading_lines import (
    has_pronoun,
    heading_certainty,
    heading_pieces,
    is_reference,
    is_title,
    names_author,
)
from offbook.script.finders.speakers import clean_name, is_everybody, is_name, said_by, together
from offbook.script.sheet import text_rows
from offbook.script.verse_or_prose import is_verse, is_wrapped, line_is_paragraph, shape, verse_lines
from tests import test_script, test_script_copied
from tests.held import Rows, figures
from tests.held_pages import cut_short, picture, without_a_row

# Rows that could be directions, each beside what only looks like one.
ACTS = (
    """
Enter VIOLA|Enter|enter viola|Enter Viola and a Captain|Enter the pain of it all|Enter I
Enter, and be still|Exit|Exeunt|Exit pursued by a bear|Exeunt all but Hamlet|Exeunt severally|Manet ROSE
Re-enter ROSE|Enter two soldiers with torches|Enter three old women of the town bearing lamps and singing
Enter ROSE, BEN, ANNA, HALE, OSK, PIM, MAB, and MARGERY bearing|Rose enters|ROSE enters again
ROSE enters slowly|She leaves|They leave at last|Nobody leaves|He goes out|The Boy comes in|Pause|A pause
Long pause|A very long pause|Silence|A long silence|Beat|Beat. Then he sits.|Beats|The beats|Tableau
Blackout|Curtain|The curtain falls|Curtain up|Lights|Lights up|Lights fade slowly|Fade to black|Alarum
Thunder|Thunder and lightning|Music|Music plays|Music within|The clock strikes|A door slams
The phone rings|A phone|End of scene|End|End of the poem|Knocking within|Reads|Weeping|Sleeps|Dies|Kneels
Aside|Aside to ROSE|To ROSE|To ROSE and BEN|To the LADIES|To be|To Rose|To all the world|Looking on KENT
Looking on|Giving him the ring, sighs KENT|Looking at the long grey wall where nobody ever stood, KENT
She sits|She sits.|She sits!|She sits down beside the old grey man who never spoke|She has sat|She knows
They sit|They sleep|Gives the ring|Gives rings|Seats her by him|Seats of power|Dashes out|Takes my hand
Beats upon the door|Cuts|Reads it to the king|The Boy runs off|The Boy turns|He turns|He eats|They eat
Rose turns|Rose is here|rose turns|Nobody turns|BEN turns away|She sits. He stands. They wait.
She sits. He stands. They wait. She goes.|Enter ROSE. Exit BEN.|(Enter ROSE)|[She sits.]
He that is giddy thinks|She walks in beauty|The king sits in Dunfermline town
Enter KING and QUEEN, I think|It rings
""".replace("\n", "|")
    .strip("|")
    .split("|")
)

# What could be in brackets: done, or said.
INSIDE = (
    """
pause|a long pause|the short beat|silence|long silence, please|sighs|sighs heavily and at length here
laughing|laughter in the hall|enter|off|off-stage|she rises|She rises.|she is ill|He says so|they knew
he as|He turns to the window and looks out at the sea for a long while|to him|to Ben|to the door|to be
to all of you who came here in the rain and the snow and the|with a sigh|in a whisper|under his breath
through tears|at the table|at length|on the floor|on time|as if asleep|as ever|half to himself|almost
still crying|not looking|from the wings|from me|slowly|only|really|ugly|softly and with care
very softly indeed|nothing|crossing|singing softly|king|the king|being|knowing|walking to the door|turns
Turns away|looks|gives it back|BEN crosses|ANNA sits|Ben sits|A sits|for so they said|and I was there
though I doubt it|which was nice|V.O.|O.S.|cont'd|beat|a beat|another beat|tiny pause|awkward silence
whispering to the others in the corner by the fire|loud|more loudly|re
""".replace("\n", "|")
    .strip("|")
    .split("|")
)

HEADINGS = (
    """
Twelfth Night|Twelfth Night 2.2|Hamlet III.i.56-90|Act 2, Scene 1|ACT II|Scene One|act one of love|1.2
2.2.17-40|Lines 3-20|l. 5|by Rosa Vane|By rosa vane|The Lamp by Rosa Vane|The lamp by Rosa Vane
Written by Rosa Vane|Rosa Vane|rosa vane|Rosa Vane, 1962|1962|c. 1590|1590s|Viola's monologue
Viola's speech from Twelfth Night|Viola’s song in the rain|the dog's speech|A monologue|monologue
A comic monologue for a man|Speech|From The Lamp|from the lamp|From: “The Lamp”|An excerpt from The Lamp
SCENE II. The sea-coast.|SCENE II. the sea|Act 1, Scene 2: A public place|Act 1: I see you|Sonnet 18
Sonnet XVIII|Sonnet|Ode 3|No. 7|Psalm 23.|Title: The Lamp|Character: Rosa, 19|Setting: I was there
Who: me|https://a.example/lamp|Source: www.a.example|© 1999 Rosa Vane|Public domain|The Lamp - Rosa Vane
The Lamp, Rosa Vane|The Lamp, a poem|The Lamp, and I|The Lamp (1962)|The Lamp: A Play|The Lamp;|The Lamp,
The Lamp.|The Lamp. the end|One Two Three Four Five Six Seven Eight Nine
One Two Three Four Five Six Seven Eight Nine Ten|I Am Rosa|It is|Of Mice and Men|The light of the sea
“The Lamp”|*The Lamp*|## The Lamp|3 Sisters|Prologue|Epilogue.|Induction|Chorus|Canto IV
The Merchant of Venice, Act IV, Scene 1 - Portia|Much Ado About Nothing (IV.i) Beatrice
King Lear, lines 20-30|Macbeth Act 1 Scene 7|macbeth act 1
""".replace("\n", "|")
    .strip("|")
    .split("|")
)

NAMES = (
    """
ANNA|Anna|anna|ANNA:|ANNA (V.O.)|ANNA (CONT'D)|ANNA & BEN|ANNA AND BEN|ANNA/BEN|ANNA, BEN|ALL|BOTH
FIRST WITCH|THE BAILIFF|FIRST|THE|THE END|I|II|IV|MR GREY|MR|DR|OLD MAN OF THE SEA
A MAN WITH FIVE LONG WORDS|AN OLD OLD MAN OF SEA|X|MacDuff|McBEE|NOTE|ACT ONE|STOP|WHAT|O|ONE|TWO MEN
ANNA,|B2|First Witch|Second Old Sailor Man|Lady Anne of the Sea|Old Sailor Man
ABCDEFGHIJKLMNOPQRSTUVWXYZABCDEFGHIJ|ABCDEFGHIJKLMNOPQRSTUVWXYZABCDEFGHIJK
""".replace("\n", "|")
    .strip("|")
    .split("|")
)


def acts() -> Iterator[str]:
    """How surely each row is a direction, with a name that is known and without one."""
    for text in ACTS:
        yield (
            f"{text}: {direction_certainty(text)} {direction_certainty(text, ['Rose'])} "
            f"{_is_bracketed_direction(f'({text})', ['BEN'])} {_names_only(text)}"
        )
    for block in (
        "Enter ROSE,\nBEN and\nOSK,\nand she wept,\nMAB",
        "Enter ROSE and\nI was there",
        "Enter ROSE\nBEN",
        "Enter ROSE with\nTorches &\nDrums",
    ):
        rows = [r for r in text_rows(block) if not r.blank]
        yield f"{block!r}: {len(_continuing_rows(rows, 0))}"


def inside() -> Iterator[str]:
    """Whether a bracket holds a direction: in a play in which BEN appears, and in a single speech."""
    for text in INSIDE:
        yield (
            f"{text}: {looks_like_direction(text, ['BEN', 'ANNA'], True):d} "
            f"{looks_like_direction(text, [], False):d}"
        )


def headings() -> Iterator[str]:
    """How likely a row is a heading, and the smaller questions about it."""
    for text in (*HEADINGS, "A" * 100, "A" * 101):
        asked = "".join(str(int(f(text))) for f in (is_title, is_reference, names_author, has_pronoun))
        yield f"{text}: {heading_certainty(text)} {asked} {heading_pieces(text)}"


def names() -> Iterator[str]:
    """Whether this may be a name, in capitals, with a title, and on a page that is all in capitals."""
    known = frozenset(("anna", "ben"))
    for text in NAMES:
        asked = (
            f"{is_name(text):d}{is_name(text, False):d}{is_name(text, True, True):d}{is_everybody(text):d}"
        )
        yield f"{text}: {asked} {clean_name(text)} {sorted(said_by(text, known))} {together(text, known)}"


def _line(size: int, capital: bool, stop: bool, inner: bool) -> str:
    text = ("and the light went over " * 8)[:size]
    text = text[:-1] + "x" if text.endswith(" ") else text
    if inner and size > 20:
        text = text[:8] + ". So " + text[13:]
    text = text[:-1] + "." if stop else text
    return text[:1].upper() + text[1:] if capital else text


SIZES = (27, 28, 35, 36, 54, 55, 60, 61, 75, 76, 85, 86, 88, 89, 100, 101, 110, 111, 130, 131)


def shapes() -> Iterator[str]:
    """Verse or prose for blocks with lines of one length or of two, by capitals and by stops."""
    for count, size in product((1, 2, 3, 4, 6), SIZES):
        told = []
        for capital, stop, inner in product((True, False), repeat=3):
            even = [_line(size, capital, stop, inner) for _ in range(count)]
            uneven = [
                _line(size if k % 2 else max(12, size // 2), capital, stop, inner and k == 0)
                for k in range(count)
            ]
            told += [_kind(even), _kind(uneven)]
        yield f"{count} lines of {size}: {' '.join(told)}"


def _kind(lines: list[str]) -> str:
    s = shape(lines)
    marks = (is_verse(lines), is_wrapped(s), line_is_paragraph(lines), line_is_paragraph(lines, True))
    return "".join("vwlp"[k] if mark else "-" for k, mark in enumerate(marks))


def blocks() -> Iterator[str]:
    """Verse or prose block by block, in a speech and in a play, by the shares of capitals and stops."""
    for capitals, stops, sizes in product(
        (0, 1, 2, 3, 4, 5), (0, 2, 3, 4, 5), ((40,) * 5, (60, 30, 62, 61, 20), (76, 75, 80, 78, 74))
    ):
        block = [_line(size, k < capitals, k < stops, False) for k, size in enumerate(sizes)]
        s = shape(block)
        shown = (
            " ".join(figures(x) for x in (s.filled, s.stopped, s.several, s.spread))
            + f" {s.capital} {s.middle} {s.longest}"
        )
        short = block[:2]
        whole = [block, short, block[:1], block[1:4]]
        told = ["".join("vp"[not v] for v in verse_lines(whole, speeches=play)) for play in (False, True)]
        yield f"{capitals} {stops} {sizes[0]}: {_kind(block)} {shown}; {' '.join(told)}"


PROSE = "I never asked for the lantern, and nobody ever told me why it was mine to keep and to carry."
LINE = "The lamp was lit before the tide came in"
STANZA = (
    f"{LINE},\nAnd nobody was told but you and me,\nThe kettle sang before the house was up\nAnd "
    f"carried off its bark to find the sea.\n"
)


def _a_number_alone_on_a_page() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: a number alone on a page."""
    for n, before, after, indent, feed in product(("7", "1", "[3]"), (0, 1), (0, 1), (0, 7, 8), ("", "\f")):
        page = f"{STANZA}{chr(10) * before}{' ' * indent}{n}{chr(10)}{feed}{chr(10) * after}{STANZA}"
        yield f"{n} {before} {after} {indent} {bool(feed)}", page
    for n, end in product(
        ("1", "p. 3", "Page 4 of 9", "- 5 -", "(MORE)", "CONTINUED: (2)", "12 of 30"), ("first", "last")
    ):
        page = f"        {n}\n\n{STANZA}" if end == "first" else f"{STANZA}\n        {n}\n"
        yield f"{n} {end}", page


def _numbers_that_go_up() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: numbers that go up."""
    for first, pages, rows, kind in product(
        (1, 2, 9), (1, 2, 3), (2, 3, 4, 19, 20, 21), ("{}", "[{}]", "{}.")
    ):
        body = [f"{kind.format(first + k)}\n\n" + "\n".join([LINE] * rows) + "\n\n" for k in range(pages)]
        yield f"{first} {pages} {rows} {kind}", "".join(body)


def _roman_numerals() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: roman numerals."""
    for numerals, gap in product(
        ("I", "I II", "I II III", "II III", "I III", "I II IV", "VIII IX X", "i ii", "I. II.", "XC XCI"),
        (0, 1),
    ):
        yield f"{numerals} {gap}", "".join(f"{n}\n{chr(10) * gap}{STANZA}\n" for n in numerals.split())


def _heads_of_pages() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: heads of pages."""
    for pages, head, blank, feed in product(
        (1, 2, 3, 4), ("THE LAMP", "THE LAMP {}", "x" * 90, "x" * 91, "{}", "Ab"), (0, 1), ("\f", "\n")
    ):
        body = [
            f"{head.format(k + 1)}\n{chr(10) * blank}{STANZA}{STANZA}{chr(10) * blank}" for k in range(pages)
        ]
        yield f"{pages} {head[:8]} {len(head)} {blank} {feed!r}", feed.join(body)


def _numbers_in_the_margin() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: numbers in the margin."""
    rows = [f"{LINE} {'and then ' * (k % 3)}once more" for k in range(15)]
    for step, places, first, side in product(
        (1, 2, 5, 10), (1, 2, 3, 4, 14), (1, 4, 5, 10), ("left", "right", "gap", "own")
    ):
        page = []
        for k, row in enumerate(rows):
            n = first + k
            numbered = n % step == 0 and k < places * step
            forms = {
                "left": f"{n} {row}",
                "right": f"{row}   {n}",
                "gap": f"{row} {n}",
                "own": f"{row}\n{n}",
            }
            page.append(forms[side] if numbered else row)
        yield f"{step} {places} {first} {side}", "\n".join(page) + "\n"


def _times() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: times."""
    for clock, share in product(("0:0{}", "[00:0{}]", "1:0{}", "00:0{}:00"), (2, 3, 4, 5)):
        for alone in (False, True):
            rows = [
                (clock.format(k) + ("\n" if alone else " ") if k < share else "") + LINE for k in range(5)
            ]
            yield f"{clock} {share} {alone}", "\n".join(rows) + "\n"


def _footnotes() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: footnotes."""
    for mark, note in product(("[1]", "¹", "†", "*", "**", "²"), (0, 1, 2)):
        notes = "".join(f"{mark} A note, {k}.\n" for k in range(note))
        yield f"{mark} {note}", f"{LINE}{mark}\n{STANZA}\n{notes}*said* so he did*\n"
    yield "a power", f"The floor was 12 m² and 7³.\n{STANZA}"


def _mail() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: mail."""
    heads = (
        "From: rosa@a.example",
        "Subject: the lamp",
        "To: Ben",
        "Date: Monday",
        "From: a\nSubject: b",
        "To: a\nCc: b",
        "Sent: a\nTo: b",
    )
    for head, greeting, sign in product(
        heads,
        ("", "Hi Ben,", "Dear Ben, hello", "Hello there,"),
        ("", "-- \nRosa\n12 Mill Lane", "Sent from my lamp"),
    ):
        yield f"{head!r} {greeting} {sign!r}", f"{head}\n\n{greeting}\n\n{PROSE}\n{PROSE}\n\n{sign}\n"
    for quoted, answer in product((1, 2, 3), (1, 2, 3)):
        wrote = "On Monday the 2nd of March, Rosa Vane wrote:"
        yield (
            f"answered {quoted} {answer}",
            f"{(PROSE + chr(10)) * answer}\n{wrote}\n{('> ' + PROSE + chr(10)) * quoted}",
        )
        yield (
            f"noted {quoted} {answer}",
            f"Subject: a\nFrom: b\n\n{(PROSE + chr(10)) * answer}\n{('> ' + PROSE + chr(10)) * quoted}",
        )
    yield "forwarded", f"---------- Forwarded message ---------\nFrom: a\nSubject: b\n\n{PROSE}\n"


def _headings() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: headings."""
    for rule, length, gap in product(("=", "-", "#"), (1, 2, 3, 4, 8, 9, 16, 17), (0, 1)):
        under = f"# The Lamp{chr(10) * 2}" if rule == "#" else f"The Lamp\n{rule * length}\n{chr(10) * gap}"
        yield f"{rule} {length} {gap}", f"{under}{STANZA}"
    for size in (69, 70, 71):
        yield f"long {size}", f"{'x' * size}\n{'=' * 40}\n\n{STANZA}"
    for text in (
        "ACT ONE",
        "Act One",
        "SCENE 2. A wood",
        "Scene 2, a wood",
        "PROLOGUE",
        "Prologue",
        "SC. 3",
        "act",
        "CHORUS",
    ):
        yield text, f"{text}\n\n{STANZA}"
        yield f"{text} in a play", f"{text}\n\nANNA: {LINE}.\nBEN: {PROSE}\nANNA: {LINE}.\n"
    for labels in ("Verse 1|Chorus", "Chorus|Chorus", "Verse 1", "[Bridge]|[Chorus]:", "Verse a|Outro"):
        yield labels, "".join(f"{label}\n{STANZA}\n" for label in labels.split("|"))


def _a_list_of_characters() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: a list of characters."""
    for head, gap, count, size in product(
        ("CHARACTERS", "Cast:", "The cast of", "Dramatis personae."),
        (0, 1, 2, 3),
        (1, 2, 3),
        (10, 100, 101),
    ):
        listed = "\n".join(f"{who}, {'x' * (size - 6)}" for who in ("ANNA", "BENN", "CARL")[:count])
        yield (
            f"{head} {gap} {count} {size}",
            f"{head}\n{chr(10) * gap}{listed}\n\nANNA: {LINE}.\nBENN: {PROSE}\nANNA: Yes.\n",
        )


def _who_speaks() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: who speaks."""
    forms = {
        "alone": "{}\n{}\n\n",
        "colon": "{}: {}\n",
        "stop": "{}. {}\n",
        "gap": "{}   {}\n",
        "tab": "{}\t{}\n",
        "dash": "{} - {}\n",
        "under": "{}\n{}\n",
    }
    for form, who, times in product(
        forms, ("ANNA BEN", "Anna Ben", "A B", "Ann. Ben.", "ANNA ANNA", "ANNA BEN CARL DORA"), (1, 2, 3)
    ):
        said = [LINE + ".", "So it was.", PROSE, "No."]
        parts = [
            forms[form].format(name, said[(k + t) % 4])
            for t in range(times)
            for k, name in enumerate(who.split())
        ]
        yield f"{form} {who} {times}", "".join(parts)


def _a_speech_by_itself() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: a speech by itself."""
    tops = (
        "The Lamp",
        "THE LAMP",
        "THE LAMP\nby Rosa Vane",
        "The Lamp by Rosa Vane",
        "ROSA",
        "ROSA:",
        "ROSA (sighs)",
        "Rosa:",
        "Twelfth Night 2.2\nVIOLA",
        "FIRE!",
        "No",
        "The lamp was lit",
        "The lamp was lit before the tide came in again",
        "Sonnet 18",
        "Act 2, Scene 1\nA street.\nROSA",
        "(Enter ROSA)",
        "Character: Rosa\nAge: 19",
        "Character: Rosa",
        "ROSA, early 20s, a keeper",
        "Enter ROSA",
        "She sits.",
        "From The Lamp",
        "The Lamp | Rosa Vane | 1962",
    )
    for top, gap, body in product(
        tops, (0, 1), (STANZA, PROSE + "\n" + PROSE + "\n", "Nine words are not enough to be a speech.\n")
    ):
        yield f"{top!r} {gap} {body[:5]}", f"{top}\n{chr(10) * gap}{body}"
    for tail in (
        "THE END",
        "Fin",
        "End of speech",
        "Exit.",
        "- Rosa Vane, The Lamp",
        "Rosa Vane",
        "© 1962 Rosa Vane",
        "https://a.example",
        "(Blackout)",
        "Twelfth Night 2.2",
    ):
        for gap in (0, 1):
            yield f"below: {tail} {gap}", f"{STANZA}{chr(10) * gap}{tail}\n"


def _directions_without_brackets() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: directions without brackets."""
    for row, before, after in product(
        ("She sits.", "Exit", "Silence.", "Enter ROSE", "Gives the ring", "A door slams.", "Weeping"),
        (0, 1),
        (0, 1),
    ):
        for end in (".", "", ","):
            page = f"{STANZA.rstrip()[:-1]}{end}\n{chr(10) * before}{row}\n{chr(10) * after}{STANZA}"
            yield f"{row} {before} {after} {end}", page
    for row in (
        "Gone. Beat. I went.",
        "Gone. A beat. i went",
        "Gone. Pause.",
        "Gone   Exit",
        "Gone  Exeunt all.",
        "Gone Exit",
        "Gone\tCurtain",
    ):
        yield row, f"{PROSE}\n{row}\n{PROSE}\n"


def _brackets() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: brackets."""
    for text in INSIDE[::3]:
        yield f"alone: {text}", f"{PROSE}\n({text})\n{PROSE}\n"
        yield (
            f"within: {text}",
            f"{LINE} ({text}) and so it was. ({text[:1].upper() + text[1:]}.) Then ({text}), "
            f"I went.\n{PROSE}\n",
        )
        yield (
            f"in a play: {text}",
            f"ANNA: {LINE} ({text}) and so.\nBEN: ({text}) No. ({text}) Yes.\nANNA: [{text}] {LINE}.\n",
        )


def _paragraphs() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: paragraphs."""
    for gap, indent, count in product((1, 2, 3), (0, 1, 2, 4), (2, 5, 6, 7)):
        yield (
            f"{gap} {indent} {count}",
            "".join(("" if k % 2 else " " * indent) + LINE + "." + "\n" * gap for k in range(count)),
        )
        yield (
            f"wrapped {gap} {indent} {count}",
            "".join(" " * indent * (k % 3 == 0) + PROSE[:70].strip() + "\n" * gap for k in range(count)),
        )


def _what_is_pasted() -> Iterator[tuple[str, str]]:
    """Pages that differ by one thing: what is pasted."""
    for tag, count in product(
        (
            "<p>{}</p>",
            "<b>{}</b>",
            "<h1>{}</h1>",
            "<!-- {} -->",
            "<i class='a'>{}</i>",
            "{}&nbsp;",
            "<a pause>{}",
        ),
        (1, 2, 3),
    ):
        yield f"{tag} {count}", "\n".join(tag.format(LINE) for _ in range(count)) + "\n" + STANZA
    for count, numbered, head in product(
        (1, 2, 3), (0, 1, 2), ("", "WEBVTT\n\n", "WEBVTT\n\nNOTE a note\n\n")
    ):
        cues = "".join(
            ("" if not numbered else f"{k + 1}\n" if numbered == 1 else f"cue {k}\n")
            + f"00:00:0{k},000 --> 00:00:0{k + 1},000\n{LINE}\n\n"
            for k in range(count)
        )
        yield f"subtitles {count} {numbered} {head[:20]!r}", head + cues


FAMILIES: dict[str, Callable[[], Iterator[tuple[str, str]]]] = {
    "a number alone on a page": _a_number_alone_on_a_page,
    "numbers that go up": _numbers_that_go_up,
    "roman numerals": _roman_numerals,
    "heads of pages": _heads_of_pages,
    "numbers in the margin": _numbers_in_the_margin,
    "times": _times,
    "footnotes": _footnotes,
    "mail": _mail,
    "headings": _headings,
    "a list of characters": _a_list_of_characters,
    "who speaks": _who_speaks,
    "a speech by itself": _a_speech_by_itself,
    "directions without brackets": _directions_without_brackets,
    "brackets": _brackets,
    "paragraphs": _paragraphs,
    "what is pasted": _what_is_pasted,
}
WHOLE = {
    "a scene": test_script.SCENE,
    "an old edition": test_script.FOLIO,
    "a poem": test_script.HARVEST,
    "a speech": test_script.SPEECH,
    "a monologue": test_script.MONOLOGUE,
    "a copied speech": test_script_copied.VERSE,
}


def family(pages_of: Callable[[], Iterator[tuple[str, str]]]) -> Iterator[str]:
    """The pages of a family, each on a row; pages that are read in the same way are together."""
    seen: dict[str, list[str]] = {}
    for told, page in pages_of():
        seen.setdefault(picture(page), []).append(told)
    for shown, pages in seen.items():
        yield f"{' | '.join(pages)}: {shown}"


def whole(title: str) -> Iterator[str]:
    """A page, then the page without each of its rows, and up to each of them."""
    text = WHOLE[title]
    yield picture(text)
    for n, page in enumerate(without_a_row(text), 1):
        yield f"without printed row {n}: {picture(page)}"
    for n, page in enumerate(cut_short(text), 1):
        yield f"up to printed row {n + 1}: {picture(page)}"


PARTS: dict[str, Rows] = {
    "rows that are directions": acts,
    "what stands in brackets": inside,
    "rows that are headings": headings,
    "names": names,
    "verse or prose by the length of lines": shapes,
    "verse or prose block by block": blocks,
    **{name: partial(family, pages_of) for name, pages_of in FAMILIES.items()},
    **{title: partial(whole, title) for title in WHOLE},
}
