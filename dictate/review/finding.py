"""Sites and findings by a few letters of any word that people use for them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from rapidfuzz import fuzz

from dictate.exam.anatomy import applies
from dictate.exam.record import Patient
from dictate.exam.statements import PatientTold
from dictate.lexicon.tables import Lexicon

ALIKE = 75.0  # per cent of likeness from which a misspelt word is still offered


def find_sites(letters: str, lexicon: Lexicon, *, patient: Patient | None = None, near: str = "") -> tuple[str, ...]:
    """The sites that the letters may mean, best first: names before lay words, beginnings before the middle, then what
    is spelt alike. Of equals those named in the words `near` come first. Without letters, only what `near` names.

    Sites that the patient cannot have are left out.
    """
    told = PatientTold(species=patient.species, sex=patient.sex) if patient else PatientTold()
    names = {site.site: [site.site] for site in lexicon.sites if applies(site, told)}
    for row in lexicon.site_words:
        if row.site in names:
            names[row.site].append(row.words)
    return _best(letters, names, near)


def find_findings(letters: str, site: str, lexicon: Lexicon, *, near: str = "") -> tuple[str, ...]:
    """The findings that the letters may mean, best first; of equals those usual for the site's region come first."""
    region = next((s.region for s in lexicon.sites if s.site == site), "")
    usual = sorted(lexicon.findings, key=lambda f: f.home != site and region not in f.where)
    names = {f.finding: [f.finding] for f in usual}
    for row in lexicon.finding_words:
        if row.finding in names and row.present is not False:
            names[row.finding].append(row.words)
    return _best(letters, names, near)


def _best(letters: str, names: dict[str, list[str]], near: str) -> tuple[str, ...]:
    letters = " ".join(letters.casefold().split())
    words = re.findall(r"\w+", near.casefold())
    named = {name for name, forms in names.items() if _named(forms, words)}
    if not letters:
        return tuple(name for name in names if name in named)
    ranks = {name: rank for name, forms in names.items() if (rank := _rank(letters, name, forms)) is not None}
    return tuple(sorted(ranks, key=lambda name: (ranks[name], name not in named)))


def _named(forms: Iterable[str], words: list[str]) -> bool:
    talk = f" {' '.join(words)} "
    return any(f" {form.casefold()} " in talk for form in forms)


def _rank(letters: str, name: str, forms: list[str]) -> tuple[int, int] | None:
    """How well the best form fits, (0, 0) best; of equals the shorter form is. None where nothing fits."""
    return min((rank for form in forms if (rank := _fit(letters, name, form.casefold())) is not None), default=None)


def _fit(letters: str, name: str, form: str) -> tuple[int, int] | None:
    if letters in (name, form):
        return (0, 0 if letters == name else 1)
    if form.startswith(letters):
        return (1 if form == name else 3, len(form))
    if f" {letters}" in form:
        return (2 if form == name else 4, len(form))
    if len(letters) >= 4 and (likeness := fuzz.ratio(letters, form)) >= ALIKE:
        return (5, round(100 - likeness))
    return None
