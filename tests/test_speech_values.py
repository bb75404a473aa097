"""Words, their files, their cache and the guard against loops: all with words made by hand, no model."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.errors import InputError
from dictate.speech import Gap, Reading, SoundNote, Transcript, Unheard, Word, transcript_of_json, words_json
from dictate.speech.cache import cache_file, keep_transcript, kept_transcript
from dictate.speech.guard import kept, without_loops
from dictate.speech.recogniser import Heard, whole_words

seconds = st.integers(0, 10_000_000).map(lambda ms: ms / 1000)
shares = st.integers(0, 10_000).map(lambda n: n / 10_000)
texts = st.text(min_size=1, max_size=12).map(str.strip).filter(bool)


@st.composite
def transcripts(draw):
    """Transcripts as the speech step makes them: times to the millisecond, probabilities to four places."""
    words = []
    for text, start, length, sure in draw(st.lists(st.tuples(texts, seconds, seconds, shares), max_size=6)):
        readings = draw(st.lists(st.builds(Reading, texts, shares), max_size=2))
        words.append(Word(text, start, round(start + length, 3), sure, tuple(readings)))
    gaps = draw(st.lists(st.builds(Gap, seconds, seconds, texts), max_size=2))
    note = draw(st.none() | st.builds(SoundNote, seconds, st.just(tuple(gaps)), st.lists(texts, max_size=2).map(tuple)))
    unheard = draw(
        st.lists(st.builds(Unheard, seconds, seconds, st.sampled_from(["silence", "no words"]), texts), max_size=2)
    )
    settings = draw(st.dictionaries(texts, texts, max_size=3))
    return Transcript(tuple(words), " ".join(w.text for w in words), draw(texts), note, settings, tuple(unheard))


@given(transcripts())
def test_words_survive_their_file(transcript):
    """A transcript written as JSON and read again is the same transcript."""
    assert transcript_of_json(json.loads(json.dumps(words_json(transcript)))) == transcript


def test_words_of_another_program_are_read():
    """A bare list of words, without anything else, is a transcript too."""
    found = transcript_of_json({"words": [{"text": " clear,", "start": 0.5, "end": 1}]})
    assert found.words == (Word("clear,", 0.5, 1.0, 1.0),) and found.text == "clear," and found.sound is None


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ([], "no transcript"),
        ({"words": "ear"}, "no transcript"),
        ({"words": [], "schema": "words/9"}, "another kind"),
        ({"words": [{"text": "ear", "start": 0}]}, r"words\[0\]"),
        ({"words": [{"text": "ear", "start": 0, "end": 1}, {"text": "", "start": 0, "end": 1}]}, r"words\[1\]"),
        ({"words": [{"text": "ear", "start": 2, "end": 1}]}, r"words\[0\]"),
        ({"words": [{"text": "ear", "start": float("nan"), "end": 1}]}, r"words\[0\]"),
        ({"words": [], "sound": {"seconds": 3}}, "damaged"),
        ({"words": [], "settings": [1]}, "damaged"),
    ],
)
def test_other_json_is_refused_with_its_place(value, says):
    """What is no transcript is refused in one line that names the file and the place."""
    with pytest.raises(InputError, match=says) as error:
        transcript_of_json(value, where="exam.words.json")
    assert "exam.words.json" in str(error.value) and "\n" not in str(error.value)


def some_transcript() -> Transcript:
    words = (Word("ears", 0.1, 0.4, 0.9), Word("clean.", 0.5, 0.9, 0.8))
    return Transcript(words, "ears clean.", "abc", SoundNote(1.5), {"model": "base"}, (Unheard(1.0, 1.4, "silence"),))


def test_cache_gives_back_what_it_keeps(tmp_path):
    """A kept transcript comes back whole, for its own sound and settings alone."""
    path = cache_file(tmp_path, "abc", {"model": "base"})
    assert kept_transcript(path, "abc") is None
    keep_transcript(path, some_transcript())
    assert kept_transcript(path, "abc") == some_transcript()
    assert kept_transcript(path, "other") is None
    assert cache_file(tmp_path, "abc", {"model": "tiny.en"}) != path
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == [path]


def test_every_damaged_byte_of_a_cache_file_is_noticed(tmp_path):
    """A cache file with any byte changed, or cut anywhere, is passed over or read right, and can be written anew."""
    path = cache_file(tmp_path, "abc", {})
    keep_transcript(path, some_transcript())
    data = path.read_bytes()
    for at in range(len(data)):
        path.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
        assert kept_transcript(path, "abc") in (None, some_transcript())
        path.write_bytes(data[:at])
        assert kept_transcript(path, "abc") is None
    keep_transcript(path, some_transcript())
    assert kept_transcript(path, "abc") == some_transcript()


def test_cache_that_cannot_be_written_does_no_harm(tmp_path):
    """Where the cache folder is a file, keeping does nothing and raises nothing."""
    (tmp_path / "words").write_text("in the way")
    path = cache_file(tmp_path, "abc", {})
    keep_transcript(path, some_transcript())
    assert kept_transcript(path, "abc") is None


def spoken(text: str) -> tuple[Word, ...]:
    return tuple(Word(t, i * 0.4, i * 0.4 + 0.3, 0.9) for i, t in enumerate(text.split()))


def test_pieces_become_whole_words():
    """A piece without a space before it belongs to the word before, with the lower of the two probabilities."""
    found = whole_words(
        [(" 38", 0.0, 0.4, 0.9), (".9,", 0.4, 0.7, 0.6), (" clear.", 0.8, 1.1, 1.2), (" ", 1.1, 1.2, 0.5)]
    )
    assert found == (Word("38.9,", 0.0, 0.7, 0.6), Word("clear.", 0.8, 1.1, 1.0))


def test_loop_is_cut_to_one_round_and_listed():
    """A sentence that comes again and again is kept once; the rest is listed with its text and its time."""
    words = spoken("ears clean. " + "the left eye is clear. " * 5 + "no discharge.")
    stay, dropped = without_loops(words)
    assert " ".join(w.text for w in stay) == "ears clean. the left eye is clear. no discharge."
    (loop,) = dropped
    assert (loop.kind, loop.start, loop.end) == ("not kept", words[7].start, words[26].end)
    assert loop.text.startswith("the left eye is clear.")


@pytest.mark.parametrize(
    "text", ["good good good boy", "no, no, no, no.", "2 2 2 2 2 2 2", "left ear clean, right ear clean, nose clean"]
)
def test_what_people_say_twice_stays(text):
    """Emphasis, rows of numbers and like phrases in a row are no loops."""
    words = spoken(text)
    assert without_loops(words) == (words, ())


@given(st.lists(st.sampled_from(["ear", "left", "no", "7"]), max_size=40))
def test_every_word_is_kept_or_listed(texts):
    """The guard loses nothing: kept words and the words listed add up to all of them, in time and number."""
    words = spoken(" ".join(texts))
    stay, dropped = without_loops(words)
    lost = [w for w in words if w not in stay]
    assert all(any(u.start <= w.start and w.end <= u.end for u in dropped) for w in lost)
    assert len(lost) == len(words) - len(stay)
    assert without_loops(stay)[0] == stay or len(stay) < len(words)


def test_text_where_nobody_spoke_is_listed_and_not_kept():
    """A segment that the recogniser itself holds for no speech is listed with its text; a sure one stays."""
    unlikely = Heard(spoken("thanks for watching"), 1.0, -1.4, 0.9)
    sure = Heard(spoken("gums pink"), 1.0, -0.3, 0.9)
    found = kept((unlikely, sure))
    assert [w.text for w in found.words] == ["gums", "pink"]
    assert [(u.kind, u.text) for u in found.dropped] == [("not kept", "thanks for watching")]


def test_importing_the_package_loads_nothing_heavy():
    """`import dictate.speech` and `import dictate.sound` bring neither numpy nor the recogniser nor FFmpeg."""
    import subprocess
    import sys

    heavy = "('numpy', 'av', 'faster_whisper')"
    code = f"import sys, dictate.speech, dictate.sound; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
