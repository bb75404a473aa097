"""The bundle: Patient, Encounter, Observations, DiagnosticReport and Provenance of one record."""

from __future__ import annotations

import json

from dictate.exam.record import Record
from dictate.export.fhir.codes import OWN, Json, instant, reference_id
from dictate.export.fhir.observations import Exam, observation
from dictate.export.fhir.people import encounter, patient
from dictate.export.fhir.report import provenance, report
from dictate.export.standing import Standing, examined, signature_of
from dictate.lexicon.tables import Lexicon


def as_fhir(record: Record, lexicon: Lexicon, standing: Standing) -> str:
    """The bundle as JSON text."""
    return json.dumps(bundle(record, lexicon, standing), indent=2, ensure_ascii=False) + "\n"


def bundle(record: Record, lexicon: Lexicon, standing: Standing) -> Json:
    """A collection in which every reference is to a resource of the same bundle, or a name alone."""
    who = patient(record, standing)
    visit = encounter(record, standing, who)
    exam = Exam(record, lexicon, examined(record, standing), who, visit)
    observations = [observation(o, exam) for o in record.observations]
    whole = report(record, lexicon, standing, who, visit, observations)
    made = provenance(record, standing, [whole, *observations])
    signature = signature_of(record, standing)
    return {
        "resourceType": "Bundle",
        "id": reference_id("bundle", record.id),
        "identifier": {"system": f"{OWN}:record", "value": record.id},
        "type": "collection",
        "timestamp": instant(signature.time if signature else record.drafted),
        "entry": [
            {"fullUrl": f"urn:uuid:{resource['id']}", "resource": resource}
            for resource in (who, visit, *observations, whole, *made)
        ],
    }
