"""Old and poetic words that neither the dictionary nor a rule has, each with its phones.

Written by hand from common knowledge of how verse is read aloud (common practice, no source); the phones are
in the dictionary's ARPAbet. A word may have several pronunciations, separated by " / ", the likeliest first.
"""

from __future__ import annotations

from functools import cache

_OLD_FORMS = """
obedience OW0 B IY1 D IY0 AH0 N S / OW0 B IY1 D Y AH0 N S
disobedience D IH2 S OW0 B IY1 D IY0 AH0 N S / D IH2 S OW0 B IY1 D Y AH0 N S
contumely K AA1 N T UW0 M IH0 L IY0 / K AA1 N T UW0 M L IY0
contumelies K AA1 N T UW0 M IH0 L IY0 Z
quietus K W AY0 IY1 T AH0 S
alarum AH0 L AA1 R AH0 M / AH0 L EH1 R AH0 M
alarums AH0 L AA1 R AH0 M Z
curtail K ER0 T EY1 L / K ER1 T EY0 L
curtailed K ER0 T EY1 L D / K ER1 T EY0 L D
curtail'd K ER0 T EY1 L D / K ER1 T EY0 L D
phaethon F EY1 AH0 TH AH0 N / F EY1 TH AH0 N
phaeton F EY1 AH0 T AH0 N / F EY1 T AH0 N
hyperion HH AY0 P IH1 R IY0 AH0 N / HH AY2 P ER0 AY1 AH0 N
niobe N AY1 OW0 B IY0
sepulchre S EH1 P AH0 L K ER0 / S AH0 P AH1 L K ER0
importune IH2 M P AO0 R T UW1 N / IH0 M P AO1 R T UW0 N
importuned IH2 M P AO0 R T UW1 N D / IH0 M P AO1 R T UW0 N D
aspect AE1 S P EH2 K T / AE0 S P EH1 K T
aspects AE1 S P EH2 K T S / AE0 S P EH1 K T S
revenue R EH1 V AH0 N UW2 / R IH0 V EH1 N Y UW0
revenues R EH1 V AH0 N UW2 Z / R IH0 V EH1 N Y UW0 Z
obdurate AA1 B D ER0 AH0 T / AH0 B D UH1 R AH0 T
sojourn S OW1 JH ER0 N / S OW0 JH ER1 N
perspective P ER0 S P EH1 K T IH0 V / P ER1 S P EH0 K T IH0 V
canonized K AE1 N AH0 N AY2 Z D / K AH0 N AA1 N AY0 Z D
persever P ER0 S EH1 V ER0
perseverance P ER2 S AH0 V IH1 R AH0 N S / P ER0 S EH1 V ER0 AH0 N S
commendable K AH0 M EH1 N D AH0 B AH0 L / K AA1 M AH0 N D AH0 B AH0 L
detestable D IH0 T EH1 S T AH0 B AH0 L / D EH1 T AH0 S T AH0 B AH0 L
character K EH1 R IH0 K T ER0 / K ER0 AE1 K T ER0
confiscate K AA1 N F AH0 S K EY2 T / K AH0 N F IH1 S K AH0 T
exile EH1 G Z AY2 L / EH0 G Z AY1 L
record R AH0 K AO1 R D / R EH1 K ER0 D
records R AH0 K AO1 R D Z / R EH1 K ER0 D Z
complete K AH0 M P L IY1 T / K AA1 M P L IY0 T
extreme EH0 K S T R IY1 M / EH1 K S T R IY0 M
supreme S AH0 P R IY1 M / S UW1 P R IY0 M
obscure AH0 B S K Y UH1 R / AA1 B S K Y UH0 R
profane P R OW0 F EY1 N / P R OW1 F EY0 N
secure S IH0 K Y UH1 R / S IY1 K Y UH0 R
divine D IH0 V AY1 N / D IH1 V AY0 N
forlorn F ER0 L AO1 R N / F AO1 R L AO0 R N
entire EH0 N T AY1 ER0 / EH1 N T AY0 ER0
portent P AO1 R T EH2 N T / P AO0 R T EH1 N T
compact K AA1 M P AE0 K T / K AH0 M P AE1 K T
instinct IH1 N S T IH2 NG K T / IH0 N S T IH1 NG K T
ilium IH1 L IY0 AH0 M
hesperus HH EH1 S P ER0 AH0 S
ozymandias AA2 Z IY0 M AE1 N D IY0 AH0 S / AA2 Z IY0 M AE1 N D Y AH0 S
adonais AE2 D OW0 N EY1 AH0 S
galilean G AE2 L AH0 L IY1 AH0 N
galileans G AE2 L AH0 L IY1 AH0 N Z
compunctious K AH0 M P AH1 NG K SH AH0 S
orgulous AO1 R G Y AH0 L AH0 S
multitudinous M AH2 L T AH0 T UW1 D AH0 N AH0 S
incarnadine IH0 N K AA1 R N AH0 D AY2 N
our AW1 R
ours AW1 R Z
hour AW1 R / AW1 ER0
hours AW1 R Z / AW1 ER0 Z
leant L EH1 N T
marvelled M AA1 R V AH0 L D
upbraid AH0 P B R EY1 D
towards T AH0 W AO1 R D Z / T AO1 R D Z
toward T AH0 W AO1 R D / T AO1 R D
prayer P R EH1 R / P R EY1 ER0
prayers P R EH1 R Z / P R EY1 ER0 Z
languor L AE1 NG G ER0
languors L AE1 NG G ER0 Z
gyre JH AY1 R
wretched R EH1 CH IH0 D
beloved B IH0 L AH1 V IH0 D / B IH0 L AH1 V D
blessed B L EH1 S T / B L EH1 S IH0 D
winged W IH1 NG D / W IH1 NG IH0 D
cursed K ER1 S T / K ER1 S IH0 D
learned L ER1 N D / L ER1 N IH0 D
aged EY1 JH D / EY1 JH IH0 D
faery F EH1 R IY0
faerie F EH1 R IY0
aerial EH1 R IY0 AH0 L
trochee T R OW1 K IY0
goodnight G UH2 D N AY1 T
poesy P OW1 AH0 Z IY0
naiad N AY1 AE0 D
naiads N AY1 AE0 D Z
dryad D R AY1 AE0 D
lethean L IY0 TH IY1 AH0 N
elysian IH0 L IH1 ZH AH0 N / IH0 L IH1 Z IY0 AH0 N
elysium IH0 L IH1 Z IY0 AH0 M
hesperides HH EH0 S P EH1 R AH0 D IY2 Z
proserpine P R AH0 S ER1 P AH0 N / P R AA1 S ER0 P AY2 N
endymion EH0 N D IH1 M IY0 AH0 N
orpheus AO1 R F IY0 AH0 S
o'er AO1 R
o're AO1 R
ore AO1 R
e'er EH1 R
ne'er N EH1 R
ne're N EH1 R
where'er W EH0 R EH1 R
whate'er W AH0 T EH1 R
whatsoe'er W AH0 T S OW0 EH1 R
whene'er W EH0 N EH1 R
whoe'er HH UW0 EH1 R
howe'er HH AW0 EH1 R
ta'en T EY1 N
e'en IY1 N
ev'n IY1 V N
'een IY1 N
i' IH0
o' AH0
th' DH
wi' W IH0 TH
a' AO1
t' T
ha' HH AE0
'a AH0
gi'e G IH1
thro' TH R UW0
tho' DH OW0
thro TH R UW0
tho DH OW0
altho' AO0 L DH OW1
'twere T W ER1
'twill T W IH1 L
'twould T W UH1 D
'twixt T W IH1 K S T
'tis T IH1 Z
'twas T W AH1 Z
t'was T W AH1 Z
't'is T IH1 Z
't T
'd D
'scape S K EY1 P
'pon P AA1 N
'gan G AE1 N
'gainst G EH1 N S T
'mid M IH1 D
'midst M IH1 D S T
'mong M AH1 NG
'mongst M AH1 NG S T
'neath N IY1 TH
'fore F AO1 R
'fraid F R EY1 D
'ware W EH1 R
'larum L EH1 R AH0 M
'em AH0 M
ye Y IY1
thee DH IY1
thou DH AW1
thou'rt DH AW1 R T
thou'lt DH AW1 L T
you'ld Y UW1 D
th'art DH AA1 R T
thy DH AY1
thine DH AY1 N
thyself DH AY0 S EH1 L F
hath HH AE1 TH
hast HH AE1 S T
hadst HH AE1 D S T
doth D AH1 TH
dost D AH1 S T
didst D IH1 D S T
wast W AA1 S T
wert W ER1 T
wilt W IH1 L T
shalt SH AE1 L T
canst K AE1 N S T
mayst M EY1 S T
may'st M EY1 S T
wouldst W UH1 D S T
would'st W UH1 D S T
couldst K UH1 D S T
could'st K UH1 D S T
shouldst SH UH1 D S T
should'st SH UH1 D S T
mightst M AY1 T S T
might'st M AY1 T S T
must'st M AH1 S T
saith S EH1 TH
sayst S EY1 S T
ere EH1 R
erst ER1 S T
erstwhile ER1 S T W AY2 L
whilst W AY1 L S T
amidst AH0 M IH1 D S T
amongst AH0 M AH1 NG S T
betwixt B IH0 T W IH1 K S T
twixt T W IH1 K S T
athwart AH0 TH W AO1 R T
aught AO1 T
naught N AO1 T
nought N AO1 T
oft AO1 F T
anon AH0 N AA1 N
alas AH0 L AE1 S
alack AH0 L AE1 K
ay AY1 / EY1
aye AY1
hark HH AA1 R K
hither HH IH1 DH ER0
thither DH IH1 DH ER0
whither W IH1 DH ER0
hence HH EH1 N S
thence DH EH1 N S
whence W EH1 N S
methinks M IY0 TH IH1 NG K S
methought M IY0 TH AO1 T
prithee P R IH1 DH IY0
forsooth F ER0 S UW1 TH
perchance P ER0 CH AE1 N S
mayhap M EY0 HH AE1 P
whenas W EH0 N AE1 Z
whereas W EH0 R AE1 Z
o OW1
oh OW1
ah AA1
lo L OW1
nay N EY1
yea Y EY1
yon Y AA1 N
yonder Y AA1 N D ER0
whereat W EH0 R AE1 T
thereat DH EH0 R AE1 T
wherein W EH0 R IH1 N
therein DH EH0 R IH1 N
whereon W EH0 R AA1 N
thereon DH EH0 R AA1 N
whereof W EH0 R AH1 V
thereof DH EH0 R AH1 V
whereto W EH0 R T UW1
thereto DH EH0 R T UW1
wherewith W EH0 R W IH1 TH
therewith DH EH0 R W IH1 TH
whereby W EH0 R B AY1
thereby DH EH0 R B AY1
whereupon W EH1 R AH0 P AA2 N
thereupon DH EH1 R AH0 P AA2 N
wherefore W EH1 R F AO0 R
therefore DH EH1 R F AO0 R
heretofore HH IH2 R T AH0 F AO1 R
evermore EH2 V ER0 M AO1 R
nevermore N EH2 V ER0 M AO1 R
forevermore F ER0 EH2 V ER0 M AO1 R
nothing N AH1 TH IH0 NG
wherever W EH0 R EH1 V ER0
whoever HH UW0 EH1 V ER0
withal W IH0 DH AO1 L
somewhat S AH1 M W AH2 T
ope OW1 P
oped OW1 P T
morn M AO1 R N
eve IY1 V
eventide IY1 V AH0 N T AY2 D
verdurous V ER1 D Y ER0 AH0 S
fain F EY1 N
wot W AA1 T
wist W IH1 S T
ken K EH1 N
quoth K W OW1 TH
clomb K L OW1 M
spake S P EY1 K
brake B R EY1 K
bade B AE1 D
durst D ER1 S T
list L IH1 S T
swoon S W UW1 N
dirge D ER1 JH
pard P AA1 R D
yclept IH0 K L EH1 P T
dreamt D R EH1 M T
leapt L EH1 P T
learnt L ER1 N T
wroth R AO1 TH
wrath R AE1 TH
bough B AW1
boughs B AW1 Z
hoary HH AO1 R IY0
leas L IY1 Z
lea L IY1
mead M IY1 D
meads M IY1 D Z
sward S W AO1 R D
zephyr Z EH1 F ER0
nymph N IH1 M F
halcyon HH AE1 L S IY0 AH0 N
empyrean EH2 M P AY0 R IY1 AH0 N
cherubim CH EH1 R AH0 B IH0 M
seraphim S EH1 R AH0 F IH0 M
seraph S EH1 R AH0 F
philomel F IH1 L AH0 M EH2 L
lethe L IY1 TH IY0
hecate HH EH1 K AH0 T IY0 / HH EH1 K AH0 T
philomela F IH2 L AH0 M IY1 L AH0
"""
_SHORTEST_HALF = 4  # letters of half of a compound; a shorter half must be in `_SHORT_HALVES`


@cache
def _table() -> dict[str, tuple[tuple[str, ...], ...]]:
    rows = (row.split(" ", 1) for row in _OLD_FORMS.strip().splitlines())
    return {word: tuple(tuple(each.split()) for each in rest.split(" / ")) for word, rest in rows}


def old_forms(word: str) -> tuple[tuple[str, ...], ...]:
    """The pronunciations of `word` in this table, likeliest first; empty if it is not in it."""
    return _table().get(word, ())


# words of three letters that occur in compounds; no other three letters are taken for half of one
_SHORT_HALVES = """
sea sun eye ice oak sky day god boy man men top low war air arm ash bed bee big bow box bud car cat
cow cup dew dog dry ear egg elm end far fen fir fly foe fog fox fur gap gem gun hat hay hen her hid
him hip hoe hot hut ink ivy jaw joy key lap law lay led leg lid lip log lot mad map mid mud net new
nut old one our out owl own pan paw pen pig pin pit pot rag ram rat raw ray red rib rim rob rod row
rue run rye sad saw say set shy sin sit six ski tan tar tax tea ten tie tin tip toe ton tow toy two
use van vow way web wet who win wit yew for all any off
"""


@cache
def _short_halves() -> frozenset[str]:
    return frozenset(_SHORT_HALVES.split())


def may_join(half: str) -> bool:
    """Whether `half` looks like one half of a compound word."""
    return len(half) >= _SHORTEST_HALF or half in _short_halves()
