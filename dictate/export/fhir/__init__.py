"""A record as an HL7 FHIR R4 bundle: plain values of JSON, one file for each group of resources."""

from dictate.export.fhir.bundle import as_fhir, bundle

__all__ = ["as_fhir", "bundle"]
