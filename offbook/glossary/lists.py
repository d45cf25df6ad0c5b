"""The hand-made lists behind "words worth a look": one word a row, a bar, and a few words of help.

All written for offbook, from general knowledge of the language; they are prompts to look a word up,
not a dictionary. Where a row has no help after its bar, the reader is told to look it up.
"""

from __future__ import annotations

from functools import cache

# Gone from ordinary speech.
ARCHAIC = """
'tis|it is
'twas|it was
'twere|it were
'twill|it will
afeard|afraid
alack|a cry of regret
alarum|a call to arms
anon|soon, at once
art|(thou) are
aught|anything
avaunt|away with you
aye|yes; or: always, where it rhymes with day
beget|to be the father of; to bring about
begone|go away
behest|command
beseech|beg
betimes|early, in good time
betwixt|between
bodkin|a small dagger; a long pin
bounteous|giving freely
bourn|a limit, a boundary; or a stream
calumny|slander
canst|(thou) can
chide|scold
churl|a rude or mean fellow
clime|region, its weather
contumely|insulting words or manner, contempt
couldst|(thou) could
cozen|cheat
didst|(thou) did
dost|(thou) do
doth|does
durst|dared
eld|old age; days long gone
ere|before
erst|formerly
ewer|a water jug
fadge|turn out, succeed
fain|gladly
fardel|a burden, a pack
fie|shame!
forsooth|in truth, often mocking
forswear|swear falsely; give up on oath
forsworn|having sworn falsely
gainsay|deny
gloaming|dusk
gramercy|many thanks
hadst|(thou) had
haply|perhaps
hark|listen
hast|(thou) have
hath|has
hearken|listen
hence|from here
henceforth|from now on
hie|hurry
hoar|white with age or frost
hither|to here
howbeit|nevertheless
ken|knowledge, range of sight
knave|rogue; earlier: a boy, a servant
lackaday|a cry of regret
lief|gladly
liege|lord
mayst|(thou) may
meed|reward
methinks|it seems to me
methought|it seemed to me
morrow|morning, the next day
naught|nothing
nay|no
ne'er|never
nigh|near
oft|often
orison|a prayer
peradventure|perhaps
perchance|perhaps
prate|talk on and on
prithee|I pray you, please
puissant|powerful
quietus|the closing of an account; release from life
quoth|said
recreant|coward, one who breaks faith
scullion|the lowest kitchen servant
sennight|a week
shalt|(thou) shall
shouldst|(thou) should
sirrah|sir, to an inferior
sooth|truth
spake|spoke
steed|horse
sufferance|patient endurance; leave
swain|a country lad, a lover
tarry|wait, linger
thee|you, one person, as the object
thence|from there
thine|your, yours
thither|to there
thou|you, one person: close, or to an inferior
thrice|three times
thy|your
troth|faith, truth
trow|believe
twain|two
unto|to
verily|truly
vestal|chaste; of a virgin goddess
visage|a face
wast|(thou) were
weeds|also: clothes
welkin|the sky
wert|(thou) were
whence|from where
whereat|at which
wherefore|why, not where
whilom|once, formerly
whither|to where
whoso|whoever
wight|a person
wilt|(thou) will
withal|with it, besides
woe|grief
wot|know
wouldst|(thou) would
wroth|angry
wrought|worked, made
ye|you
yea|yes, indeed
yon|over there
yonder|over there
yore|long ago
zounds|an oath: by God's wounds; rhymes with wounds or hounds
"""

# Still used, but an older text may mean something else by it.
CHANGED = """
abuse|deceive
accident|whatever happens
admiration|astonishment
admire|wonder at
affect|love, lean towards
angle|to fish, a fishing hook
apparent|plain, certain
artificial|made with skill
awful|filling with awe
bent|also the furthest a bow is drawn
brave|fine, splendid
censure|judgement, not always blame
character|handwriting
cheer|face, mood
closet|a private room
clown|a countryman
coil|turmoil, fuss
complexion|temperament
conceit|thought, fancy
condition|rank, character
confound|destroy
conscience|older also: inward thought
content|happy, or what is inside: the stress tells
conversation|way of life, company
courage|spirit, desire
cousin|any relative
crafty|skilled
cunning|skill, knowledge
defend|forbid
discover|reveal
doubt|fear, suspect
dudgeon|the handle of a dagger
ecstasy|madness
enlarge|set free
entertain|receive, keep
envy|malice
excrement|what grows out, hair
fair|beautiful; beauty
fancy|love
fatal|fated
favor|face, looks
favour|face, looks
fond|foolish
fret|older also: wear away; decorate
gaudy|bright, festive
gentle|well born
glass|mirror
habit|dress
happy|lucky
heavy|sad
honest|chaste; honourable
humorous|moody
humour|mood, one of four body fluids
image|likeness, statue
increase|older also: children, offspring
indifferent|impartial
jealous|suspicious
kind|according to nature
large|generous
level|aim
livery|a servant's or a rank's dress
loon|a rogue, a fool
lusty|vigorous
luxury|lust
marry|as an oath: by Mary, indeed
meat|any food
mere|complete, utter
merely|utterly
mortal|older also: deadly
mortified|dead to the world
naughty|wicked, worth nothing
nice|over-particular, trivial
nunnery|a convent
owe|own
owes|owns
pall|older also: fail, grow stale
passing|very
peevish|foolish
perfect|complete; certain
physic|medicine
pitiful|full of pity
politic|shrewd
post|a messenger; in haste
practice|older also: a plot
pregnant|ready, full of meaning
present|at once, immediate
presently|at once
prevent|come before, forestall
proper|own; handsome
proud|older also: swollen, splendid
prove|test; turn out
purchase|get by any means
quaint|clever, elegant
quick|alive
rank|also: foul, overgrown
recover|reach
resolve|older also: dissolve, melt
reverend|deserving respect
rub|what gets in the way, as on a bowling green
rude|rough, untaught
sad|grave, serious
saucy|insolent
secure|careless, over-confident
sensible|able to feel
several|separate
shadow|older also: image, reflection
shift|older also: a way out, a trick
shrewd|sharp, harmful
silly|helpless, innocent
simple|plain; a healing herb
slander|older also: disgrace
soft|older also: wait, hold on
spirit|often one syllable in verse
spleen|temper, sudden passion
spurn|kick away; treat with scorn
stale|older also: a decoy
starve|die, of any cause
state|older also: throne, rank
still|always
strange|foreign
success|whatever follows, good or bad
sudden|rash
suffer|older also: allow
suggest|tempt
table|older also: writing tablet
tell|older also: count
tender|older also: value; offer
toward|older also: at hand; in verse one syllable or two
toys|trifles
translate|transform
unkind|unnatural
use|older also: interest on money
vail|lower
vulgar|of the common people
want|lack
wanton|playful, unrestrained
weed|a garment
wink|shut the eyes
wit|mind, good sense
witty|wise
worm|a snake
"""

# Said with another stress in older verse: the older stress with capitals.
STRESS = """
access|older verse: ac-CESS
antique|older verse: AN-tique
aspect|older verse: as-PECT
blasphemous|older verse: blas-PHE-mous
brazier|two syllables or three
character|older verse sometimes: cha-RAC-ter
charactered|older verse: cha-RAC-tered
commendable|older verse: COM-men-da-ble
commerce|older verse: com-MERCE
complete|before a noun older verse may have COM-plete
confessor|older verse: CON-fes-sor
conjure|CON-jure or con-JURE: the sense differs
contrary|older verse also: con-TRA-ry
corrosive|older verse: COR-ro-sive
defect|older verse: de-FECT
demonstrate|older verse also: de-MON-strate
detestable|older verse: DE-tes-ta-ble
edict|older verse: e-DICT
envious|two syllables or three
exile|older verse also: ex-ILE
extreme|before a noun older verse may have EX-treme
forlorn|before a noun older verse may have FOR-lorn
impious|IM-pi-ous
import|as a noun older verse: im-PORT
importune|older verse: im-POR-tune
instinct|older verse: in-STINCT
July|older verse: JU-ly
misconstrued|older verse: mis-CON-strued
obdurate|older verse: ob-DU-rate
obscure|before a noun older verse may have OB-scure
outrage|older verse sometimes: out-RAGE
perseverance|older verse: per-SE-ver-ance
persevere|older verse: per-SE-ver
portent|older verse: por-TENT
portents|older verse: por-TENTS
precepts|older verse also: pre-CEPTS
profane|before a noun older verse may have PRO-fane
prescience|PRE-science
quintessence|older verse: QUIN-tes-sence
record|as a noun older verse also: re-CORD
recordation|re-cor-DA-tion
relapse|re-LAPSE
revenue|older verse: re-VEN-ue
sepulchre|older verse also: se-PUL-chre
sequestered|older verse: SE-ques-tered
sinister|older verse: si-NIS-ter
sojourn|older verse: so-JOURN
successor|older verse: SUC-ces-sor
supreme|before a noun older verse may have SU-preme
triumphing|older verse: tri-UMPH-ing
welcome|older verse sometimes: wel-COME
"""

# Spelt alike, said in two ways that mean different things.
HETERONYMS = """
abuse|ends in s (the noun) or z (the verb)
alternate|AL-ter-nate with a full last vowel (verb) or a weak one (adjective)
attribute|AT-tri-bute (noun) or at-TRI-bute (verb)
bass|rhymes with face (low voice) or mass (fish)
bow|rhymes with cow (bend, front of a ship) or low (weapon, knot)
bowed|rhymes with loud (bent the head) or road (curved)
bows|rhymes with cows (bends) or lows (weapons, knots)
close|ends in s (near) or z (shut, the end)
combat|COM-bat (noun) or com-BAT (verb)
conduct|CON-duct (noun) or con-DUCT (verb)
conflict|CON-flict (noun) or con-FLICT (verb)
console|con-SOLE (comfort) or CON-sole
content|con-TENT (satisfied) or CON-tent (what is inside)
contest|CON-test (noun) or con-TEST (verb)
contract|CON-tract (noun) or con-TRACT (verb)
converse|con-VERSE (talk) or CON-verse (the opposite)
convert|con-VERT (verb) or CON-vert (noun)
convict|con-VICT (verb) or CON-vict (noun)
deliberate|weak last vowel (on purpose) or a full one (to ponder)
desert|de-SERT (leave, what one deserves) or DES-ert (dry land)
digest|di-GEST (verb) or DI-gest (noun)
dove|rhymes with love (bird) or with stove (dived)
entrance|EN-trance (way in) or en-TRANCE (to charm)
estimate|weak last vowel (noun) or a full one (verb)
excuse|ends in s (noun) or z (verb)
exploit|EX-ploit (noun) or ex-PLOIT (verb)
extract|EX-tract (noun) or ex-TRACT (verb)
frequent|FRE-quent (often) or fre-QUENT (to visit)
gill|hard g (of a fish) or soft g (a measure)
graduate|weak last vowel (noun) or a full one (verb)
house|ends in s (noun) or z (verb)
impact|IM-pact (noun) or im-PACT (verb)
incense|IN-cense (perfume) or in-CENSE (to anger)
increase|IN-crease (noun) or in-CREASE (verb)
insult|IN-sult (noun) or in-SULT (verb)
intimate|weak last vowel (close) or a full one (to hint)
invalid|in-VAL-id (not valid) or IN-val-id (a sick person)
lead|rhymes with need (to guide) or with bed (metal)
live|rhymes with give (verb) or with five (alive)
lower|rhymes with slower (less high) or with flower (to scowl)
lives|rhymes with gives (verb) or with fives (noun)
minute|MIN-ute (time) or mi-NUTE (tiny)
moderate|weak last vowel (mild) or a full one (to calm)
mouth|ends in a breath (noun) or a hum (verb)
object|OB-ject (noun) or ob-JECT (verb)
perfect|PER-fect (flawless) or per-FECT (to complete)
permit|PER-mit (noun) or per-MIT (verb)
present|PRES-ent (here, a gift) or pre-SENT (to give)
produce|PRO-duce (noun) or pro-DUCE (verb)
progress|PRO-gress (noun) or pro-GRESS (verb)
project|PRO-ject (noun) or pro-JECT (verb)
protest|PRO-test (noun) or pro-TEST (verb)
read|rhymes with need (now) or with bed (past)
rebel|REB-el (noun) or re-BEL (verb)
record|REC-ord (noun) or re-CORD (verb)
refuse|REF-use (rubbish) or re-FUSE (say no)
row|rhymes with low (line, to pull oars) or with cow (quarrel)
separate|weak last vowel (apart) or a full one (to part)
sewer|one who sews, or a drain: the vowel differs
slough|rhymes with cow (bog) or with rough (to shed)
sow|rhymes with low (plant seed) or with cow (pig)
subject|SUB-ject (noun) or sub-JECT (verb)
suspect|SUS-pect (noun) or sus-PECT (verb)
tear|rhymes with dear (weeping) or with dare (to rip)
tears|rhymes with dears (weeping) or with dares (rips)
torment|TOR-ment (noun) or tor-MENT (verb)
transport|TRANS-port (noun) or trans-PORT (verb)
use|ends in s (noun) or z (verb)
wind|rhymes with pinned (moving air) or with kind (to turn)
winds|rhymes with pinned (air) or with kind (turns)
wound|rhymes with tuned (an injury) or with sound (turned)
wounds|rhymes with tuned (injuries)
"""

# Not English, though met in English speeches.
FOREIGN = """
addio|Italian: farewell
adieu|French: farewell
adios|Spanish: farewell
alea|Latin: a die, in "the die is cast"
amor|Latin or Spanish: love
apropos|French: to the point
au|French: to the, at the
benedicite|Latin: bless you
bravo|Italian: well done
carissima|Italian: dearest
carpe|Latin: seize, in carpe diem
caveat|Latin: let him beware
chanson|French: song
chez|French: at the house of
coup|French: a blow; the p is silent
cui|Latin: to whom
de|French or Latin: of, from
diem|Latin: day
ecce|Latin: behold
ennui|French: boredom
ergo|Latin: therefore
esprit|French: spirit, wit
et|Latin or French: and
exeunt|Latin: they go out
ibid|Latin: in the same place
laissez|French: let
liebe|German: love
madame|French: my lady
mea|Latin: my
mein|German: my
mon|French: my
monsieur|French: sir
naïve|French: artless
omnia|Latin: all things
pax|Latin: peace
per|Latin: through, by
quid|Latin: what
quo|Latin: whither
requiescat|Latin: may he rest
savoir|French: to know
señor|Spanish: sir
sic|Latin: thus
signor|Italian: sir
signora|Italian: madam
terra|Latin or Italian: earth
tu|Latin, French or Italian: thou
vale|Latin: farewell, two syllables; or English: valley
veni|Latin: I came
veritas|Latin: truth
vici|Latin: I conquered
vidi|Latin: I saw
voilà|French: there it is
"""

# Ordinary words too, unless "thou" is beside them.
NEEDS_THOU = frozenset(["art", "wilt", "wast"])

# Titles are capitals without being names.
TITLES = frozenset(["mr", "mrs", "ms", "dr", "miss", "sir", "lady", "lord", "king", "queen", "saint", "st"])

# Foreign words that are English ones too: they count only beside another foreign word.
NEEDS_COMPANY = frozenset(["au", "de", "et", "mon", "per", "quid", "quo", "tu", "vale", "mea", "alea"])


@cache
def help_table(rows: str) -> dict[str, str]:
    """One of the lists above as word -> help."""
    pairs = (row.partition("|") for row in rows.strip().splitlines())
    return {word.lower(): note for word, _, note in pairs}
