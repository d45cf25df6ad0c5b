"""The word lists for the signals, all written for this project.

The classes are those of the grammars: contrastive conjuncts and concessive subordinators as in Quirk,
Greenbaum, Leech & Svartvik (A Comprehensive Grammar of the English Language, 1985, chapters 8 and 15; class
names from memory), and the verbs of saying and thinking that begin the attribution units of Carlson & Marcu's
Discourse Tagging Reference Manual (2001).
"""

from __future__ import annotations

_SAYING = """
accept add admit advise affirm agree allege announce answer argue ask assert assume assure aver avow bawl
beg believe bellow boast brag bet calculate call charge claim comment complain concede conclude confess
confirm conjecture consider cry decide declare decree deduce demand deny discover dream emphasize estimate
exclaim expect explain fancy fear feel figure find forget gasp groan growl grumble guess hear hint hold
hope imagine imply inform inquire insist judge know lament learn maintain mean mention murmur mutter note
notice notify object observe perceive plead pray predict presume pretend proclaim promise pronounce
prophesy propose protest prove read realise realize reason recall reckon recollect recognize reflect
remark remember remind repeat reply report resolve respond retort reveal say scream see sense shout show
shriek sigh signal snap sob stammer state stress submit suggest suppose surmise suspect swear tell testify
think understand urge utter vow warn whimper whisper wish wonder write yell worry regret doubt
"""
_IRREGULAR = {
    "say": "said", "tell": "told", "think": "thought", "know": "knew known", "feel": "felt",
    "hear": "heard", "see": "saw seen", "find": "found", "understand": "understood", "mean": "meant",
    "write": "wrote written", "read": "read", "forget": "forgot forgotten", "swear": "swore sworn",
    "hold": "held", "dream": "dreamt", "learn": "learnt", "show": "shown", "bet": "bet", "beg": "begged",
}  # fmt: skip
_SHORTEST_STEM = 3  # letters
CONTENT_LETTERS = 3  # the shortest word that counts as content; set by hand


def _listed(text: str) -> list[str]:
    return text.split()


def words_in(text: str) -> frozenset[str]:
    """The words of a string, divided at spaces."""
    return frozenset(text.split())


def _inflected(verb: str) -> set[str]:
    stem = verb[:-1] if verb.endswith("e") else verb
    if verb.endswith("y") and verb[-2] not in "aeiou":
        forms = {verb[:-1] + "ies", verb[:-1] + "ied", verb + "ing"}
    else:
        forms = {verb + ("es" if verb[-2:] in ("sh", "ch", "ss") else "s"), stem + "ed", stem + "ing"}
    if verb in ("beg", "bet", "brag", "admit", "submit", "sob", "snap", "forget"):
        forms |= {verb + verb[-1] + "ing", verb + verb[-1] + "ed"}
    return forms | {verb} | set(_IRREGULAR.get(verb, "").split())


SAYING = frozenset(form for verb in _SAYING.split() for form in _inflected(verb))
"""Verbs of saying, thinking and perceiving, with their forms."""

CONTRAST_CONJUNCTS = (
    "however", "nevertheless", "nonetheless", "instead", "rather", "still", "then again", "on the other hand",
    "on the contrary", "at least", "of course", "in fact", "all the same", "even so", "no doubt",
    "by contrast", "conversely", "contrariwise", "for all that", "at the same time", "only", "except that",
    "essentially",
)  # fmt: skip
"""Conjuncts and disjuncts that set a sentence against the one before (Quirk et al. 8.135-147)."""

ONLY_BEFORE_BUT = words_in(
    "nothing none all anything anyone no nobody be is are was were been 's 'tis held can cannot could "
    "last next everything everyone else who what where"
)
"""Words after which `but` means except or only: `nothing but the truth`, `this is but a dream`."""

NEGATIONS = words_in(
    "not no never none nothing nobody nor neither nowhere cannot without hardly scarcely n't"
)

AUXILIARIES = words_in(
    "is are was were am do does did has have had can could will would shall should may might must ca "
    "wo 'tis it's"
)

PAIRS = (
    ("one", "another"), ("one", "the other"), ("one", "other"), ("some", "others"), ("some", "other"),
    ("former", "latter"), ("first", "second"), ("mine", "his"), ("mine", "hers"), ("mine", "yours"),
    ("his", "mine"), ("his", "hers"), ("hers", "his"), ("my", "his"), ("my", "your"), ("your", "my"),
    ("here", "there"), ("then", "now"), ("once", "now"), ("yesterday", "today"), ("today", "tomorrow"),
    ("this", "that"), ("these", "those"), ("those", "others"), ("i", "you"), ("you", "i"), ("we", "they"),
    ("they", "we"), ("he", "she"), ("she", "he"), ("father", "mother"), ("mother", "father"),
    ("brother", "sister"), ("sister", "brother"), ("man", "woman"), ("men", "women"), ("some", "some"),
    ("he", "i"), ("i", "he"), ("she", "i"), ("i", "she"), ("they", "i"), ("i", "they"),
)  # fmt: skip
"""Two members of a pair: the second at the start of a unit answers the first."""

_OPPOSED = tuple(
    (a, b)
    for a, b in (pair.split("/") for pair in _listed(
    "good/bad good/evil good/ill best/worst better/worse light/dark light/darkness day/night "
    "life/death live/die lived/died living/dead alive/dead love/hate loved/hated love/hatred "
    "friend/enemy friends/enemies friend/foe friends/foes war/peace hope/despair hope/fear joy/sorrow "
    "joy/grief laugh/weep laughed/wept smile/frown rich/poor wealth/poverty young/old youth/age "
    "new/old hot/cold fire/ice fire/water heaven/hell heaven/earth god/man truth/lie truth/lies "
    "true/false right/wrong right/left win/lose won/lost find/lose found/lost lose/keep lost/kept "
    "give/take gave/took "
    "rise/fall rose/fell up/down high/low first/last begin/end began/ended beginning/end come/go "
    "came/went past/future past/present before/after always/never all/none all/nothing "
    "everything/nothing everyone/nobody many/few more/less most/least great/small big/little "
    "large/small long/short strong/weak strength/weakness brave/afraid courage/fear wise/foolish "
    "wisdom/folly wisdom/foolishness sweet/bitter sweet/sour soft/hard slow/fast slow/quick "
    "early/late near/far inside/outside within/without above/below open/closed open/shut white/black "
    "clean/dirty pure/foul spring/winter summer/winter morning/evening dawn/dusk sleep/wake "
    "asleep/awake remember/forget remembered/forgot speak/listen public/private succeed/fail "
    "succeeded/failed success/failure worked/failed work/fail belief/doubt belief/incredulity "
    "faith/doubt free/slave freedom/slavery liberty/tyranny friend/stranger together/alone "
    "same/different build/destroy create/destroy mercy/justice body/soul flesh/spirit kind/cruel "
    "innocent/guilty buried/praise bury/praise"
))
)  # fmt: skip
OPPOSITES: dict[str, set[str]] = {}
for _one, _other in _OPPOSED:
    OPPOSITES.setdefault(_one, set()).add(_other)
    OPPOSITES.setdefault(_other, set()).add(_one)
"""For each word the words that are opposed to it in an antithesis."""

AFTER_SO = words_in(
    "let be is are was were do does did shall may might will would much many long far well too"
)
"""After these words `so` means "in this way" or "so very": it does not introduce a result."""

STOP_WORDS = words_in(
    "the a an and or but of to in on at by for with from as is are was were be been am do does did "
    "has have had not no never i you he she it we they me him her us them my your his its our their "
    "this that these those there here so if then than when where who whom which what will would shall "
    "should can could may might must into onto upon up down out off over under about again just only "
    "very too also all any some one n't don't didn't doesn't isn't wasn't aren't weren't can't won't "
    "couldn't wouldn't shouldn't haven't hasn't hadn't cannot it's that's he's she's i'm you're we're "
    "they're i've we've you've i'd he'd she'd we'd they'd"
)

ADDRESSED = words_in(
    "sir sirs madam ma'am lord lords lady ladies gentlemen gentleman friend friends countrymen "
    "countryman citizens citizen comrade comrades brother brothers sister sisters father mother son "
    "daughter child children king queen prince majesty grace highness captain doctor master mistress "
    "sweet love darling dear dearest heart fool villain knave rogue wretch traitor tyrant gods god "
    "heaven heavens death time night sleep muse spirit spirits soldiers people neighbours neighbors "
    "colleagues guests students graduates speaker president senator boy boys girl girls cousin nurse "
    "nuncle coz wife husband man men"
)
"""Nouns that people are called by when spoken to, and what a speech calls on (apostrophe)."""


SELF = words_in("heart soul brain eyes eye tongue knees thoughts hand hands spirit self mind bosom")
"""What a speaker who speaks to himself calls on."""


NO_TOPICS = words_in(
    "god god's jove heaven heaven's faith sooth troth mercy sake lord od's swounds leave "
    "way course fact whiles whence wherein whereof whereto hence hither thither ay nay lo fie ha nothing "
    "nobody somebody anybody everybody anything something everything one"
)
"""Nouns that name nothing to speak of: oaths, cries, old link words, anybody and anything."""


def stem(word: str) -> str:
    """A word without its common endings, to find it again: `blood`, `bloods`; `speak`, `speaks`."""
    for ending in ("'s", "ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= _SHORTEST_STEM:
            return word[: -len(ending)].rstrip("e")
    return word.rstrip("e")
