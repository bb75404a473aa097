"""What else than the words heard may have been meant: words of the lexicon that sound alike, and words confused.

For the speech step, which asks the sound (`dictate/speech/readings.py`). A term that a practice adds to its lexicon is
thought of from that day on.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from dictate.language.marking import Vocabulary, vocabulary
from dictate.language.pipeline import is_english
from dictate.language.repair import proposals
from dictate.lexicon import Lexicon, load
from dictate.speech.readings import Proposed, bare
from dictate.speech.words import Word

LIKE = 0.55  # likeness from which a word of the lexicon is thought of
UNSURE = 0.8  # words of ordinary English below this probability may be a term
CONFUSED = 0.9  # words of the table of confusions below this probability are asked about

# Changes whenever the same words may be given other proposals than before.
RULES = "1"


@dataclass(frozen=True, slots=True)
class LexiconProposer:
    """Proposes by the shipped tables and those of a folder laid over them.

    Args:
        lexicon: the folder of a practice's own tables, or None.
        rule_set: the content of the tables, as `Lexicon.rule_set` names it.
        always: words of the table of confusions are asked about however surely they were heard.
    """

    lexicon: Path | None
    rule_set: str
    always: bool = False

    @property
    def name(self) -> str:
        """What the proposals hang on."""
        return f"lexicon {self.rule_set}, rules {RULES}{', always' if self.always else ''}"

    def __call__(self, words: Sequence[Word]) -> tuple[Proposed, ...]:
        """Proposals for the words of a stretch of sound."""
        tables = load(self.lexicon)
        return (*self._alike(words, vocabulary(tables)), *self._confused(words, tables))

    def _alike(self, words: Sequence[Word], known: Vocabulary) -> Iterator[Proposed]:
        starts, at = [], 0
        for word in words:
            starts.append(at)
            at += len(word.text) + 1
        unsure = [(s, s + len(w.text)) for s, w in zip(starts, words, strict=True) if w.probability < UNSURE]
        text = " ".join(w.text for w in words)
        for change in proposals(text, known, known=is_english, least=LIKE, unsure=unsure):
            first, last = bisect_right(starts, change.start) - 1, bisect_left(starts, change.end)
            yield Proposed(first, last, change.meant, change.sure, change.how)

    def _confused(self, words: Sequence[Word], tables: Lexicon) -> Iterator[Proposed]:
        pairs: dict[str, list[str]] = {}
        for row in tables.confusions:
            pairs.setdefault(row.words, []).append(row.other)
            pairs.setdefault(row.other, []).append(row.words)
        for at, word in enumerate(words):
            if self.always or word.probability < CONFUSED:
                yield from (Proposed(at, at + 1, other, 0.0, "confusion") for other in pairs.get(bare(word.text), ()))
