#!/usr/bin/env python3
"""Write tests/published/uberon.csv: what the anatomy ontology Uberon says of the sites of the lexicon.

    pip install cellxgene-ontology-guide && python scripts/published_anatomy.py

Uberon is a public ontology of the anatomy of animals (uberon.org, CC BY 3.0). The package cellxgene-ontology-guide
ships it. The extract holds, for each site with a term: its label, its exact synonyms, whether it is a structure of one
side, and which of the regions below it is part of. Which term a site means stands in TERMS.
"""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Iterator, Mapping
from importlib import metadata, resources
from pathlib import Path
from typing import Any

OUT = Path(__file__).resolve().parents[1] / "tests" / "published" / "uberon.csv"
PACKAGE = "cellxgene_ontology_guide"
SIDED = ("lateral structure", "paired limb/fin")
REGIONS = (
    "eye", "ear", "nose", "mouth", "head", "neck", "forelimb", "pectoral complex", "hindlimb", "pelvic complex",
    "trunk", "abdomen", "abdominal segment of trunk", "thoracic segment of trunk", "perineum", "anal region",
    "lymph node",
    "digestive system", "reproductive system", "integumental system", "vertebral column", "respiratory system",
)  # fmt: skip
TERMS = {  # site -> label of Uberon, where it is not the site's own name
    "third eyelid": "nictitating membrane", "anterior chamber": "anterior chamber of eyeball",
    "lens": "lens of camera-type eye", "nostril": "external naris", "ear canal": "external acoustic meatus",
    "lips": "lip", "teeth": "dentition", "salivary gland": "saliva-secreting gland", "carpus": "carpal region",
    "antebrachium": "forelimb zeugopod", "metacarpus": "metacarpus region", "front paw": "manus",
    "front digit": "manual digit", "front nail": "nail of manual digit", "skin": "skin of body", "coat": "coat of hair",
    "thorax": "thoracic segment of trunk", "spine": "vertebral column", "inguinal region": "inguinal part of abdomen",
    "intestines": "intestine", "prostate": "prostate gland", "thigh": "hindlimb stylopod", "stifle": "knee",
    "crus": "hindlimb zeugopod", "tarsus": "tarsal region", "metatarsus": "metatarsus region", "hind paw": "pes",
    "hind digit": "pedal digit", "hind nail": "nail of pedal digit", "Achilles tendon": "calcaneal tendon",
    "vulva": "mammalian vulva", "cranial nerves": "cranial nerve", "pelvis": "pelvic region of trunk",
    "mucous membranes": "mucosa", "forelimb muscles": "forelimb muscle", "hindlimb muscles": "hindlimb muscle",
}  # fmt: skip


def ontology() -> tuple[str, Mapping[str, Any]]:
    """The version of Uberon in the package, and its terms by identifier."""
    import zstandard

    folder = resources.files(PACKAGE) / "data"
    file = max((f for f in folder.iterdir() if f.name.startswith("UBERON-ontology")), key=lambda f: f.name)
    text = zstandard.ZstdDecompressor().stream_reader(file.read_bytes()).read()
    version = file.name.removeprefix("UBERON-ontology-").partition(".")[0]
    return version, {key: term for key, term in json.loads(text).items() if not term["deprecated"]}


def rows(terms: Mapping[str, Any]) -> Iterator[tuple[str, ...]]:
    """One row for each site of the lexicon that Uberon has a term for."""
    from dictate.lexicon import load

    by_label = {term["label"].lower(): key for key, term in terms.items()}
    for site in load().sites:
        key = by_label.get(TERMS.get(site.site, site.site).lower())
        if key is None:
            continue
        term = terms[key]
        above = {terms[a]["label"] for a in term["ancestors"] if a in terms} | {term["label"]}
        sided = [s for s in SIDED if s in above]
        sided += [f"left {term['label']}"] if f"left {term['label']}".lower() in by_label else []
        regions = [r for r in REGIONS if r in above]
        synonyms = sorted(term.get("synonyms") or [])
        yield site.site, key, term["label"], ";".join(synonyms), ";".join(sided), ";".join(regions)


def main() -> int:
    try:
        version, terms = ontology()
    except (ModuleNotFoundError, FileNotFoundError) as e:
        print(f"{e}; pip install cellxgene-ontology-guide", file=sys.stderr)
        return 2
    with OUT.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("site", "uberon", "label", "synonyms", "sided", "regions"))
        writer.writerows(rows(terms))
    print(f"Uberon {version} from {PACKAGE} {metadata.version(PACKAGE)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
