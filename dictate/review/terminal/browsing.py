"""The whole record by region, each line with a number: any of it can be heard, corrected, taken out or added to."""

from __future__ import annotations

from dictate.exam.page import pairs_joined
from dictate.exam.phrases import name_of, told
from dictate.exam.record import Evidence, Observation
from dictate.review.decisions import Add, EditSection, NotExamined, Remove, Replace, now, typed
from dictate.review.questions import KEYS, SECTIONS, questions
from dictate.review.summary import before_you_sign, summary_text
from dictate.review.terminal.asking import show_words
from dictate.review.terminal.desk import Desk
from dictate.review.terminal.entering import by_fields, by_words
from dictate.review.terminal.patients import edit_the_patient
from dictate.review.terminal.screen import ESCAPE

SIDE_KEYS = {"l": "left", "r": "right"}


def browse(desk: Desk) -> str:
    """Show the record until the reviewer goes back to the questions ("d"), on to the summary ("v") or stops ("q")."""
    while True:
        rows = show(desk)
        key = desk.screen.key("a letter, or a digit to begin a line's number: ")
        desk.note = ""
        if key in ("d", "v", "q"):
            return key
        if key.isdigit():
            number = desk.screen.line("line: ", start=key)
            if number and number.isdigit() and 0 < int(number) <= len(rows):
                edit(desk, rows[int(number) - 1])
            elif number:
                desk.note = f"There is no line {number}."
        elif key == "a":
            for one in by_fields(desk):
                desk.take(Add(by=desk.by, time=now(), observation=one))
        elif key == "i":
            edit_the_patient(desk)
        elif key == "w":
            edit_words(desk)
        elif key == "u":
            desk.undo()
        elif key == "m":
            show_missing(desk)


def show(desk: Desk) -> list[list[Observation]]:
    """The page; the value is the observations of each numbered line."""
    screen, record = desk.screen, desk.record
    region_of = {site.site: site.region for site in desk.lexicon.sites}
    regions = {region: rank for rank, region in enumerate(dict.fromkeys(region_of.values()))}
    order = {site: (regions[region], rank) for rank, (site, region) in enumerate(region_of.items())}
    last = (len(regions), 0)
    screen.clear()
    rows = pairs_joined(sorted(record.observations, key=lambda o: order.get(o.site, last)))
    region = ""
    for number, row in enumerate(rows, start=1):
        if region_of.get(row[0].site, "other sites") != region:
            region = region_of.get(row[0].site, "other sites")
            screen.show(region.upper(), style="dim")
        mark = " [?]" if any(o.doubts for o in row) else ""
        style = "bold" if row[0].status == "abnormal" else ""
        screen.show(f" {number:>3}  {name_of(row):<28} {told(row[0])}{mark}", style=style)
    for name in SECTIONS:
        for part in getattr(record.other, name):
            screen.show(f"      {name:<28} “{' '.join(part.text.split())}”", style="dim")
    left = len(questions(record))
    if desk.note:
        screen.show(desk.note, style="dim")
    screen.show(f"{len(record.coverage.not_recorded)} sites not recorded, {left} questions open", style="dim")
    back = ("d back to the questions",) if left else ()
    more = ("a add or mark a site", "m what was not recorded", "i patient", "w history, plan ...", "u undo")
    screen.show_keys(*more, *back, "v before you sign", "q stop")
    return rows


def edit(desk: Desk, row: list[Observation]) -> None:
    """One line: heard, corrected, its side changed, or taken out."""
    ids = tuple(o.id for o in row)
    evidence = tuple(dict.fromkeys(e for o in row for e in o.evidence))
    while True:
        desk.screen.show(f"{name_of(row)}: {told(row[0])}", style="bold")
        show_words(desk, evidence)
        sides = ("l left", "r right") if len(row) == 1 and row[0].side else ()
        desk.screen.show_keys(
            *(f"{key} {KEYS[key]}" for key in ("c", "e", "n", "p")), "f by fields", *sides, "Esc back"
        )
        key = desk.screen.key()
        if key == "p":
            desk.play(evidence)
            continue
        becomes: tuple[Observation, ...] = ()
        words = ""
        if key == "c":
            becomes, words = by_words(desk, " ".join(" ".join(e.text.split()) for e in evidence if not e.by), evidence)
        elif key == "f":
            becomes = by_fields(desk, evidence, start=row[0].site)
        elif sides and key in SIDE_KEYS:
            becomes = (row[0].model_copy(update={"side": SIDE_KEYS[key]}),)
        elif key == "e":
            desk.take(NotExamined(by=desk.by, time=now(), observations=ids, reason=desk.screen.line("reason: ") or ""))
        elif key == "n":
            desk.take(Remove(by=desk.by, time=now(), observations=ids))
        elif key != ESCAPE:
            continue
        if becomes:
            desk.take(Replace(by=desk.by, time=now(), observations=ids, becomes=becomes, words=words))
        return


def edit_words(desk: Desk) -> None:
    """One of the sections that hold words: every part can be changed, emptied or added to."""
    desk.screen.show("   ".join(f"{n} {name}" for n, name in enumerate(SECTIONS, start=1)))
    key = desk.screen.key()
    if not key.isdigit() or not 0 < int(key) <= len(SECTIONS):
        return
    section = SECTIONS[int(key) - 1]
    stands: tuple[Evidence, ...] = getattr(desk.record.other, section)
    parts: list[Evidence] = []
    desk.screen.show("Empty a line to take it out; the last, empty one is for something new. Escape: all as it was.")
    for part in (*stands, typed("", desk.by)):
        text = desk.screen.line(f"{section}: ", start=" ".join(part.text.split()))
        if text is None:
            return
        if text == " ".join(part.text.split()):
            parts += [part] if text else []
        elif text:
            parts.append(typed(text, desk.by))
    if tuple(parts) != stands:
        desk.take(EditSection(by=desk.by, time=now(), section=section, parts=tuple(parts)))


def show_missing(desk: Desk) -> None:
    """What was not recorded, until a key is pressed."""
    for line in before_you_sign(desk.record, desk.lexicon).not_recorded:
        desk.screen.show(f"   {line.region:<20} {line.text}")
    desk.screen.key("any key: ")


def show_summary(desk: Desk) -> None:
    """The one screen before a signature."""
    desk.screen.clear()
    summary = before_you_sign(desk.record, desk.lexicon)
    desk.screen.show(summary_text(summary, width=min(desk.screen.console.width, 110)))
