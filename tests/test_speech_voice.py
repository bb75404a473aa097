"""Where speech is, how it is cut into chunks, and how times are brought back: on probabilities made by hand."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.sound import RATE, sound_of
from dictate.speech import SpeechSettings
from dictate.speech.listen import _heard, _in_order, _moved, _wordless
from dictate.speech.recogniser import Heard
from dictate.speech.voice import Stretch, chunks, gain_for, original_time, passages, silences
from dictate.speech.words import Unheard, Word

STEP = 512 / RATE


def probabilities(*parts: tuple[float, float]) -> np.ndarray:
    """Probabilities of speech from (seconds, probability) one after the other."""
    return np.concatenate([np.full(round(s / STEP), p, dtype=np.float32) for s, p in parts])


runs = st.lists(st.tuples(st.floats(0.1, 50), st.sampled_from([0.01, 0.3, 0.6, 0.99])), min_size=1, max_size=12)


def test_passages_keep_short_answers_and_join_short_pauses():
    """A word of 0.2 s is a passage; a pause of 0.3 s splits nothing, one of 2 s does."""
    p = probabilities((3, 0), (0.2, 1), (4, 0), (1, 1), (0.3, 0), (1, 1), (2, 0), (1, 1), (3, 0))
    found = passages(p, threshold=0.35, seconds=len(p) * STEP)
    assert [round(s.length, 1) for s in found] == [0.8, 2.9, 1.6]
    assert found[0].start == pytest.approx(2.7, abs=0.05)


@given(runs)
def test_all_speech_lies_in_a_chunk(parts):
    """Every frame that is speech lies in some chunk; chunks keep the order, never overlap, never grow too long."""
    p = probabilities(*parts)
    seconds = len(p) * STEP
    speech = passages(p, threshold=0.5, seconds=seconds)
    rows = chunks(speech, p, longest=30)
    flat = [s for row in rows for s in row]
    assert all(0 <= s.start < s.end <= seconds + 1e-6 for s in flat)
    assert all(a.end <= b.start + 1e-9 for a, b in pairwise(flat))
    assert all(sum(s.length for s in row) <= 30 + 1e-6 for row in rows)
    for i in np.flatnonzero(p >= 0.5):
        middle = (i + 0.5) * STEP
        assert any(s.start - STEP <= middle <= s.end + STEP for s in flat)


def test_long_speech_is_cut_at_its_quietest():
    """A passage longer than a chunk is cut where speech is least likely in the last third of what fits."""
    p = probabilities((24, 0.9), (0.1, 0.4), (26, 0.9))
    rows = chunks(passages(p, threshold=0.3, seconds=len(p) * STEP), p, longest=30)
    assert len(rows) == 2
    assert rows[0][-1].end == pytest.approx(24.05, abs=0.1)


@given(st.lists(st.tuples(st.floats(0, 9), st.floats(0.5, 9)), min_size=1, max_size=6), st.floats(0, 0.99))
def test_times_come_back_to_where_they_were(parts, share):
    """A time in a chunk is found again in the whole sound: the way there and back ends where it began."""
    row, at = [], 0.0
    for pause, length in parts:
        row.append(Stretch(at + pause, at + pause + length))
        at += pause + length
    total = sum(s.length for s in row)
    time = share * total
    found = original_time(tuple(row), time)
    before = sum(min(s.length, max(0.0, found - s.start)) for s in row)
    assert before == pytest.approx(time, abs=1e-6)


def test_word_across_a_joint_stays_in_its_stretch():
    """A word whose end reaches into the next stretch ends with its own: no word of many minutes spans a pause."""
    row = (Stretch(10, 12), Stretch(60, 64))
    word = _moved(Word("clear", 1.5, 2.3, 0.9), row)
    assert (word.start, word.end) == (11.5, 12.0)
    word = _moved(Word("ears", 1.9, 2.9, 0.9), row)
    assert (word.start, word.end) == (60.0, 60.9)


def test_words_stand_in_order_inside_the_sound():
    """Starts never go back, ends never come before starts or after the end of the sound."""
    words = [Word("a", 1.0, 1.5, 1), Word("b", 0.9, 1.2, 1), Word("c", 4.9, 9.0, 1)]
    found = _in_order(words, 5.0)
    assert [(w.start, w.end) for w in found] == [(1.0, 1.5), (1.0, 1.2), (4.9, 5.0)]


def test_speech_without_words_is_listed():
    """Two seconds of speech in which no word was heard are listed; what is listed already is not listed again."""
    speech = (Stretch(0, 10), Stretch(20, 23))
    words = (Word("ears", 0.4, 4.0, 1), Word("clean", 7.5, 9.6, 1))
    assert _wordless(speech, words, []) == [Unheard(4.0, 7.5, "no words"), Unheard(20, 23, "no words")]
    assert _wordless(speech[1:], (), [Unheard(20.2, 22.8, "not kept", "so so")]) == []


def test_what_lies_between_is_silence_or_noise():
    """A loud stretch without speech is noise, a quiet one silence; pauses under two seconds are not listed."""
    t = np.arange(RATE * 20) / RATE
    sound = np.where(t < 5, 0.3, np.where(t < 10, 0.2, np.where(t < 11, 0.0, np.where(t < 14, 0.3, 0.0001))))
    sound = sound_of((sound * np.sin(2 * np.pi * 300 * t)).astype(np.float32))
    found = silences(sound, (Stretch(0, 5), Stretch(11, 14)))
    assert found == (Unheard(5.0, 11.0, "noise"), Unheard(14.0, 20.0, "silence"))


def test_quiet_sound_is_raised_and_loud_sound_left_alone():
    """The gain brings faint sound up, by at most thirty dB, and never turns loud sound down."""
    t = np.arange(RATE * 3) / RATE
    tone = np.sin(2 * np.pi * 300 * t).astype(np.float32)
    assert gain_for(sound_of(0.5 * tone)) == 1.0
    assert 5 < gain_for(sound_of(0.01 * tone)) < 10
    assert gain_for(sound_of(0.0001 * tone)) == 32.0


class Scripted:
    """A recogniser that gives words by a script: `hinted` with a hint, `plain` without."""

    def __init__(self, hinted, plain):
        self.hinted, self.plain, self.calls = hinted, plain, 0

    def hear(self, _samples, settings):
        self.calls += 1
        return self.hinted if settings.hotwords else self.plain


def test_hint_that_drops_speech_is_left_off():
    """Where the hint leaves seconds of speech without words, the chunk is heard again without it and the fuller result
    kept; where it does not, it is heard once."""
    full = Heard(tuple(Word(f"w{i}", i * 1.0, i + 0.9, 0.9) for i in range(10)), 1.0, -0.2, 0.0)
    half = Heard(full.words[:4], 1.0, -0.2, 0.0)
    row, samples = (Stretch(5, 15),), np.zeros(RATE * 10, dtype=np.float32)
    hinted = SpeechSettings(hotwords="cornea")
    for first, second, calls, words in ((half, full, 2, 10), (full, half, 1, 10), (half, half, 2, 4)):
        scripted = Scripted((first,), (second,))
        assert len(_heard(scripted, samples, row, hinted).words) == words
        assert scripted.calls == calls
    scripted = Scripted((full,), (half,))
    assert len(_heard(scripted, samples, row, SpeechSettings(hotwords="")).words) == 4 and scripted.calls == 1
