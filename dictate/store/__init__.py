"""Everything that is kept: people, patients, visits, drafts, decisions, signed records, sound, and the chain over all.

Functions take an open `Store` first and give frozen values.
"""

from dictate.store.backups import BackedUp, Manifest, backup, manifests, read_manifest
from dictate.store.chain import Head, read_head
from dictate.store.consents import consent, set_consent
from dictate.store.daylist import Brought, import_day_list
from dictate.store.drafts import Added, Recording, add_draft, recordings_of, sound_bytes
from dictate.store.erasing import Erased
from dictate.store.handing_on import earlier_record, patient_records, records_of, standing_of
from dictate.store.happened import Step, head, history, note
from dictate.store.joining import join_planned, planned_for
from dictate.store.making import Upgraded, make_store, open_store, upgrade_store
from dictate.store.moving import move_visit
from dictate.store.offering import answer_offer, reviews
from dictate.store.opening import Store
from dictate.store.patients import (
    Facts,
    Patient,
    add_patient,
    change_patient,
    facts_of_record,
    find_patients,
    patient,
    patient_numbered,
)
from dictate.store.people import (
    PROGRAM,
    ROLES,
    Account,
    account,
    account_list,
    account_named,
    add_account,
    change_account,
    first_administrator,
    has_accounts,
)
from dictate.store.place import Place, place_of
from dictate.store.proving import log_in, set_password, set_pin
from dictate.store.refusals import Conflict, Gone, Refused
from dictate.store.restoring import Restored, drill, restore
from dictate.store.retaining import Rule, due, erase_due, retention, set_retention
from dictate.store.reviewing import Decided, Working, decide, working
from dictate.store.searching import Found, Hit, search
from dictate.store.signing import Before, Signature, SignedRecord, amend, before_signing, enter_in_error, sign, signed
from dictate.store.verifying import Verified, verify
from dictate.store.verifying_rows import Fault
from dictate.store.visits import (
    Visit,
    add_visit,
    assign_patient,
    change_visit,
    day_list,
    namesakes,
    visit,
    visits_of,
    waiting,
)

__all__ = [
    "PROGRAM",
    "ROLES",
    "Account",
    "Added",
    "BackedUp",
    "Before",
    "Brought",
    "Conflict",
    "Decided",
    "Erased",
    "Facts",
    "Fault",
    "Found",
    "Gone",
    "Head",
    "Hit",
    "Manifest",
    "Patient",
    "Place",
    "Recording",
    "Refused",
    "Restored",
    "Rule",
    "Signature",
    "SignedRecord",
    "Step",
    "Store",
    "Upgraded",
    "Verified",
    "Visit",
    "Working",
    "account",
    "account_list",
    "account_named",
    "add_account",
    "add_draft",
    "add_patient",
    "add_visit",
    "amend",
    "answer_offer",
    "assign_patient",
    "backup",
    "before_signing",
    "change_account",
    "change_patient",
    "change_visit",
    "consent",
    "day_list",
    "decide",
    "drill",
    "due",
    "earlier_record",
    "enter_in_error",
    "erase_due",
    "facts_of_record",
    "find_patients",
    "first_administrator",
    "has_accounts",
    "head",
    "history",
    "import_day_list",
    "join_planned",
    "log_in",
    "make_store",
    "manifests",
    "move_visit",
    "namesakes",
    "note",
    "open_store",
    "patient",
    "patient_numbered",
    "patient_records",
    "place_of",
    "planned_for",
    "read_head",
    "read_manifest",
    "recordings_of",
    "records_of",
    "restore",
    "retention",
    "reviews",
    "search",
    "set_consent",
    "set_password",
    "set_pin",
    "set_retention",
    "sign",
    "signed",
    "sound_bytes",
    "standing_of",
    "upgrade_store",
    "verify",
    "visit",
    "visits_of",
    "waiting",
    "working",
]
