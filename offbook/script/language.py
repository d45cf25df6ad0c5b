"""Whether a text is English, by its most common small words.

About four in ten words of any English text, of any century, come from a list of about a hundred small words
such as "the" and "of"; other languages have lists of their own. Only a text that plainly belongs to another
list, or that is not in Latin letters, is refused: verse full of names, nonsense verse and very short texts
are accepted.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence

from offbook.script.sheet import word_set
from offbook.spelling import straight

_ENGLISH = word_set(
    """
    the and of to a in i that is it my you not with for be his as he but me this your have him what so will
    do no by all her if are shall thou on thy we was or at from they our thee when she which more would were
    there their them now then than an had us who how must may can hath doth am upon where one out up here
    why yet let did like such these those been some too only into over never come go make see say know
    don't it's i'm can't ye o' th' wi' nae o
    """
)
_OTHERS = {
    "French": """le la les de des du un une et est que qui dans en pour pas ne sur ce il elle je vous nous
        au aux par plus se son sa ses mais ou où être fait cette comme tout mon ma mes si""",
    "German": """der die das und ist nicht ich du er sie es wir ihr ein eine einen dem den des zu mit auf für
        von im sich auch als wie nur noch aber dass daß war hat haben wird sein so bei aus nach mein dein""",
    "Spanish": """el la los las de del que y en un una por con no se su para es lo como más pero sus le ya
        o este sí porque esta entre cuando muy sin sobre también me hasta hay donde mi tu yo""",
    "Italian": """il lo la i gli le di del della che e è un una per con non si da in nel nella come più ma
        sono anche io tu lui lei noi mio tuo suo questo quella ha ho perché se al alla dei""",
    "Portuguese": """o a os as de do da dos das que e em um uma por com não se na no para é mais como mas foi
        ao ele ela eu meu minha seu sua nos já está também só pelo pela até isso""",
    "Dutch": """de het een en van in is dat die niet ik je hij zij we te op met voor aan er om als dan maar
        ook bij nog naar uit door over zijn was heeft mijn geen wat wel deze""",
    "Swedish": """och att det i en jag som är på för av inte med den har de till ett om men var han hon vi du
        sig så kan när från mig min ska""",
    "Danish or Norwegian": """og at det i en jeg som er på for av af ikke med den har de til et om men var han
        hun vi du seg sig så kan når fra meg mig min skal""",
    "Polish": "i w na z się nie że to do jest o jak po co tak za od ale przez już tylko czy być dla mnie ja",
    "Latin": """et in est non ad ut cum qui quae quod sed ab ex si per esse sunt nec hoc me te se quid
        autem enim aut atque ac iam tamen""",
    "Welsh": "y yr yn a i o ar mae ac ei eu am wedi hyn fel bod ond cyn gan mewn oedd nid wrth sydd un dim",
    "Turkish": "bir ve bu da de için ne ben o çok ama gibi daha var değil kadar ki sen mi olan olarak her",
    "Finnish": "ja on ei se että hän oli minä en ole kun niin mutta joka mitä sen tämä kuin nyt ovat myös",
}
_PROFILES = {name: word_set(words) - _ENGLISH for name, words in _OTHERS.items()}
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)*['’]?")
_ELIDED = re.compile(r"\b(?:[cdjlmnst]|qu)['’](?=[a-zàâéèêîôœh])")

# All the numbers below were set by hand, on the texts of the tests.
# Texts with fewer words than this are never refused for their small words.
_ENOUGH = 25
# How many characters at the beginning are looked at, for their letters and for their words.
_LETTERS_FROM, _WORDS_FROM = 20_000, 200_000
# The share of letters that are not Latin, above which the text is in another script.
_MOSTLY = 0.5
# A text is in another language if more than this share of its words are small words of that language, and
# more than this many times as many as are small words of English.
_SPEAKS, _CLEARLY_MORE = 0.15, 1.5
# A text with at least this many words is not English if less than this share of them are small words of
# English.
_LONG_TEXT, _NO_ENGLISH = 80, 0.04


def other_language(texts: Iterable[str]) -> str | None:
    """The language of a text that is plainly not English; None if it is or may be English."""
    text = " ".join(texts)
    letters = [c for c in text[:_LETTERS_FROM] if c.isalpha()]
    foreign = sum(not _latin(c) for c in letters)
    if letters and foreign > _MOSTLY * len(letters):
        return "a language in another script"
    lower = text[:_WORDS_FROM].lower()
    words = [straight(w) for w in _WORD.findall(lower)]
    return _by_little_words(words, len(_ELIDED.findall(lower)))


def _by_little_words(words: Sequence[str], elided: int) -> str | None:
    if len(words) < _ENOUGH:
        return None
    english = sum(w in _ENGLISH for w in words) / len(words)
    name, share = max(
        ((n, sum(w in profile for w in words) / len(words)) for n, profile in _PROFILES.items()),
        key=lambda pair: pair[1],
    )
    if name == "French":
        share += elided / len(words)
    if share > _SPEAKS and share > _CLEARLY_MORE * english:
        return name
    # No list of ours fits, but a long text with hardly a small word of English is not English either.
    return "another language" if len(words) >= _LONG_TEXT and english < _NO_ENGLISH else None


def _latin(c: str) -> bool:
    return c < "\u0250" or unicodedata.name(c, "").startswith("LATIN")
