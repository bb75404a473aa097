"""The ways of working, by the same names everywhere: what each means for how speech is heard.

quick      the likeliest words alone
default    the best of five ways; where a word was heard unsurely the sound is asked about others
thorough   sides, denials and numbers are asked about too, however surely they were heard
"""

from __future__ import annotations

from pathlib import Path

from dictate.speech.settings import SpeechSettings, Way


def speech_settings(
    model: str = "base", *, plain: bool = False, way: Way = "default", lexicon: Path | None = None, threads: int = 0
) -> SpeechSettings:
    """How speech is heard in a way of working, with the tables of a practice (a folder, or None) in mind."""
    if way == "quick":
        return SpeechSettings(model=model, plain=plain, beam=1, threads=threads)
    from dictate.language.candidates import LexiconProposer
    from dictate.lexicon import load

    proposer = LexiconProposer(lexicon, load(lexicon).rule_set, always=way == "thorough")
    return SpeechSettings(model=model, plain=plain, proposer=proposer, threads=threads)
