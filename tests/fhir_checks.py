"""Three ways to check a FHIR R4 resource (each misses faults that another finds), and the vital signs profiles.

Definitions: HL7 FHIR R4 4.0.1, tests/third_party/fhir_r4 (see its README). Model classes: fhir.resources (R4B).
FHIRPath: fhirpathpy with its R4 model.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import fhirpathpy
from fhir.resources.R4B import get_fhir_model_class
from fhirpathpy.engine.nodes import ResourceNode
from fhirpathpy.models import models
from jsonschema import Draft6Validator

Json = dict[str, Any]
LOINC = "http://loinc.org"
# Rules that the FHIRPath library cannot run: htmlChecks, and ele-1 of every element (a test looks for empty parts).
UNCHECKED = ("ele-1", "txt-1", "txt-2")
OPTIONS = {
    "traceFn": lambda *_: None,
    "userInvocationTable": {
        "hasValue": {"fn": lambda nodes: len(nodes) == 1 and not isinstance(_plain(nodes[0]), dict), "arity": {0: []}}
    },
}
FOLDER = Path(__file__).parent / "third_party" / "fhir_r4"


def schema_faults(bundle: Json) -> list[str]:
    """What HL7's JSON schema says against the bundle."""
    return [error.message[:200] for error in _schema().iter_errors(bundle)]


def model_faults(resource: Json) -> list[str]:
    """What the model class of the resource says against it."""
    try:
        get_fhir_model_class(resource["resourceType"]).model_validate(resource)
    except ValueError as error:
        return [str(error)]
    return []


def invariant_faults(resource: Json) -> list[str]:
    """The invariants (of severity "error") that the resource or one of its parts breaks."""
    return list(_broken(resource, resource["resourceType"], resource["resourceType"], resource))


def profile_faults(resource: Json, profile: str) -> list[str]:
    """What a profile of an Observation asks for and the resource lacks: cardinality, codes, units, invariants."""
    elements = next(p for p in _read("profiles.json") if p["url"] == profile)["element"]
    faults = [
        f"{e['id']}: {rule['key']}"
        for e in elements
        for rule in e.get("constraint", ())
        if rule["severity"] == "error" and rule["key"].startswith("vs-")
        for node in _nodes(resource, e["path"])
        if not _holds(node, rule["expression"], e["path"], resource)
    ]
    for e in elements:
        if e["path"].count(".") == 1 and ":" not in e["id"] and e["min"] and not _nodes(resource, e["path"]):
            faults.append(f"{e['id']}: at least {e['min']}")
    faults += _codes_missing(resource, elements)
    return faults


def code_set(name: str) -> set[str]:
    """The codes of a value set or code system, with those nested in it."""
    found: set[str] = set()
    for entry in _read("codes.json"):
        if entry["id"] == name:
            includes = entry.get("compose", {}).get("include", [])
            open_ = [*entry.get("concept", []), *(c for part in includes for c in part.get("concept", []))]
            while open_:
                concept = open_.pop()
                found.add(concept["code"])
                open_ += concept.get("concept", [])
    return found


def profiles() -> dict[str, tuple[set[str], set[str]]]:
    """For each vital signs profile the LOINC codes that it fixes and the units that it allows for its value."""
    found = {}
    for profile in _read("profiles.json"):
        codes = {
            e["fixedCode"] for e in profile["element"] if "fixedCode" in e and e["path"].endswith("code.coding.code")
        }
        units = set[str]().union(*_units(profile["element"]).values())
        found[profile["id"]] = (codes, units)
    return found


@cache
def _schema() -> Draft6Validator:
    return Draft6Validator(json.loads((FOLDER / "schema.json").read_text(encoding="utf-8")))


@cache
def _read(name: str) -> Any:
    return json.loads((FOLDER / name).read_text(encoding="utf-8"))


@cache
def _types() -> dict[str, list[Json]]:
    return {d["id"]: d["element"] for d in _read("resources.json")}


def _broken(node: Any, kind: str, path: str, resource: Json) -> Iterator[str]:
    """The invariants that `node`, which is at `path` of the type `kind`, breaks, and those that its parts break."""
    for element in _types().get(kind, ()):
        inside = element["path"].removeprefix(path)
        if element["path"] != path and (not element["path"].startswith(f"{path}.") or inside.count(".") != 1):
            continue
        parts = [(node, [])] if element["path"] == path else list(_parts(node, element))
        for part, kinds in parts:
            for rule in element.get("constraint", ()):
                asked = rule["severity"] == "error" and rule["key"] not in UNCHECKED
                if asked and not _holds(part, rule["expression"], element["path"], resource):
                    yield f"{element['path']}: {rule['key']}"
            if kinds and isinstance(part, dict):
                yield from _descend(part, element, kinds, resource)


def _descend(part: Json, element: Json, kinds: list[str], resource: Json) -> Iterator[str]:
    for kind in kinds:
        if kind == "Resource":
            yield from invariant_faults(part)
        elif kind in ("BackboneElement", "Element"):
            yield from _broken(part, element["path"].split(".")[0], element["path"], resource)
        else:
            yield from _broken(part, kind, kind, resource)


def _parts(node: Any, element: Json) -> Iterator[tuple[Any, list[str]]]:
    """The parts of `node` that an element describes, with the types that they have."""
    name = element["path"].rpartition(".")[2]
    if not isinstance(node, dict):
        return
    for key, value in node.items():
        if name.endswith("[x]"):
            stem = name.removesuffix("[x]")
            kinds = [k for k in element["type"] if key == stem + k[:1].upper() + k[1:]]
        else:
            kinds = element["type"] if key == name else []
        if kinds:
            yield from ((item, kinds) for item in (value if isinstance(value, list) else [value]))


def _nodes(resource: Json, path: str) -> list[Any]:
    return _compiled(path.replace("[x]", ""))(resource, {})


def _holds(node: Any, rule: str, path: str, resource: Json) -> bool:
    """Whether a rule holds at a node. A rule that gives nothing does not speak against it."""
    found = _compiled(rule)(
        ResourceNode.create_node(node, path.replace("[x]", "")), {"resource": resource, "rootResource": resource}
    )
    return found in ([], [True])


@cache
def _compiled(rule: str) -> Any:
    return fhirpathpy.compile(rule, models["r4"], OPTIONS)


def _plain(node: Any) -> Any:
    return getattr(node, "data", node)


def _codes_missing(resource: Json, elements: list[Json]) -> Iterator[str]:
    """Fixed codes of the profile, and units outside its value set."""
    codes = {
        "Observation.code.coding.code": [c["code"] for c in resource["code"]["coding"] if c["system"] == LOINC],
        "Observation.category.coding.code": [c["code"] for part in resource["category"] for c in part["coding"]],
        "Observation.component.code.coding.code": [
            c["code"] for part in resource.get("component", ()) for c in part["code"]["coding"]
        ],
    }
    for e in elements:
        if e["path"] in codes and "fixedCode" in e and e["fixedCode"] not in codes[e["path"]]:
            yield f"{e['id']}: {e['fixedCode']}"
    for path, allowed in _units(elements).items():
        parts = [resource] if path == "value" else resource.get("component", ())
        told = [part["valueQuantity"].get("code") for part in parts if "valueQuantity" in part]
        yield from (f"{path}: unit {unit}" for unit in told if unit not in allowed)


def _units(elements: list[Json]) -> dict[str, set[str]]:
    """The units that a profile allows for the "value", and for the values of each "component"."""
    found: dict[str, set[str]] = {}
    for e in elements:
        if e["path"] in ("Observation.value[x].code", "Observation.component.value[x].code"):
            units = {e["fixedCode"]} if "fixedCode" in e else code_set(_set_name(e["binding"]["valueSet"]))
            found.setdefault("component" if ".component" in e["path"] else "value", set()).update(units)
    return found


def _set_name(url: str) -> str:
    return url.rpartition("/")[2].partition("|")[0]
