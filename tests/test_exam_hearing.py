"""From characters to seconds, and words heard with low probability."""

from __future__ import annotations

from dataclasses import replace

from exam_cases import kinds, said, settled, spoken
from hypothesis import given
from hypothesis import strategies as st

from dictate.exam.context import ExamSettings
from dictate.exam.hearing import Hearing
from dictate.exam.statements import Doubt, Measure
from dictate.speech.words import Reading

TEXT = "So the left elbow is rather thick today"


def thick(unsure: dict[str, float], **more: float) -> list[str]:
    statement = said(TEXT, "left elbow is rather thick", "elbow", "left", status="abnormal", finding="thickening")
    transcript = spoken(TEXT, unsure=unsure)
    return kinds(settled(statement, transcript=transcript, settings=ExamSettings(**more))[0])  # type: ignore[arg-type]


def test_unsure_word_that_counts_is_doubted() -> None:
    """A side, site or finding heard with low probability is doubted; a function word is not."""
    assert thick({"left": 0.1}) == ["heard with low probability"]
    assert thick({"rather": 0.1, "is": 0.01}) == []
    assert thick({}) == []


def test_thresholds_are_settings() -> None:
    """The probabilities below which words are doubted can be set, for words of the lexicon and for strange ones."""
    assert thick({"elbow": 0.5}) == []
    assert thick({"elbow": 0.5}, heard_below=0.6) == ["heard with low probability"]
    assert strange(0.45) == ["heard with low probability"]
    assert strange(0.45, strange_below=0.4) == []


def strange(probability: float, **more: float) -> list[str]:
    text = "left elbow grumtious"
    statement = said(text, text, "elbow", "left", status="abnormal", finding="thickening")
    transcript = spoken(text, unsure={"grumtious": probability})
    return kinds(settled(statement, transcript=transcript, settings=ExamSettings(**more))[0])  # type: ignore[arg-type]


def test_a_reading_that_took_the_place_of_what_was_heard_is_doubted_unless_it_is_sure() -> None:
    """Where the sound bore out another reading than the first, a statement resting on it is asked about, and what was
    heard first is among the answers; a reading as good as certain stands."""
    statement = said(TEXT, "left elbow is rather thick", "elbow", "left", status="abnormal", finding="thickening")
    for probability, wanted in ((0.7, ["heard with low probability"]), (0.95, [])):
        transcript = spoken(TEXT)
        words = tuple(
            replace(w, heard="elder", probability=probability, readings=(Reading("elder", 1 - probability),))
            if w.text == "elbow"
            else w
            for w in transcript.words
        )
        (found,) = settled(statement, transcript=replace(transcript, words=words))
        assert kinds(found) == wanted
        assert all(d.choices == ("as heard", "elder", "something else") for d in found.doubts)


def test_numeral_under_a_value_is_doubted() -> None:
    """A numeral heard unsurely is doubted where the observation is a value."""
    text = "weight is 23.4 kilos"
    statement = said(text, text, "weight", value=Measure(23.4, "kg"))
    transcript = spoken(text, unsure={"234": 0.4})
    assert kinds(settled(statement, transcript=transcript)[0]) == ["heard with low probability"]


def test_reading_that_is_doubted_as_a_whole_is_not_doubted_twice() -> None:
    """A statement already doubted as a whole gets no second doubt; one with an open side does."""
    transcript = spoken(TEXT, unsure={"elbow": 0.1})
    whole = said(TEXT, "elbow is rather thick", "elbow", "left", doubts=(Doubt("reading", "May be teaching."),))
    no_side = said(TEXT, "elbow is rather thick", "elbow")
    assert kinds(settled(whole, transcript=transcript)[0]) == ["reading"]
    assert kinds(settled(no_side, transcript=transcript)[0]) == ["side", "heard with low probability"]


def test_doubt_names_the_word() -> None:
    """The message names the unsure word, and a word outside the evidence is none of its business."""
    statement = said(TEXT, "elbow is rather thick", "elbow", "left", status="abnormal", finding="thickening")
    transcript = spoken(TEXT, unsure={"left": 0.1, "elbow": 0.2})
    (doubt,) = settled(statement, transcript=transcript)[0].doubts
    assert "elbow" in doubt.message
    assert "left" not in doubt.message


@given(st.lists(st.text("abc,.", min_size=1, max_size=6), min_size=1, max_size=12), st.data())
def test_seconds_of_a_stretch_are_those_of_its_words(words: list[str], data: st.DataObject) -> None:
    """The seconds of a stretch of characters reach from its first word's start to its last word's end."""
    transcript = spoken(" ".join(words))
    first = data.draw(st.integers(0, len(words) - 1))
    last = data.draw(st.integers(first, len(words) - 1))
    start = len(" ".join(words[:first])) + (1 if first else 0)
    end = len(" ".join(words[: last + 1]))
    assert transcript.text[start:end] == " ".join(words[first : last + 1])
    assert Hearing(transcript.words).seconds(start, end) == (first, last + 1)


def test_a_text_has_no_seconds() -> None:
    """Evidence from a text has characters and no seconds."""
    assert Hearing(()).seconds(0, 5) == (None, None)
