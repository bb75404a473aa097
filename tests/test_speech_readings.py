"""Other readings of the words heard: thought of, asked of the sound, and weighed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from dictate.language.candidates import LexiconProposer
from dictate.lexicon import load
from dictate.speech import readings
from dictate.speech.readings import Candidate, Proposed, Weights, candidates, differences, gains, weighed, written
from dictate.speech.wordfile import transcript_of_json, words_json
from dictate.speech.words import Transcript, Word

# The gain alone decides: even where both fit as well.
BY_GAIN = Weights(0.0, (1.0, 0, 0, 0, 0, 0, 0, 0), (0.0, 1.0), (0.0, 1.0))


def heard(text: str, probability: float = 0.9) -> tuple[Word, ...]:
    """The words of a text, half a second each."""
    return tuple(Word(w, i / 2, i / 2 + 0.5, probability) for i, w in enumerate(text.split()))


def ear(spoken: str):
    """A sound in which just these words were said: each of them is likely, every other one is not."""

    def ask(texts: Sequence[Sequence[str]]) -> list[list[float]]:
        said = [readings.bare(w) for w in spoken.split()]
        return [[-0.1 if readings.bare(w) in said else -6.0 for w in text] for text in texts]

    return ask


@pytest.fixture(autouse=True)
def by_gain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readings, "weights", lambda: BY_GAIN)


@pytest.mark.parametrize(
    ("first", "other", "wanted"),
    [
        ("the left eye", "the right eye", [(1, 2, ("right",))]),
        ("pay tellers track", "patellas track", [(0, 2, ("patellas",))]),
        ("no discharge seen", "discharge seen", [(0, 2, ("discharge",))]),
        ("Clear, both.", "clear both", []),
        ("one two three four five six", "a b c d e f", []),
    ],
)
def test_differences_of_two_texts_for_one_sound(first: str, other: str, wanted: list[object]) -> None:
    """Where two texts differ is told with the words of both; marks are no difference, and long stretches are left."""
    assert list(differences(first.split(), other.split())) == wanted


def test_what_several_think_of_is_one_candidate() -> None:
    """The same other reading from the beam and from the lexicon is asked about once, with what speaks for it."""
    (one,) = candidates(
        heard("mild diffusion here"), ["mild effusion here"], [Proposed(1, 2, "effusion", 0.8, "sound")]
    )
    assert (one.first, one.last, one.words) == (1, 2, ("effusion",))
    assert one.likeness == 0.8 and one.thought_of and not one.confused


def test_a_reading_keeps_marks_and_capitals() -> None:
    """A reading is written as what it takes the place of: with its capital and its closing mark."""
    assert written(Candidate(0, 2, ("patellas", "track")), ["Pay", "tellers,"]) == ("Patellas", "track,")


def test_the_sound_decides() -> None:
    """The reading that the sound bears out takes the place of what was heard, which is remembered; another one does
    not, and readings apart are judged apart."""
    words = heard("Pay tellers track well on both sides now and the left stifle is mine")
    wanted = [Candidate(0, 2, ("patellas",)), Candidate(10, 11, ("right",))]
    ask = ear("patellas track well on both sides now and the left stifle is mine")
    final = weighed(words, wanted, gains(words, wanted, ask))
    text = [w.text for w in final if w is not None]
    assert text[:2] == ["Patellas", "track"] and "left" in text and "right" not in text
    first = final[0]
    assert first is not None and final[1] is None
    assert (first.heard, first.start, first.end) == ("Pay tellers", 0.0, 1.0)
    assert [r.text for r in first.readings] == ["Pay tellers"]


def test_what_may_be_so_stands_as_a_reading() -> None:
    """A reading that fits nearly as well leaves the word, stands beside it, and makes it less sure."""
    words = heard("the left eye")

    def ask(texts: Sequence[Sequence[str]]) -> list[list[float]]:
        return [[-0.1, -1.0 if "left" in text else -1.5, -0.1] for text in texts]

    wanted = [Candidate(1, 2, ("right",))]
    final = weighed(words, wanted, gains(words, wanted, ask))
    word = final[1]
    assert word is not None and word.text == "left" and not word.heard
    assert [r.text for r in word.readings] == ["right"]
    assert word.probability == pytest.approx(1 - word.readings[0].probability)
    assert word.probability < 0.9


def test_gains_are_those_of_each_candidate_alone() -> None:
    """What is gained by a candidate does not hang on what else is asked about."""
    words = heard("a b c d e f g h i j k l")
    wanted = [Candidate(0, 1, ("x",)), Candidate(0, 2, ("y",)), Candidate(8, 9, ("z",))]

    def ask(texts: Sequence[Sequence[str]]) -> list[list[float]]:
        return [[{"x": -1.0, "y": -2.0, "z": -3.0}.get(w, -0.5) for w in text] for text in texts]

    assert gains(words, wanted, ask) == pytest.approx([gains(words, [one], ask)[0] for one in wanted])
    assert gains(words, wanted, ask)[2] == pytest.approx(-2.5)


def test_a_term_of_the_practice_is_thought_of_at_once(tmp_path: Path) -> None:
    """A word that a practice adds to its lexicon is proposed for what sounds like it, the day it is added."""
    words = heard("The left gland of harder roo is swollen", 0.4)
    shipped = LexiconProposer(None, load().rule_set)
    assert not any("harderu" in p.text for p in shipped(words))
    (tmp_path / "site_words.csv").write_text("words,site,side,number,note\nharderu,eye,,,\n", encoding="utf-8")
    own = LexiconProposer(tmp_path, load(tmp_path).rule_set)
    assert own.name != shipped.name
    assert any(p.text == "harderu" and words[p.first].text == "harder" for p in own(words))


def test_words_that_turn_what_is_said_are_asked_about_when_unsure() -> None:
    """A side heard unsurely is asked about; one heard surely only in the thorough way."""
    rule_set = load().rule_set
    for probability, always, wanted in ((0.6, False, True), (0.99, False, False), (0.99, True, True)):
        found = LexiconProposer(None, rule_set, always=always)(heard("the left eye", probability))
        assert any((p.first, p.text) == (1, "right") for p in found) is wanted


def test_readings_survive_the_file_of_words() -> None:
    """A word with its readings and what was heard first comes back from JSON as it was."""
    (word,) = weighed(heard("tellers"), [Candidate(0, 1, ("patellas",))], [5.0])
    assert word is not None
    talk = Transcript((word,), word.text, "0" * 64)
    (again,) = transcript_of_json(words_json(talk)).words
    assert (again.text, again.heard) == ("patellas", "tellers")
    assert [r.text for r in again.readings] == [r.text for r in word.readings]


def test_shipped_weights_prefer_what_the_sound_bears_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fitted weights rise with the gain, and a word's calibrated probability rises with its raw one."""
    monkeypatch.undo()
    shipped = readings.weights()
    assert shipped.signals[0] > 0
    assert list(shipped.right) == sorted(shipped.right) and list(shipped.raw) == sorted(shipped.raw)
    assert readings.calibrated(1.0, shipped) > 0.9 > readings.calibrated(0.1, shipped)
