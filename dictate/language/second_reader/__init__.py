"""The second reader: a small trained model that reads stretches of exam talk into roles, sites, findings and sides.

It reads with the whole talk around a stretch, in wording that no list holds; it knows nothing of rules, and its word
alone places nothing for certain. How it was trained stands in `model/labels.json` under `training`.
"""

from dictate.language.second_reader.reader import FLOOR, SecondReader, load
from dictate.language.second_reader.values import Outcome, SiteReading, StretchReading

__all__ = ["FLOOR", "Outcome", "SecondReader", "SiteReading", "StretchReading", "load"]
