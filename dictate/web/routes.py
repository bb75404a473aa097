"""Every address of the pages, in one table: the way, who may go it, how much may be sent, what answers."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.store import Account
from dictate.web import statics
from dictate.web.asking import Handler
from dictate.web.forms import LARGEST_FORM
from dictate.web.hearing import LARGEST as LARGEST_SOUND
from dictate.web.pages import (
    comparing,
    correcting,
    days,
    entering,
    exporting,
    finding,
    listening,
    own_words,
    patients,
    people,
    reviewing,
    settling,
    signed,
    signing,
    visits,
    waiting,
    whole,
)

ANYBODY: frozenset[str] = frozenset({"anybody"})
PERSON = frozenset({"reviewer", "signer", "administrator"})
REVIEWER = frozenset({"reviewer", "signer"})
SIGNER = frozenset({"signer"})
ADMINISTRATOR = frozenset({"administrator"})
LARGEST_LIST = 2 * 1024 * 1024  # bytes of a day list


@dataclass(frozen=True, slots=True)
class Way:
    """One address and method. Who has any of `roles` may go it; `largest` bounds what may be sent, in bytes; `keeps` is
    whether somebody who has not entered is given a session there."""

    method: str
    path: str
    roles: frozenset[str]
    page: Handler
    largest: int = LARGEST_FORM
    keeps: bool = True


WAYS: tuple[Way, ...] = (
    Way("GET", "/own/{name}", ANYBODY, statics.own_file, keeps=False),
    Way("GET", "/favicon.ico", ANYBODY, statics.mark, keeps=False),
    Way("GET", "/first", ANYBODY, entering.first_page),
    Way("POST", "/first", ANYBODY, entering.make_first),
    Way("GET", "/enter", ANYBODY, entering.enter_page),
    Way("POST", "/enter", ANYBODY, entering.enter),
    Way("POST", "/look", ANYBODY, entering.set_look),
    Way("POST", "/leave", PERSON, entering.leave),
    Way("GET", "/me", PERSON, people.me),
    Way("POST", "/me/password", PERSON, people.own_password),
    Way("POST", "/me/pin", PERSON, people.own_pin),
    Way("GET", "/people", ADMINISTRATOR, people.everybody),
    Way("POST", "/people", ADMINISTRATOR, people.add),
    Way("POST", "/people/{number:int}", ADMINISTRATOR, people.change),
    Way("GET", "/", PERSON, days.day_page),
    Way("POST", "/day-list", PERSON, days.bring, LARGEST_LIST),
    Way("GET", "/waiting", REVIEWER, waiting.waiting_page),
    Way("GET", "/find", REVIEWER, finding.find_page),
    Way("GET", "/words", REVIEWER, own_words.offers_page),
    Way("POST", "/words", REVIEWER, own_words.answer),
    Way("POST", "/patients", REVIEWER, patients.add),
    Way("GET", "/patients/{number:int}", REVIEWER, patients.patient_page),
    Way("POST", "/patients/{number:int}", REVIEWER, patients.change),
    Way("POST", "/patients/{number:int}/visits", REVIEWER, patients.add_visit),
    Way("GET", "/patients/{number:int}/compare", REVIEWER, comparing.compare_page),
    Way("GET", "/visits/{number:int}", REVIEWER, visits.visit_page),
    Way("GET", "/visits/{number:int}/who", REVIEWER, visits.who_page),
    Way("POST", "/visits/{number:int}/who", REVIEWER, visits.assign),
    Way("POST", "/visits/{number:int}/consent", REVIEWER, visits.set_consent),
    Way("GET", "/visits/{number:int}/history", REVIEWER, visits.history_page),
    Way("GET", "/visits/{number:int}/sound", REVIEWER, listening.clip),
    Way("GET", "/visits/{number:int}/review", REVIEWER, reviewing.review_page),
    Way("POST", "/visits/{number:int}/review", REVIEWER, settling.answer),
    Way("POST", "/visits/{number:int}/undo", REVIEWER, settling.undo),
    Way("GET", "/visits/{number:int}/whole", REVIEWER, whole.whole_page),
    Way("POST", "/visits/{number:int}/whole", REVIEWER, whole.said, LARGEST_SOUND),
    Way("POST", "/visits/{number:int}/correct", REVIEWER, correcting.correct),
    Way("POST", "/visits/{number:int}/place", REVIEWER, correcting.place),
    Way("POST", "/visits/{number:int}/add", REVIEWER, correcting.add),
    Way("POST", "/visits/{number:int}/remove", REVIEWER, correcting.remove),
    Way("POST", "/visits/{number:int}/patient", REVIEWER, correcting.patient),
    Way("POST", "/visits/{number:int}/section", REVIEWER, correcting.section),
    Way("GET", "/visits/{number:int}/sign", REVIEWER, signing.before_page),
    Way("POST", "/visits/{number:int}/sign", SIGNER, signing.sign),
    Way("POST", "/visits/{number:int}/amend", SIGNER, signing.amend),
    Way("POST", "/visits/{number:int}/error", SIGNER, signing.enter_in_error),
    Way("POST", "/visits/{number:int}/move", SIGNER, signing.move),
    Way("GET", "/visits/{number:int}/record", REVIEWER, signed.record_page),
    Way("GET", "/visits/{number:int}/export/{kind}", REVIEWER, exporting.export),
)


def pages_of(account: Account) -> tuple[tuple[str, str], ...]:
    """The links at the top of every page, for this account."""
    ways = (("/", "Day"), ("/waiting", "To review"), ("/find", "Find"), ("/words", "Own words"), ("/people", "People"))
    roles = {way.path: way.roles for way in WAYS if way.method == "GET"}
    return tuple((address, name) for address, name in ways if roles[address] & account.roles)
