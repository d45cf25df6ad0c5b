"""Words that offbook never claims to have heard in the place of another word.

A script word that the recogniser does not know is heard as a word that sounds like it, and that word is
shown. If it were a slur or an obscenity, it would be shown although nobody said it. So such a word is never
offered as a sound-alike, unless the script's own word begins with it. If somebody really says it, it is
heard, because the free hearing has the whole vocabulary.

The lists are our own and short: the slurs and obscenities of the dictionary, by common knowledge (no source).
The open lists in the packages that we looked at also have hundreds of ordinary words (weed, stroke, thrust),
which are needed as sound-alikes in old verse. Every letter is moved by thirteen places (rot13), so that
nobody has to read them.
"""

from __future__ import annotations

import codecs
from functools import cache

# Words that are barred as they are, and with an s.
_WHOLE = codecs.decode(
    "avtt avttn arteb pbba fcvp jbc qntb xvxr wnc cbynpx cnxv uror lvq tbbx fdhnj fulybpx ubzb yrfob "
    "genaal snt sntt qlxr phz crr nefr nff nffrf qhzonff wnpxnff gvg gvggl gjng fabg nahf "
    "nany chor obare encr encrq encre encvat encvfg anmv gneg shpxva qvpx pbpx pyvg frzra erpghz "
    "betvrf betl intvan chgm cbea cbeab",
    "rot13",
).split()
# Words that are also barred with the endings below.
_STEMS = codecs.decode(
    "avttre artebr puvax xenhg ubaxl ubaxvr jrgonpx enturnq qnexvr snttbg dhrre ergneq zbatbybvq "
    "erqfxva vawha shpx zbgureshpx fuvg ohyyfuvg phag cevpx chffl chffvr obbo nffubyr cvff ovgpu "
    "juber fyhg onfgneq jnax ohttre obyybpx penc gheq sneg wvmm qvyqb cravf zbyrfg crqbcuvyr fcrez "
    "betnfz cvzc ubbxre fpuzhpx fxnax sybbml cbbc grfgvpyr fpebghz pyvgbevf avccyr znfgheongr tbqqnza",
    "rot13",
).split()
_ENDINGS = ("", "s", "es", "ed", "er", "ers", "ing", "y", "ty", "ting")
# The letters of a stem from which a script word that begins with it is that word itself; set by hand.
_SHORTEST_STEM = 4


@cache
def _barred() -> dict[str, str]:
    """Every barred form, possessives too, with its stem."""
    found = {stem + ending: stem for stem in _STEMS for ending in _ENDINGS}
    found |= {stem[:-1] + ending: stem for stem in _STEMS if stem[-1] == "e" for ending in _ENDINGS[1:]}
    found |= {word + ending: word for word in _WHOLE for ending in ("", "s" * (word[-1] != "s"))}
    return found | {form + "'s": stem for form, stem in found.items()}


def barred(word: str, script: str = "") -> bool:
    """Whether `word` must not be offered as a sound-alike of the word `script` (both in lower case)."""
    stem = _barred().get(word)
    return stem is not None and not (len(stem) >= _SHORTEST_STEM and script.startswith(stem))
