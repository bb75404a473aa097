"""One observation by a few keys: the site by some of its letters, the side, and what was found."""

from __future__ import annotations

from typing import Literal

from dictate.exam.phrases import name_of, told
from dictate.exam.record import Evidence, Observation
from dictate.review.choices import SIDE, UNTOLD
from dictate.review.entering import observation
from dictate.review.finding import find_findings, find_sites
from dictate.review.terminal.desk import Desk
from dictate.review.terminal.screen import ENTER, ESCAPE

Side = Literal["left", "right"]
SIDES: dict[str, tuple[Side | None, ...]] = {"l": ("left",), "r": ("right",), "b": ("left", "right"), "-": (None,)}
NOT_STATED = UNTOLD[SIDE]


def by_fields(desk: Desk, evidence: tuple[Evidence, ...] = (), *, start: str = "") -> tuple[Observation, ...]:
    """The observations entered; empty where it was given up. `start` is a site to begin with."""
    site = ask_site(desk, " ".join(e.text for e in evidence), start)
    if site is None:
        return ()
    paired = any(row.site == site and row.paired for row in desk.lexicon.sites)
    sides: tuple[Side | None, ...] = (None,)
    if paired:
        desk.screen.show(f"{site}: l left   r right   b both   - not stated")
        sides = SIDES.get(desk.screen.key(), ())
    if not sides:
        return ()
    desk.screen.show(f"{site}: n normal   a abnormal   x looked for and absent   v a value   e not examined")
    kind = desk.screen.key()
    near = " ".join(e.text for e in evidence)
    if kind in ("n", ENTER):
        return _each_side(desk, site, sides, evidence)
    if kind == "e":
        reason = desk.screen.line("reason (may be left empty): ") or ""
        said = {"reason": reason} if reason else {}
        return _each_side(desk, site, sides, evidence, status="not_examined", qualifiers=said)
    if kind in ("a", "x"):
        finding = ask_finding(desk, site, near)
        if finding is None:
            return ()
        present = kind == "a"
        status = "abnormal" if present else "normal"
        return _each_side(desk, site, sides, evidence, status=status, finding=finding or None, present=present)
    if kind == "v":
        return _value(desk, site, sides, evidence)
    return ()


def ask_site(desk: Desk, near: str, start: str = "") -> str | None:
    """A site by letters of its name or of a lay word; Enter takes the best. None: given up."""
    first = find_sites("", desk.lexicon, patient=desk.record.patient, near=near)

    def suggest(letters: str) -> tuple[str, ...]:
        return find_sites(letters, desk.lexicon, patient=desk.record.patient, near=near) if letters else first

    begin = start or (first[0] if first else "")
    while (letters := desk.screen.line("site: ", start=begin, suggest=suggest)) is not None:
        begin = ""
        if found := suggest(letters):
            return found[0]
        desk.screen.show("No site has this in its name; other letters, or Escape.")
    return None


def ask_finding(desk: Desk, site: str, near: str) -> str | None:
    """A finding by letters; "" where only Enter was pressed (abnormal, without a name). None: given up."""

    def suggest(letters: str) -> tuple[str, ...]:
        return find_findings(letters, site, desk.lexicon, near=near)

    while (letters := desk.screen.line("finding: ", suggest=suggest)) is not None:
        if not letters:
            return ""
        if found := suggest(letters):
            return found[0]
        desk.screen.show("No finding has this in its name; other letters, or Escape.")
    return None


def by_words(desk: Desk, start: str, evidence: tuple[Evidence, ...]) -> tuple[tuple[Observation, ...], str]:
    """The observations of typed words, and the words; none where it was given up.

    What was understood is shown first: Enter takes it, c changes the words, f enters it by fields instead.
    """
    words = start
    while True:
        typed = desk.screen.line("words (Enter alone: by fields): ", start=words)
        if typed is None:
            return (), ""
        if not typed:
            return by_fields(desk, evidence), ""
        words = typed
        found = desk.understood(words, evidence)
        if not found:
            desk.screen.show("No observation was understood in these words.")
        for one in found:
            open_doubts = "".join(f" ({d.message})" for d in one.doubts)
            desk.screen.show(f"   {name_of([one])}: {told(one)}{open_doubts}", style="bold")
        desk.screen.show(("Enter take   " if found else "") + "c change the words   f by fields   Esc back")
        key = desk.screen.key()
        if key == ENTER and found:
            return found, words
        if key == "f":
            return by_fields(desk, evidence, start=found[0].site if found else ""), ""
        if key == ESCAPE:
            return (), ""


def _each_side(
    desk: Desk, site: str, sides: tuple[Side | None, ...], evidence: tuple[Evidence, ...], **said: object
) -> tuple[Observation, ...]:
    """One observation a side; on a paired site without one, it is said that it was not stated."""
    paired = any(row.site == site and row.paired for row in desk.lexicon.sites)
    made = []
    for side in sides:
        one = observation(site, by=desk.by, side=side, evidence=evidence, **said)  # type: ignore[arg-type]
        made.append(one.model_copy(update={"untold": (NOT_STATED,)}) if paired and side is None else one)
    return tuple(made)


def _value(
    desk: Desk, site: str, sides: tuple[Side | None, ...], evidence: tuple[Evidence, ...]
) -> tuple[Observation, ...]:
    """A value as it is said ("26.2 kilos"), read by the language step."""
    said = desk.screen.line("value with its unit: ")
    if not said:
        return ()
    found = [o for o in desk.understood(f"{site} {said}", evidence) if o.value is not None and o.site == site]
    if not found:
        desk.note = f"No value was understood in “{said}”."
        return ()
    return tuple(
        o.model_copy(update={"side": side, "id": o.id if n == 0 else f"{o.id}-{side}"})
        for o in found[:1]
        for n, side in enumerate(sides)
    )
