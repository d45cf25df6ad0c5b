"""Words that are never put into anybody's mouth.

A script word outside the vocabulary is heard as what it sounds like, and what was heard is shown. A slur
or an obscenity in our own lists could then be shown as heard though nobody said it; so none is offered
as a sound-alike, unless the script's own word begins with it. What a person really says is heard all the
same: the free hearing has the whole vocabulary.

The lists are ours and short: what the dictionary has of slurs and obscenities, by common knowledge (no
source). The open lists in packages that were looked at hold hundreds of ordinary words too (weed, stroke,
thrust), which old verse needs as likenesses. Written with every letter moved by thirteen places (rot13),
so that nobody need read them who does not want to.
"""

from __future__ import annotations

import codecs
from functools import cache

# Barred as they are, and with an s.
_WHOLE = codecs.decode(
    "avtt avttn arteb pbba fcvp jbc qntb xvxr wnc cbynpx cnxv uror lvq tbbx fdhnj fulybpx ubzb yrfob "
    "genaal snt sntt qlxr phz crr nefr nff nffrf qhzonff wnpxnff gvg gvggl gjng fabg nahf "
    "nany chor obare encr encrq encre encvat encvfg anmv gneg shpxva qvpx pbpx pyvg frzra erpghz "
    "betvrf betl intvan chgm cbea cbeab",
    "rot13",
).split()
# Barred with these endings too.
_STEMS = codecs.decode(
    "avttre artebr puvax xenhg ubaxl ubaxvr jrgonpx enturnq qnexvr snttbg dhrre ergneq zbatbybvq "
    "erqfxva vawha shpx zbgureshpx fuvg ohyyfuvg phag cevpx chffl chffvr obbo nffubyr cvff ovgpu "
    "juber fyhg onfgneq jnax ohttre obyybpx penc gheq sneg wvmm qvyqb cravf zbyrfg crqbcuvyr fcrez "
    "betnfz cvzc ubbxre fpuzhpx fxnax sybbml cbbc grfgvpyr fpebghz pyvgbevf avccyr znfgheongr tbqqnza",
    "rot13",
).split()
_ENDINGS = ("", "s", "es", "ed", "er", "ers", "ing", "y", "ty", "ting")
_SHORTEST_STEM = 4  # letters of a stem that shows that the script has the word itself


@cache
def _barred() -> dict[str, str]:
    """Every barred form, possessives too, and the stem it is of."""
    found = {stem + ending: stem for stem in _STEMS for ending in _ENDINGS}
    found |= {stem[:-1] + ending: stem for stem in _STEMS if stem[-1] == "e" for ending in _ENDINGS[1:]}
    found |= {word + ending: word for word in _WHOLE for ending in ("", "s" * (word[-1] != "s"))}
    return found | {form + "'s": stem for form, stem in found.items()}


def barred(word: str, script: str = "") -> bool:
    """True where `word` may not be offered as a sound-alike of the script word `script` (lower case)."""
    stem = _barred().get(word)
    return stem is not None and not (len(stem) >= _SHORTEST_STEM and script.startswith(stem))
