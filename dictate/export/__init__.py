"""Handing a record on: pure functions from a record to text or bytes, one file for each form."""

from dictate.export.kinds import KINDS, Export, file_name, make, make_table
from dictate.export.standing import Amends, PatientFacts, Signature, Standing

__all__ = ["KINDS", "Amends", "Export", "PatientFacts", "Signature", "Standing", "file_name", "make", "make_table"]
