"""How likely a word of one syllable is to be stressed, without a metre.

These words are the most uncertain in English verse: a noun is nearly always strong, an article nearly never,
and the small words are between them (Attridge, "The Rhythms of English Poetry", 1982, from memory). The lists
are our own; `costs` has how likely each class is to be on a beat.
"""

from __future__ import annotations

from functools import cache

from offbook.lexicon import dictionary_form

_CLASSES = """
article: a an the th ye
and: and an' &
of, to: of to o' t'
preposition: in at by for from with on as than i' wi' upon 'pon unto into
heavy preposition: through thro' thro o'er o're like near past round ere 'gainst 'mid 'midst 'mong 'neath
heavy preposition: 'twixt save
particle: up down off out back on't in't
conjunction: but or nor if though tho' tho when while whilst till since lest whenas
that: that
question word: who which whose whom what how why where whence whither
be: is was are were am be been 'tis 'twas 'twere that's there's it's he's she's i'm we're you're they're
be: art wast wert 's
auxiliary: has have had hath hast hadst i've i'd i'll he'd we'd they'd you'll he'll we'll do did does doth
auxiliary: dost didst shall will would should could can may might must shalt wilt wouldst couldst canst
auxiliary: mayst 'twill 'twould let's
subject: i he she they we you thou
it: it 't
object: me him her them us thee 'em
possessive: my thy his its our your their
demonstrative: this these those
quantity: all some each both more most none such much few own self selves same any one's
no: no
not: not don't can't won't ne'er
adverb: so then now here there thus still yet just too once e'er oft first last hence thence even ev'n
adverb: e'en well
interjection: o oh ah lo yea nay ay aye
number: one two three four five six ten
light verb: let make made come came go get got see say said says take give seem look
"""

# longer words that are as light as prepositions: their stressed syllable need not be on a beat
_LIGHT_LONGER = """
upon into unto without within over under before after about above against among amongst between beneath
behind beside beyond below until because although whether either neither rather any many every other
another ever never even myself thyself himself herself itself ourselves themselves yourself therefore
wherefore sometimes almost being having very only onto amid amidst toward towards perhaps
"""

FUNCTION = frozenset(
    {
        "article",
        "and",
        "of, to",
        "preposition",
        "heavy preposition",
        "conjunction",
        "that",
        "question word",
        "be",
        "auxiliary",
        "subject",
        "it",
        "object",
        "possessive",
        "demonstrative",
        "no",
    }
)


@cache
def _table() -> dict[str, str]:
    found: dict[str, str] = {}
    for row in _CLASSES.strip().splitlines():
        name, _, words = row.partition(": ")
        for word in words.split():
            found.setdefault(word, name)
    return found


# Classes whose words carry the stress of a thought only in contrast to another word; set by hand.
_HARDLY = frozenset({"article", "and", "of, to", "preposition", "that", "it"})


def hardly_stressed(word: str) -> bool:
    """Whether `word` hardly ever carries the stress of a thought: an article, "and", a light preposition."""
    return class_of(dictionary_form(word)) in _HARDLY


@cache
def light_longer() -> frozenset[str]:
    """The words of two or more syllables whose main stress is weak."""
    return frozenset(_LIGHT_LONGER.split())


def class_of(word: str) -> str:
    """The class of a word of one syllable (in its `dictionary_form`); "content" if it is not listed."""
    return _table().get(word, "content")
