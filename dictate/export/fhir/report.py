"""DiagnosticReport, and the Provenance that says who and what made it.

The report carries the whole record as text too, so that talk that is no finding (history, plan) is handed on with it.
"""

from __future__ import annotations

import base64
from html import escape

from dictate.exam.phrases import cautions
from dictate.exam.record import Record
from dictate.export.as_text import as_text
from dictate.export.fhir.codes import OWN, TERMINOLOGY, Json, coded, date_time, instant, own_code, refer, reference_id
from dictate.export.full import full
from dictate.export.harmless import clean
from dictate.export.parts import STATES, when
from dictate.export.standing import Signature, Standing, amends_of, examined, signature_of
from dictate.lexicon.tables import Lexicon

AUTHOR = {"system": "urn:iso-astm:E1762-95:2013", "code": "1.2.840.10065.1.12.1.1", "display": "Author's Signature"}

SIGNED_AS = {"final": "signed", "amended": "amended and signed", "entered-in-error": "signed"}
WITHDRAWN = "declared entered in error"


def report(
    record: Record, lexicon: Lexicon, standing: Standing, patient: Json, encounter: Json, observations: list[Json]
) -> Json:
    """The DiagnosticReport of the exam: its status is the record's."""
    found: Json = {
        "resourceType": "DiagnosticReport",
        "id": reference_id("report", record.id),
        "text": {"status": "generated", "div": narrative(record, standing)},
        "identifier": [{"system": f"{OWN}:record", "value": record.id}],
        "status": record.status,
        "code": own_code("report", "general exam", "Exam record"),
        "subject": refer(patient),
        "encounter": refer(encounter),
    }
    if time := examined(record, standing):
        found["effectiveDateTime"] = date_time(time)
    signature = signature_of(record, standing)
    if signature:
        found["issued"] = instant(signature.time)
        found["resultsInterpreter"] = [{"display": clean(signature.by)}]
    if clean(standing.practice):
        found["performer"] = [{"type": "Organization", "display": clean(standing.practice)}]
    if observations:
        found["result"] = [refer(o) for o in observations]
    text = as_text(full(record, lexicon, standing))
    found["presentedForm"] = [
        {
            "contentType": "text/plain; charset=utf-8",
            "data": base64.b64encode(text.encode()).decode(),
            "title": f"Exam record, {STATES[record.status][0]}",
        }
    ]
    return found


def narrative(record: Record, standing: Standing) -> str:
    """A few lines for a person: what it is, its state, who signed, the cautions."""
    signature = signature_of(record, standing)
    lines = ["Exam record", f"{STATES[record.status][0]} (status: {record.status})"]
    lines += [f"Signed by {clean(signature.by)}, {when(signature.time)}"] if signature else []
    body = "".join(f"<p>{escape(line)}</p>" for line in (*lines, *cautions()))
    return f'<div xmlns="http://www.w3.org/1999/xhtml">{body}</div>'


def provenance(record: Record, standing: Standing, targets: list[Json]) -> list[Json]:
    """How the record came to be: drafted by a program from its source; signed, or withdrawn, by a person, if it was."""
    found = [drafted(record, targets)]
    amends = amends_of(record, standing)
    if signature := signature_of(record, standing):
        made = signed(record, SIGNED_AS[record.status], signature, targets, reason=amends.reason if amends else "")
        if amends:
            made["entity"] = [*made.get("entity", []), entity("revision", amends.record)]
        if standing.chain_head:
            made["extension"] = [{"url": f"{OWN}:chain-head", "valueString": standing.chain_head}]
        found.append(made)
    if standing.withdrawn and record.status == "entered-in-error":
        found.append(signed(record, WITHDRAWN, standing.withdrawn, targets, reason=standing.withdrawn_why))
    return found


def drafted(record: Record, targets: list[Json]) -> Json:
    made = record.made_by
    return {
        "resourceType": "Provenance",
        "id": reference_id("provenance", record.id, "drafted"),
        "target": [refer(target) for target in targets],
        "recorded": instant(record.drafted),
        "activity": {"text": f"drafted by speech recognition from {record.source.kind}"},
        "agent": [
            {
                "type": coded(f"{TERMINOLOGY}/provenance-participant-type", "assembler", display="Assembler"),
                "who": {"type": "Device", "display": f"{made.program} {made.version}, vocabulary {made.rule_set}"},
            }
        ],
        "entity": [
            {
                "role": "source",
                "what": {
                    "identifier": {"system": f"{OWN}:sha256", "value": record.source.sha256},
                    "display": clean(record.source.name) or record.source.kind,
                },
            }
        ],
    }


def signed(record: Record, act: str, signature: Signature, targets: list[Json], *, reason: str) -> Json:
    """What a person did and signed, and why; what was signed is named by its hash."""
    who = {"type": "Practitioner", "display": clean(signature.by) or "not named"}
    role = coded(f"{TERMINOLOGY}/provenance-participant-type", "verifier", display="Verifier")
    agent: Json = {"type": role, "who": who}
    if clean(signature.role):
        agent["role"] = [{"text": clean(signature.role)}]
    found: Json = {
        "resourceType": "Provenance",
        "id": reference_id("provenance", record.id, act, signature.record_hash, instant(signature.time)),
        "target": [refer(target) for target in targets],
        "recorded": instant(signature.time),
        "activity": {"text": act},
        "agent": [agent],
        "signature": [{"type": [AUTHOR], "when": instant(signature.time), "who": who}],
    }
    if clean(reason):
        found["reason"] = [{"text": clean(reason)}]
    if signature.record_hash:
        found["entity"] = [entity("source", signature.record_hash)]
    return found


def entity(role: str, sha256: str) -> Json:
    """Something that the record was made from, by its hash."""
    return {"role": role, "what": {"identifier": {"system": f"{OWN}:sha256", "value": clean(sha256)}}}
