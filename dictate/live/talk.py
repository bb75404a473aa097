"""The words of a talk while it grows, and what is read of them.

Words are of three kinds: careful ones (heard as the final draft will hear them), settled ones (an utterance heard at
once), and provisional ones of the utterance that is being spoken. Reading takes time that grows with the words, so what
lies far back is read once and kept; only the last minutes are read anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from dictate.exam.statements import Evidence, PatientTold, Reading, Remark, Statement, Unplaced
from dictate.speech.words import SoundNote, Transcript, Word

READ_ANEW, KEPT_AT_ONCE, AROUND = 420, 220, 60  # words
SURE = 0.75  # probability that a word of the quick hearing is given where its utterance was heard well
UNDECIDED = 1  # last words of an utterance that is still spoken: later ones decide about them

Read = Callable[[Transcript], Reading]


@dataclass(frozen=True, slots=True)
class Talk:
    """All words so far, in order. The first `careful` are final; the first `kept` were read for good, as `reading`."""

    words: tuple[Word, ...] = ()
    careful: int = 0
    reach: float = 0.0
    provisional: tuple[Word, ...] = ()
    kept: int = 0
    reading: Reading = field(default_factory=Reading)

    def settled(self, words: Sequence[Word]) -> Talk:
        """An utterance has ended. Nothing is provisional now."""
        return replace(self, words=(*self.words, *words), provisional=())

    def heard_carefully(self, words: Sequence[Word], reach: float) -> Talk:
        """The words up to the second `reach` in the place of what was heard at once."""
        if reach <= self.reach:
            return self
        rest = tuple(w for w in self.words[self.careful :] if (w.start + w.end) / 2 >= reach)
        return replace(self, words=(*words, *rest), careful=len(words), reach=reach)

    @property
    def shown(self) -> tuple[Word, ...]:
        """The words to be read: all settled ones, and those provisional ones that later words have followed."""
        return (*self.words, *self.provisional[: max(0, len(self.provisional) - UNDECIDED)])


def spread(text: str, start: float, end: float, score: float) -> tuple[Word, ...]:
    """The words of an utterance with times by their letters: the quick hearing gives none of its own."""
    parts = text.split()
    letters = sum(len(p) + 1 for p in parts)
    sure = SURE if score > -0.6 else 0.5
    words, at = [], start
    for part in parts:
        length = (end - start) * (len(part) + 1) / max(1, letters)
        words.append(Word(part, round(at, 3), round(at + length, 3), sure))
        at += length
    return tuple(words)


def transcript_of(words: Sequence[Word], name: str) -> Transcript:
    """A transcript of words so far; `name` stands for the source's hash, so that ids stay the same while it grows."""
    seconds = words[-1].end if words else 0.0
    return Transcript(tuple(words), " ".join(w.text for w in words), name, SoundNote(seconds))


def read_growing(talk: Talk, read: Read, name: str) -> tuple[Talk, Transcript, Reading]:
    """The talk (with more of it read for good, where it has grown), all its words, and what they say."""
    while talk.careful - talk.kept > READ_ANEW:
        talk = _keep(talk, read, name)
    words = talk.shown
    whole = transcript_of(words, name)
    if not talk.kept:
        return talk, whole, read(whole)
    begin = max(0, talk.kept - AROUND)
    part = read(transcript_of(words[begin:], name))
    floor = _place(words, talk.kept)
    moved = _moved(part, _place(words, begin), whole.text)
    return talk, whole, _joined(talk.reading, _between(moved, floor, len(whole.text) + 1))


def _keep(talk: Talk, read: Read, name: str) -> Talk:
    """Read some more words for good. Only careful ones are: what stands before them never changes again."""
    begin, until = max(0, talk.kept - AROUND), talk.kept + KEPT_AT_ONCE
    words = talk.words[begin : until + AROUND]
    whole = " ".join(w.text for w in talk.words)
    moved = _moved(read(transcript_of(words, name)), _place(talk.words, begin), whole)
    found = _between(moved, _place(talk.words, talk.kept), _place(talk.words, until))
    return replace(talk, kept=until, reading=_joined(talk.reading, found) if talk.kept else found)


def _place(words: Sequence[Word], index: int) -> int:
    """The character at which a word begins."""
    return sum(len(w.text) + 1 for w in words[:index])


def _moved(reading: Reading, by: int, text: str) -> Reading:
    def moved(e: Evidence) -> Evidence:
        return Evidence(text[e.char_start + by : e.char_end + by], e.char_start + by, e.char_end + by)

    return replace(
        reading,
        statements=tuple(replace(s, evidence=tuple(map(moved, s.evidence))) for s in reading.statements),
        unplaced=tuple(Unplaced(moved(u.evidence), u.why) for u in reading.unplaced),
        remarks=tuple(Remark(r.section, moved(r.evidence)) for r in reading.remarks),
    )


def _between(reading: Reading, floor: int, top: int) -> Reading:
    """What begins between two characters, half-open."""

    def inside(evidence: Sequence[Evidence]) -> bool:
        return floor <= max((e.char_start for e in evidence), default=floor) < top

    statements: tuple[Statement, ...] = tuple(s for s in reading.statements if inside(s.evidence))
    return replace(
        reading,
        statements=statements,
        unplaced=tuple(u for u in reading.unplaced if inside([u.evidence])),
        remarks=tuple(r for r in reading.remarks if inside([r.evidence])),
    )


def _joined(a: Reading, b: Reading) -> Reading:
    names = PatientTold.__dataclass_fields__
    told = {n: getattr(a.patient, n) if getattr(a.patient, n) is not None else getattr(b.patient, n) for n in names}
    return Reading(
        patient=PatientTold(**told),
        encounter=a.encounter if a.encounter != type(a.encounter)() else b.encounter,
        statements=(*a.statements, *b.statements),
        unplaced=(*a.unplaced, *b.unplaced),
        remarks=(*a.remarks, *b.remarks),
    )
