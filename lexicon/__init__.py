"""The vocabulary: plain tables that a veterinarian can read and extend, and one small typed loader."""

from dictate.lexicon.loader import load
from dictate.lexicon.tables import Lexicon

__all__ = ["Lexicon", "load"]
