"""The word error count of the measuring script against jiwer (PyPI, 4.x)."""

import sys
from pathlib import Path

import jiwer
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

from measure_own_recordings import word_errors

WORDS = st.lists(
    st.sampled_from(["left", "right", "ear", "clean", "no", "murmur", "thirty", "eight", "node"]), max_size=25
)


@settings(deadline=None, max_examples=300)
@given(WORDS.filter(bool), WORDS)
def test_word_errors_agree_with_jiwer(said: list[str], heard: list[str]) -> None:
    """The number of wrong words and of words said are those that jiwer counts."""
    errors, words = word_errors(" ".join(said), " ".join(heard))
    theirs = jiwer.process_words(" ".join(said), " ".join(heard))
    assert errors == theirs.substitutions + theirs.deletions + theirs.insertions
    assert words == theirs.hits + theirs.substitutions + theirs.deletions
    assert errors / words == theirs.wer
