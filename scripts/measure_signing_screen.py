#!/usr/bin/env python3
"""Silent errors planted in reviewed drafts: how many does the screen before the signature show, and in which list?

    python scripts/measure_signing_screen.py                 ten errors in ten exams, one by one
    python scripts/measure_signing_screen.py --all           each kind in every exam of the part that has room for it

An exam of tests/narrations is drafted from its text and every doubt settled as drafted; then one error is put in that
no doubt warns of. The screen exposes it when a line of one of its lists states the wrong thing, or lists what was lost.
That says where a careful reader can see it, not that a reader does. The list matters: abnormal findings, values and
sides stand a line each, what is normal or absent in running lines, which are more easily passed over.
"""

# ruff: noqa: E402  the number of threads must be set before numpy is loaded

from __future__ import annotations

import argparse
import os
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import fields
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from drafted import NARRATIONS
from parts import PARTS
from score_drafts import cases, record_of

from dictate.cli.steps import steps_for
from dictate.exam.record import Observation, Record, from_json
from dictate.lexicon import Lexicon, load
from dictate.review import Remove, Replace, apply, before_you_sign, decide, now, questions, summary_text
from dictate.review.crosscheck import unclaimed
from dictate.review.decisions import AS_DRAFTED, Decision, Settle
from dictate.review.summary import Line

BY = "measurement"
SHORT = ("abnormal", "values", "not_examined", "one_side", "unclaimed", "not_recorded")  # a line each, or few
Plant = Callable[[Observation, Record, Lexicon], Observation | None]


def _other_side(o: Observation) -> Observation:
    return o.model_copy(update={"side": {"left": "right", "right": "left"}[o.side or ""]})


def wrong_side_of_finding(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    return _other_side(o) if o.side and o.status == "abnormal" else None


def wrong_side_of_normal(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    alone = sum(p.site == o.site for p in record.observations) == 1
    return _other_side(o) if o.side and o.status == "normal" and alone else None


def wrong_digit(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    if o.value is None or o.value.number < 10:
        return None
    return o.model_copy(update={"value": o.value.model_copy(update={"number": o.value.number + 10})})


def wrong_unit(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    units = next((m.units for m in lexicon.measures if m.site == o.site), ())
    others = [u for u in units if o.value and u != o.value.unit]
    if o.value is None or not others:
        return None
    return o.model_copy(update={"value": o.value.model_copy(update={"unit": others[0]})})


def absence_for_presence(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    if o.status != "abnormal" or not o.finding:
        return None
    return o.model_copy(update={"status": "normal", "present": False})


def presence_for_absence(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    return None if o.present else o.model_copy(update={"status": "abnormal", "present": True})


def normal_for_finding(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    if o.status != "abnormal" or not o.finding:
        return None
    return o.model_copy(update={"status": "normal", "finding": None, "qualifiers": {}})


def wrong_site(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    if o.status != "abnormal":
        return None
    here = next((s for s in lexicon.sites if s.site == o.site), None)
    near = [s.site for s in lexicon.sites if here and (s.region, s.paired) == (here.region, here.paired) and s != here]
    return o.model_copy(update={"site": near[0]}) if near else None


def normal_for_not_examined(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    return o.model_copy(update={"status": "normal", "qualifiers": {}}) if o.status == "not_examined" else None


def lost(o: Observation, record: Record, lexicon: Lexicon) -> Observation | None:
    return o if o.status == "abnormal" and o.finding else None  # it is taken out


KINDS: dict[str, Plant] = {
    "wrong side of a finding": wrong_side_of_finding,
    "wrong side of a normal site": wrong_side_of_normal,
    "wrong digit in a value": wrong_digit,
    "wrong unit": wrong_unit,
    "absence for presence": absence_for_presence,
    "presence for absence": presence_for_absence,
    "normal for a finding": normal_for_finding,
    "wrong site": wrong_site,
    "normal for not examined": normal_for_not_examined,
    "a finding lost": lost,
}


def reviewed(draft: Record) -> tuple[Record, list[Decision]]:
    """The draft with every doubt settled as drafted and every phrase dismissed."""
    decisions: list[Decision] = []
    while asked := questions(apply(draft, decisions)):
        one = asked[0]
        if one.doubt is not None:
            ids = tuple(o.id for o in one.observations)
            decisions.append(Settle(by=BY, time=now(), observations=ids, doubt=one.doubt, choice=AS_DRAFTED))
        else:
            dismiss = one.answer("d")
            assert dismiss is not None
            decisions.append(decide(one, dismiss, by=BY, time=now()))
    return apply(draft, decisions), decisions


def planted(kind: str, draft: Record, lexicon: Lexicon, chance: random.Random) -> tuple[str, Record, Record] | None:
    """What was done, the right record and the wrong one; None where the exam has no room for the error."""
    right, decisions = reviewed(draft)
    rooms = [(o, wrong) for o in right.observations if (wrong := KINDS[kind](o, right, lexicon)) is not None]
    if not rooms:
        return None
    o, wrong = chance.choice(rooms)
    common = {"by": BY, "time": now(), "observations": (o.id,)}
    slip: Decision = Remove(**common) if kind == "a finding lost" else Replace(**common, becomes=(wrong,))
    side = f", {o.side}" if o.side else ""
    return f"{o.site}{side}: {o.finding or o.value or o.status}", right, apply(draft, [*decisions, slip])


def exposed(right: Record, wrong: Record, lexicon: Lexicon) -> tuple[str, ...]:
    """The lists in which the wrong record's screen has a line that the right one's has not."""

    def lines(record: Record) -> dict[str, set[tuple[str, str]]]:
        summary = before_you_sign(record, lexicon)
        lists = {f.name: getattr(summary, f.name) for f in fields(summary) if f.name != "patient"}
        return {name: set(_shown(name, rows)) for name, rows in lists.items()}

    before, after = lines(right), lines(wrong)
    return tuple(name for name in after if after[name] - before[name])


def _shown(name: str, rows: tuple[Line, ...]) -> Iterator[tuple[str, str]]:
    for line in rows:
        if name == "not_recorded":
            yield from ((line.region, site) for site in line.text.split(", "))
        else:
            yield (line.name, line.text)


def main() -> int:
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--part", choices=PARTS, default="choosing")
    ap.add_argument("--all", action="store_true", help="every kind in every exam")
    ap.add_argument("--seed", type=int, default=5)
    a = ap.parse_args()
    lexicon, steps, chance = load(), steps_for("base"), random.Random(a.seed)
    drafts = [
        (case.name, from_json(record_of(case, lexicon, steps)[0]))
        for case in cases(NARRATIONS, None)
        if case.part == a.part
    ]
    listed = [len(unclaimed(reviewed(d)[0], lexicon)) for _, d in drafts]
    print(f"words of findings that no line tells, with nothing planted: {sum(listed) / len(listed):.1f} lines an exam")
    lengths = sorted(len(summary_text(before_you_sign(reviewed(d)[0], lexicon)).splitlines()) for _, d in drafts)
    print(
        f"{len(drafts)} exams ({a.part}); lines of the screen: median {lengths[len(lengths) // 2]}, most {lengths[-1]}"
    )
    shown, short, all_planted = Counter(), Counter(), Counter()
    left = dict(drafts)
    for kind in KINDS:
        for name, draft in drafts if a.all else list(left.items()):
            done = planted(kind, draft, lexicon, chance)
            if done is None:
                continue
            what, right, wrong = done
            lists = exposed(right, wrong, lexicon)
            all_planted[kind] += 1
            shown[kind] += bool(lists)
            short[kind] += any(one in SHORT for one in lists)
            if not a.all:
                del left[name]
                print(
                    f"  {kind:<28} {'shown under ' + ', '.join(lists) if lists else 'NOT SHOWN'}"
                    + ("" if a.part == "held" else f"   ({name}, {what})")
                )
                break
    print(f"\n{'planted error':<28} planted  shown  in a short list")
    for kind in KINDS:
        print(f"{kind:<28} {all_planted[kind]:>7} {shown[kind]:>6} {short[kind]:>16}")
    print(f"{'all':<28} {all_planted.total():>7} {shown.total():>6} {short.total():>16}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
