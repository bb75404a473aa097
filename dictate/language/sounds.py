"""How words sound, roughly: spelling to a string of sounds, and how far two such strings lie apart.

No pronouncing dictionary: a fifth of the lexicon's words stand in none. Rules of English spelling in one table, those
of Latin and Greek words among them ("ph", "ae", "rh", "pn"), one character a sound. Some letters are said in two ways
("ch" in chin and in echo): the way that is not written here costs little in `distance`.
"""

from __future__ import annotations

import re
from functools import lru_cache

VOWELS = frozenset("aeiou")
# Longest first at each place. A leading ^ holds at a word's beginning only, a trailing $ at its end only.
# Sounds: 0 th, S sh, C ch, J as in judge; vowels a e i o u stand for all vowels near them; the rest as written.
SPELT = """
^gn=n ^kn=n ^pn=n ^ps=s ^pt=t ^wr=r ^wh=w ^x=z ^mn=n ^rh=r ^sch=sk
tion=San sion=San cian=San cious=Sas tious=Sas xious=kSas ture=Cr ough=o augh=a eigh=e igh=i
tch=C sch=sk chr=kr chl=kl chth=k0 phth=f0 ph=f th=0 sh=S ch=C ck=k qu=kw gh=g rh=r rrh=r wh=w
cce=kse cci=ksi cc=k sce=se sci=si scy=si ce=se ci=si cy=si cae=si coe=si
ge=Je gi=Ji gy=Ji gge=ge ggi=gi gg=g dge=Je dgi=Ji
c=k q=k x=ks y=i
ae=i oe=i ea=i ee=i ei=i ie=i ey=i ai=e ay=e oa=o ow=o au=o aw=o oo=u ou=u ew=u ue=u ui=u oi=o oy=o eu=u
mb$=m mn$=m le$=al ng$=n ngs$=ns ngue$=n ngues$=ns gue$=g que$=k
"""
_FIRST: dict[str, str] = {}
_LAST: dict[str, str] = {}
_ANY: dict[str, str] = {}
for _rule in SPELT.split():
    _letters, _, _sounds = _rule.partition("=")
    if _letters.startswith("^"):
        _FIRST[_letters[1:]] = _sounds
    elif _letters.endswith("$"):
        _LAST[_letters[:-1]] = _sounds
    else:
        _ANY[_letters] = _sounds
_CHANGES_SOUND = ("ce", "ge", "ie", "ee", "ae", "oe", "ue", "le", "ye")  # a last e that is more than silent
_NOT_LETTERS = re.compile(r"[^a-z]")


@lru_cache(maxsize=20000)
def sounds(word: str) -> str:
    """The sounds of one written word of any case; marks and digits say nothing."""
    word = _NOT_LETTERS.sub("", word.lower())
    if len(word) > 3 and word.endswith("e") and not word.endswith(_CHANGES_SOUND) and set(word[:-1]) & set("aeiouy"):
        word = word[:-1]
    out: list[str] = []
    at = 0
    while at < len(word):
        for length in (5, 4, 3, 2, 1):
            piece = word[at : at + length]
            if len(piece) < length:
                continue
            sound = None
            if at == 0:
                sound = _FIRST.get(piece)
            if sound is None and at + length == len(word):
                sound = _LAST.get(piece)
            if sound is None:
                sound = _ANY.get(piece)
            if sound is None and length == 1:
                sound = _single(word, at)
            if sound is not None:
                out.append(sound)
                at += length
                break
    return re.sub(r"(.)\1+", r"\1", "".join(out))


def _single(word: str, at: int) -> str:
    letter = word[at]
    following = word[at + 1 : at + 2]
    if letter in "hw" and following not in "aeiouy":
        return ""
    if letter == "w" and not following:
        return ""
    return letter


def skeleton(of_sounds: str) -> str:
    """The consonants alone, in a few classes that are easily taken for one another; r, h, w left out, doubles once."""
    return re.sub(r"(.)\1+", r"\1", of_sounds.translate(_CLASSES))


_CLASSES = str.maketrans("pbtd0kgmnfvszSCJjl", "pptttkkmmffssssssl", "rhwyaeiou")

NEAR = {
    frozenset(pair): cost
    for pairs, cost in (
        ("sz SC SJ CJ sS td", 0.25),
        ("pb kg fv mn", 0.3),
        ("0f 0t 0d 0s kC gJ zJ sC dJ tC kS zS v0", 0.4),
        ("lr wv wr lw bv bm pf ks kt pt gd bd dn tn bw nl fp vm gk yJ", 0.6),
    )
    for pair in pairs.split()
}
SAME_VOWEL, LOST_VOWEL, LOST_CONSONANT, OTHER = 0.25, 0.35, 0.8, 1.0
LOST = {"r": 0.4, "h": 0.3, "w": 0.45, "y": 0.3, "t": 0.6, "d": 0.6, "n": 0.7}


def lost(sound: str) -> float:
    """The cost of a sound that stands on one side only."""
    return LOST_VOWEL if sound in VOWELS else LOST.get(sound, LOST_CONSONANT)


@lru_cache(maxsize=2000)
def taken_for(a: str, b: str) -> float:
    """The cost of one sound taken for another."""
    if a == b:
        return 0.0
    if a in VOWELS and b in VOWELS:
        return SAME_VOWEL
    if (a in VOWELS) != (b in VOWELS):
        return OTHER + 0.2
    return NEAR.get(frozenset((a, b)), OTHER)


def distance(a: str, b: str) -> float:
    """The least cost of turning one string of sounds into the other; 0 for the same."""
    losses = [lost(s) for s in b]
    row = [0.0]
    for cost in losses:
        row.append(row[-1] + cost)
    for one in a:
        gone = lost(one)
        before, row[0] = row[0], row[0] + gone
        for j, other in enumerate(b):
            best = min(before + taken_for(one, other), row[j + 1] + gone, row[j] + losses[j])
            before, row[j + 1] = row[j + 1], best
    return row[-1]


def likeness(a: str, b: str) -> float:
    """1 for the same sounds, about 0 for sounds that have nothing to do with one another."""
    whole = (sum(map(lost, a)) + sum(map(lost, b))) / 2
    return max(0.0, 1 - distance(a, b) / whole) if whole else 0.0
