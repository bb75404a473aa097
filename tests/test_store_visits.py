"""Patients and visits: telling namesakes apart, moving a visit, the day list, and finding things again."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from store_cases import DAY, PASSWORD, PIN, bramble, draft, people, settle, sign, signed_visit, sound_file

from dictate import store as s
from dictate.errors import InputError
from dictate.review import OfferAnswered, is_signed
from dictate.store.daylist import read_day_list

LIST = """date;time;patient;number;species;owner;born;reason
2026-05-04;9:00;Bramble;1042;dog;A. Sedge;2019-03-01;vaccination
2026-05-04;9:20;Bramble;1043;cat;B. Thrift;;cough
2026-05-04;;Tansy;;cat;B. Thrift;;
"""


def test_patients_of_one_name_are_told_apart(any_store: s.Store) -> None:
    """Number, microchip, owner and birth date stand beside the name; a number or chip belongs to one patient alone."""
    boss, _ = people(any_store)
    facts = s.Facts(
        name="Bramble",
        species="dog",
        practice_number="1042",
        microchip="985 112 003 456 789",
        owner="A. Sedge",
        born=date(2019, 3, 1),
    )
    first = s.add_patient(any_store, facts, by=boss)
    assert str(first) == "Bramble; dog; number 1042; microchip 985112003456789; owner A. Sedge; born 2019-03-01"
    for taken in ({"practice_number": "1042"}, {"microchip": "985112003456789"}):
        with pytest.raises(InputError, match="belongs to another patient, Bramble"):
            s.add_patient(any_store, s.Facts(name="Burdock", **taken), by=boss)  # type: ignore[arg-type]
    second = bramble(any_store, by=boss, number="1043", owner="B. Thrift")
    assert s.find_patients(any_store, "bramb") == (first, second)
    assert s.find_patients(any_store, "SEDGE bram") == (first,)
    assert s.find_patients(any_store, "985112") == (first,)
    assert s.find_patients(any_store, "ramble") == s.find_patients(any_store, "100%") == ()


def test_changed_facts_keep_the_older_ones_and_tell_the_second_person(file_store: s.Store) -> None:
    """A change needs a reason and the version that was shown; a second person with the older version is told."""
    boss, tern = people(file_store)
    was = bramble(file_store, by=boss)
    facts = s.Facts(name="Bramble", practice_number="1042", owner="B. Thrift")
    assert s.change_patient(file_store, was.id, facts, by=tern, why="new owner", expected=1).version == 2
    with pytest.raises(s.Conflict):
        s.change_patient(file_store, was.id, facts, by=boss, why="new owner", expected=1)
    with pytest.raises(InputError, match="reason of the change"):
        s.change_patient(file_store, was.id, facts, by=boss, why="", expected=2)
    assert s.verify(file_store).faults == ()


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"name": ""}, "name of the patient"),
        ({"name": "x" * 81}, "longer than 80"),
        ({"name": "Bram\x00ble"}, "cannot be seen"),
        ({"name": "Bramble", "species": "dragon"}, "none of dog, cat"),
        ({"name": "Bramble", "sex": "yes"}, "none of male, female"),
        ({"name": "Bramble", "microchip": "12"}, "no microchip number"),
    ],
)
def test_facts_that_cannot_be_are_refused(file_store: s.Store, facts: dict[str, str], message: str) -> None:
    """A fact that cannot be used is named, and no patient is made."""
    with pytest.raises(InputError, match=message):
        s.add_patient(file_store, s.Facts(**facts), by=s.PROGRAM)  # type: ignore[arg-type]
    assert s.find_patients(file_store, "") == ()


def test_namesakes_on_one_day_are_shown(file_store: s.Store) -> None:
    """Of two patients of one name on one day each visit names the other, and so does the page before signing."""
    boss, _ = people(file_store)
    one, two = bramble(file_store, by=boss), bramble(file_store, by=boss, number="2", owner="B. Thrift")
    first = s.add_visit(file_store, day=DAY, by=boss, patient_id=one.id)
    second = s.add_visit(file_store, day=DAY, by=boss, patient_id=two.id)
    s.add_visit(file_store, day=DAY + timedelta(days=1), by=boss, patient_id=two.id)
    assert s.namesakes(file_store, first.id) == (second,) and s.namesakes(file_store, second.id) == (first,)
    s.add_draft(file_store, draft(), visit_id=first.id)
    (warning,) = s.before_signing(file_store, first.id).warnings
    assert "another Bramble on this day" in warning and "B. Thrift" in warning


def test_moving_a_signed_visit_is_signed_and_traced(any_store: s.Store, tmp_path: Path) -> None:
    """The visit is the other patient's, its record is amended with the right patient and the reason, the first state
    stays, and the move names both patients, who signed and how."""
    boss, tern = people(any_store)
    visit = signed_visit(any_store, tmp_path, boss)
    other = s.add_patient(any_store, s.Facts(name="Burdock", species="dog", practice_number="2"), by=boss)
    for by, secret in ((tern, PASSWORD), (boss, "222222"), (s.PROGRAM, "")):
        with pytest.raises(s.Refused):
            s.move_visit(any_store, visit.id, other.id, by=by, secret=secret, why="x", expected=visit.version)
    with pytest.raises(InputError, match="reason of the move"):
        s.move_visit(any_store, visit.id, other.id, by=boss, secret=PIN, why="", expected=visit.version)
    moved = s.move_visit(any_store, visit.id, other.id, by=boss, secret=PIN, why="mixed up", expected=visit.version)
    assert moved.patient == other and moved.status == "amended"
    with pytest.raises(s.Conflict):
        s.move_visit(any_store, visit.id, other.id, by=boss, secret=PIN, why="again", expected=visit.version)
    first, second = s.signed(any_store, visit.id)
    assert (first.record.patient.name, second.record.patient.name) == ("Bramble", "Burdock")
    assert is_signed(first.record) and is_signed(second.record)
    assert "moved from Bramble" in second.why and "mixed up" in second.why
    assert "visit moved" in [step.what for step in s.history(any_store, visit.id)]
    assert s.visits_of(any_store, other.id) == (moved,)
    assert s.verify(any_store).faults == ()


def test_a_move_waits_for_changes_that_nobody_signed(file_store: s.Store, tmp_path: Path) -> None:
    """Decisions of an amendment in the making are not lost by a move: it is refused until they are signed or undone."""
    boss, _ = people(file_store)
    visit = signed_visit(file_store, tmp_path, boss)
    other = bramble(file_store, by=boss, number="2")
    s.decide(file_store, visit.id, [settle()], by=boss, state=s.working(file_store, visit.id).state)
    with pytest.raises(InputError, match="changes that nobody signed"):
        s.move_visit(file_store, visit.id, other.id, by=boss, secret=PIN, why="x", expected=visit.version)


def test_a_day_list_comes_in_once(any_store: s.Store) -> None:
    """Its visits and patients are entered, by time; the same list again enters nothing."""
    done = s.import_day_list(any_store, LIST.encode(), by=s.PROGRAM)
    assert (done.visits, done.patients, done.known) == (3, 3, 0)
    again = s.import_day_list(any_store, LIST.replace(";", ",").encode("utf-8-sig"), by=s.PROGRAM)
    assert (again.visits, again.patients, again.known) == (0, 0, 3)
    listed = s.day_list(any_store, DAY)
    assert [(v.time, str(v.patient), v.status) for v in listed] == [
        ("09:00", "Bramble; dog; number 1042; owner A. Sedge; born 2019-03-01", "planned"),
        ("09:20", "Bramble; cat; number 1043; owner B. Thrift", "planned"),
        ("", "Tansy; cat; owner B. Thrift", "planned"),
    ]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("2026-05-04;9:20", "4.5.2026;9:20", "line 3, date: '4.5.2026' is no date"),
        ("9:20", "25:00", "line 3, time"),
        (";cat;B. Thrift;;cough", ";bird;B. Thrift;;cough", "line 3, species"),
        ("Tansy", "", "line 4, name of the patient: is missing"),
        ("date;", "day;", "no column date"),
        (";owner;", ";holder;", "unknown column 'holder'"),
        (";cough", ";cough;more", "line 3: has more or fewer cells"),
        ("Bramble;1043", "Burdock;1042", "line 3: the practice number 1042 is Bramble's, not Burdock's"),
    ],
)
def test_a_day_list_with_a_fault_enters_nothing(file_store: s.Store, old: str, new: str, message: str) -> None:
    """The row and column that cannot be used are named, and not even the rows before it are entered."""
    with pytest.raises(InputError) as refused:
        s.import_day_list(file_store, LIST.replace(old, new).encode(), by=s.PROGRAM)
    assert message in str(refused.value)
    assert s.day_list(file_store, DAY) == () and s.find_patients(file_store, "") == ()


def test_a_day_list_does_not_change_the_files(file_store: s.Store) -> None:
    """Where the list tells another owner than the files, the files stay and a person is told to look."""
    s.import_day_list(file_store, LIST.encode(), by=s.PROGRAM)
    done = s.import_day_list(
        file_store, LIST.replace("A. Sedge", "C. Reed").replace("9:00", "8:00").encode(), by=s.PROGRAM
    )
    assert done.notes == ("line 2: owner of Bramble differ from the files, which stay",)
    assert s.patient_numbered(file_store, "1042").facts.owner == "A. Sedge"


@settings(deadline=None, suppress_health_check=list(HealthCheck))
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_any_bytes_as_a_day_list_are_read_or_refused(content: bytes) -> None:
    """Whatever file is given, it is a list of rows or one clear line, never a crash."""
    try:
        read_day_list(content)
    except InputError as refused:
        assert "\n" not in str(refused)


def test_a_drafted_visit_is_joined_with_the_planned_one(file_store: s.Store, tmp_path: Path) -> None:
    """The planned visits of that day are offered, the one of the same name first; joined, the draft has its patient,
    time, reason and refused consent, and the planned one stands in no list any more."""
    boss, _ = people(file_store)
    s.import_day_list(file_store, LIST.replace("Bramble;1042", "Sorrel;1042").encode(), by=s.PROGRAM)
    visit = s.add_draft(file_store, draft()).visit
    offered = s.planned_for(file_store, visit.id)
    assert [v.patient.facts.name for v in offered if v.patient] == ["Bramble", "Sorrel", "Tansy"]
    s.set_consent(file_store, offered[0].id, False, by=boss, cache=tmp_path)
    joined = s.join_planned(file_store, visit.id, offered[0].id, by=boss, expected=visit.version, cache=tmp_path)
    assert (joined.time, joined.reason, str(joined.patient)) == (
        "09:20",
        "cough",
        "Bramble; cat; number 1043; owner B. Thrift",
    )
    assert s.consent(file_store, visit.id) is False and s.working(file_store, visit.id).base.talk is None
    assert [v.id for v in s.day_list(file_store, DAY)] == [offered[1].id, visit.id, offered[2].id]
    with pytest.raises(InputError, match="no planned visit"):
        other = s.add_draft(file_store, draft(b"two")).visit
        s.join_planned(file_store, other.id, offered[0].id, by=boss, expected=other.version)
    assert s.verify(file_store).faults == ()


def test_visits_are_found_by_patient_day_site_and_finding(any_store: s.Store, tmp_path: Path) -> None:
    """Each way of asking finds the visits for which all holds, newest first, with the lines that were asked for."""
    boss, _ = people(any_store)
    signed = [signed_visit(any_store, tmp_path, boss, sound=f"sound {n}".encode(), number=str(n)) for n in (1, 2, 3)]
    drafted = s.add_draft(any_store, draft(b"unsigned")).visit

    def ids(**asked: object) -> list[int]:
        return [hit.visit.id for hit in s.search(any_store, **asked).hits]  # type: ignore[arg-type]

    newest = [v.id for v in reversed(signed)]
    assert ids() == [drafted.id, *newest]
    assert ids(finding="pain") == newest == ids(site="ear canal", finding="pain") == ids(site="eye")
    assert ids(finding="pain", site="eye") == ids(site="teeth") == ids(finding="nothing of the kind") == []
    assert ids(patient="bram 2") == [signed[1].id] == ids(patient="2", finding="pain")
    assert ids(since=DAY, until=DAY) == [drafted.id, *newest] and ids(since=DAY + timedelta(days=1)) == []
    (hit,) = s.search(any_store, patient="2", site="ear canal").hits
    assert hit.told == ("right ear canal: pain",)


def test_long_lists_come_in_pages(file_store: s.Store) -> None:
    """Page after page gives every visit once, in the order of one long page."""
    for number in range(23):
        s.add_visit(file_store, day=DAY + timedelta(days=number % 4), time=f"1{number % 3}:00", by=s.PROGRAM)
    whole = [hit.visit.id for hit in s.search(file_store, limit=500).hits]
    pages, after = [], ""
    while True:
        page = s.search(file_store, after=after, limit=5)
        pages += [hit.visit.id for hit in page.hits]
        if not (after := page.next):
            break
    assert pages == whole and len(set(pages)) == 23
    with pytest.raises(InputError, match="no place in a list"):
        s.search(file_store, after="nonsense")


def test_what_waits_for_review_comes_with_the_most_to_do_first(file_store: s.Store) -> None:
    """Drafts nobody signed are listed by what is open in them; planned visits are not among them."""
    easy = s.add_draft(file_store, draft(b"easy", open_doubt=False)).visit
    hard = s.add_draft(file_store, draft(b"hard")).visit
    s.add_visit(file_store, day=DAY, by=s.PROGRAM)
    assert [(v.id, v.open) for v in s.waiting(file_store)] == [(hard.id, 2), (easy.id, 0)]
    assert (easy.told_name, easy.source) == ("Bramble", "bramble.ogg")
    assert s.waiting(file_store, after=1) == (easy,)


def test_the_earlier_record_and_a_patients_records(file_store: s.Store, tmp_path: Path) -> None:
    """Before signing, the newest earlier record of that patient is at hand; what was entered in error is left out."""
    boss, _ = people(file_store)
    first = signed_visit(file_store, tmp_path, boss)
    assert first.patient
    later = s.add_visit(file_store, day=DAY + timedelta(days=9), by=boss, patient_id=first.patient.id)
    earlier = s.earlier_record(file_store, later)
    assert earlier and earlier.encounter.time and earlier.encounter.time.date() == DAY
    bare = earlier.encounter.model_copy(update={"time": None})
    assert earlier.model_copy(update={"encounter": bare}) == s.signed(file_store, first.id)[0].record
    assert s.earlier_record(file_store, first) is None
    assert s.patient_records(file_store, first.patient.id) == (earlier,)
    assert s.records_of(str(tmp_path / "store"), "1042") == (earlier,)
    s.enter_in_error(file_store, first.id, by=boss, secret=PIN, why="x", version=1)
    assert s.earlier_record(file_store, later) is None and s.patient_records(file_store, first.patient.id) == ()
    bramble(file_store, by=boss, number="9")
    with pytest.raises(InputError, match="several patients fit"):
        s.records_of(str(tmp_path / "store"), "bramble")
    with pytest.raises(InputError, match="no such patient"):
        s.records_of(str(tmp_path / "store"), "nobody")


def test_only_the_newest_of_a_patients_records_are_read_where_so_many_are_wanted(
    file_store: s.Store, tmp_path: Path
) -> None:
    """Oldest first, each with its visit's day and the words of the talk; the older ones are left out, not the newer."""
    boss, _ = people(file_store)
    first = signed_visit(file_store, tmp_path, boss)
    assert first.patient
    for days in (20, 10):
        visit = s.add_visit(file_store, day=DAY + timedelta(days=days), by=boss, patient_id=first.patient.id)
        record = draft(b"%d" % days, open_doubt=False)
        s.add_draft(file_store, record, visit_id=visit.id, sound=sound_file(tmp_path, b"%d" % days))
        sign(file_store, s.visit(file_store, visit.id), boss)
    every = s.patient_records(file_store, first.patient.id)
    assert [r.encounter.time and (r.encounter.time.date() - DAY).days for r in every] == [0, 10, 20]
    assert {r.observations[0].evidence[0].text for r in every} == {"left eye cloudy"}
    assert s.patient_records(file_store, first.patient.id, newest=2) == every[1:]
    assert s.patient_records(file_store, first.patient.id, newest=3) == every


def test_the_visits_time_stands_in_its_record(file_store: s.Store) -> None:
    """What is shown and signed has the day, time, reason and clinician of the visit where the talk told none."""
    boss, _ = people(file_store)
    planned = s.add_visit(file_store, day=date(2025, 5, 4), time="9:40", reason="cough", clinician="Dr Reed", by=boss)
    s.add_draft(file_store, draft(), visit_id=planned.id)
    told = s.working(file_store, planned.id).record.encounter
    assert told.time and f"{told.time:%Y-%m-%d %H:%M}" == "2025-05-04 09:40"
    assert (told.reason, told.clinician) == ("cough", "Dr Reed")
    s.change_visit(file_store, planned.id, by=boss, expected=planned.version, time="")
    assert s.working(file_store, planned.id).record.encounter.time is None


def test_corrections_and_answered_offers_are_remembered(file_store: s.Store) -> None:
    """Reviews give the drafts with their decisions; an offer answered for the practice stands with them and changes no
    visit."""
    boss, _ = people(file_store)
    visit = s.add_draft(file_store, draft()).visit
    s.decide(file_store, visit.id, [settle()], by=boss, state=s.working(file_store, visit.id).state)
    answered = OfferAnswered(by="x", time=draft().drafted, heard="cloud e", meant="cloudy", taken=True)
    s.answer_offer(file_store, answered, by=boss)
    ((kept, decisions),) = s.reviews(file_store)
    assert kept == draft() and [d.kind for d in decisions] == ["settle", "offer answered"]
    assert len(s.working(file_store, visit.id).decisions) == 1
