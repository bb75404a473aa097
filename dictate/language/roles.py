"""What a stretch of talk is for: an observation, or one of the kinds of talk that are none."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.language.marking import Marked
from dictate.language.vocabulary import Term

FACT = "observation"
SECTIONS = ("history", "plan", "advice", "procedures", "laboratory", "assessment", "general")
NEAR_START = 4  # tokens into a stretch within which a cue speaks for the rest of the sentence


@dataclass(frozen=True, slots=True)
class Role:
    """The role of one stretch and the cue that told it (None for an observation)."""

    name: str
    cue: Term | None = None

    @property
    def is_fact(self) -> bool:
        return self.name == FACT

    @property
    def certain(self) -> bool:
        """Whether the cue leaves no doubt: what it stands in is no observation, whatever the second reader thinks."""
        return self.cue is not None and self.cue.rows[0].reach == "stretch"


def roles(marked: Marked) -> tuple[Role, ...]:
    """One role for each stretch.

    A cue of reach `sentence` speaks for its whole sentence, `start` only where it opens the sentence, `rest` from its
    stretch to the end of the sentence, `clause` for its own stretch where it opens it, `stretch` wherever it is. The
    cue told last wins; a sentence-wide one gives way to those told by the stretch itself.
    """
    out: list[Role] = [Role(FACT)] * len(marked.stretches)
    by_sentence: dict[int, list[int]] = {}
    for i, stretch in enumerate(marked.stretches):
        by_sentence.setdefault(stretch.sentence, []).append(i)
    for members in by_sentence.values():
        wide: Role | None = None
        rest: Role | None = None
        for position, i in enumerate(members):
            stretch = marked.stretches[i]
            own: Role | None = None
            for cue in marked.cues_in(stretch, "cues"):
                row = cue.rows[0]
                into = cue.first - stretch.first
                if row.reach == "sentence":
                    wide = wide or Role(row.role, cue)
                elif row.reach == "start":
                    if position == 0 and into == 0:
                        rest = Role(row.role, cue)
                elif row.reach == "rest":
                    if into <= NEAR_START:
                        rest = Role(row.role, cue)
                elif into <= 1 or row.reach == "stretch":
                    own = Role(row.role, cue)
            out[i] = own or rest or Role(FACT)
        if wide:
            for i in members:
                if out[i].is_fact:
                    out[i] = wide
    return tuple(out)
