"""The figures by which drafted records are judged against what a careful human would have written down.

Over all files:
  facts       truth facts, each side of a paired site counted by itself
  placed      share of facts with an observation of the same site, side and status
  exact       share of facts placed with the same finding, value, grade and tooth too
  precision   share of observations that some fact bears out (site, side, status; and finding and presence where named)
  wrong       observations that no fact bears out, in all
  silent      of those, the ones without a doubt: a reader would trust them
  invented    silent observations whose evidence is talk that is no finding
  lost        facts neither placed nor shown anywhere a reviewer must look
  unseen      silent + silent_inexact + lost, per exam: what goes wrong with nothing to warn the reader
  flagged     share of the facts that need a human's eye which carry a doubt
  burden      doubts plus unplaced phrases, per exam
  patient     share of the patient's details told in the talk that stand in the record
  sections    share of history, plan, advice, procedures and laboratory talk kept in its section
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from rapidfuzz import fuzz

OVERLAP = 75  # rapidfuzz partial ratio from which two phrases are the same stretch of talk


def norm(text: str | None) -> str:
    return re.sub(r"[^a-z0-9.%/ ]+", " ", (text or "").lower()).strip()


class Synonyms:
    """Names that count as one site or finding; the first of a row is the name it is scored under."""

    def __init__(self, path: Path | None):
        self.to: dict[str, str] = {}
        if path:
            for row in path.read_text().splitlines():
                names = [norm(n) for n in row.split(";") if n.strip()]
                for name in names:
                    self.to[name] = names[0]

    def __call__(self, name: str | None) -> str:
        key = norm(name)
        if key in self.to:
            return self.to[key]
        if key.endswith("s") and key[:-1] in self.to:
            return self.to[key[:-1]]
        return key


def sides(side: str | None) -> list[str | None]:
    return ["left", "right"] if side == "both" else [side]


def number(value) -> float | None:
    if isinstance(value, dict):
        value = value.get("number")
    try:
        return float(value)
    except (TypeError, ValueError):
        return None


def same_unit(want: str | None, value) -> bool:
    got = value.get("unit") if isinstance(value, dict) else None
    return not want or want == "{score}" or want == got


def same_text(a: str, b: str) -> bool:
    a, b = norm(a), norm(b)
    if not a or not b:
        return False
    if len(a) < 8 or len(b) < 8:
        return a in b or b in a
    return fuzz.partial_ratio(a, b) >= OVERLAP


def shown_as(quote: str, phrase: str) -> bool:
    """A phrase shows a fact only when it is not much longer than the words that bear it: dumping shows nothing."""
    return len(phrase) <= 4 * len(quote) + 60 and same_text(quote, phrase)


def bears_out(fact: dict, obs: dict, syn: Synonyms) -> bool:
    """Whether a fact bears out an observation: the same site, side and status, and the same finding and presence
    where the observation names a finding."""
    if not placed_by(fact, obs, syn):
        return False
    if obs.get("value") is not None or not obs.get("finding"):
        return True
    want, got = syn(fact.get("finding")), syn(obs.get("finding"))
    same = bool(want) and (want == got or fuzz.token_set_ratio(want, got) >= 85)
    return same and (fact.get("present") is False) == (obs.get("present") is False)


def expand(facts: list[dict]) -> list[dict]:
    return [{**f, "side": s} for f in facts for s in sides(f.get("side"))]


def site_match(fact: dict, obs: dict, syn: Synonyms) -> bool:
    return syn(fact["site"]) == syn(obs.get("site"))


def side_match(fact: dict, obs: dict) -> bool:
    return fact.get("side") is None or fact.get("side") == obs.get("side")


def status_match(fact: dict, obs: dict) -> bool:
    if fact.get("value") is not None and obs.get("value") is not None:
        return True
    return fact["status"] == obs.get("status")


def placed_by(fact: dict, obs: dict, syn: Synonyms) -> bool:
    return site_match(fact, obs, syn) and side_match(fact, obs) and status_match(fact, obs)


def finding_match(fact: dict, obs: dict, syn: Synonyms) -> bool:
    want, got = syn(fact.get("finding")), syn(obs.get("finding"))
    absent = fact.get("present") is False
    if fact["status"] != "abnormal" and not absent:
        return True
    if absent and obs.get("present") is not False:
        return False  # 'no discharge' drafted as plain normal is placed, but not exact
    return not want or want == got or (bool(got) and fuzz.token_set_ratio(want, got) >= 85)


def detail_match(fact: dict, obs: dict, syn: Synonyms) -> bool:
    want = number(fact.get("value"))
    if want is None and not finding_match(fact, obs, syn):
        return False
    if want is not None and (number(obs.get("value")) != want or not same_unit(fact.get("unit"), obs.get("value"))):
        return False
    q, o = fact.get("qualifiers") or {}, obs.get("qualifiers") or {}
    if q.get("tooth") is not None and not same_tooth(q["tooth"], o.get("tooth")):
        return False
    return q.get("grade") is None or _same_grade(q["grade"], o.get("grade"))


def same_tooth(want, got) -> bool:
    """Tooth numbers must agree; a tooth told in words is not scored."""
    numbers = set(re.findall(r"\b[1-8]\d\d\b", str(want)))
    return not numbers or numbers <= set(re.findall(r"\b[1-8]\d\d\b", str(got)))


ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6}
WORDS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6}


def _grade(value) -> str:
    token = norm(str(value)).replace("grade", "").split("/")[0].split()
    first = token[0] if token else ""
    return str(ROMAN.get(first) or WORDS.get(first) or first.removesuffix(".0"))


def _same_grade(a, b) -> bool:
    return b is not None and _grade(a) == _grade(b)


def to_be_seen(record: dict) -> list[str]:
    """The phrases that a reviewer must look at before signing: the unplaced and the doubted."""
    out = [u.get("text", "") for u in record.get("unplaced") or []]
    for o in record.get("observations") or []:
        if o.get("doubts"):
            out += [e.get("text", "") for e in o.get("evidence") or []]
    return out


def score_one(truth: dict, record: dict, syn: Synonyms, say) -> Counter:
    c: Counter = Counter(exams=1)
    facts = expand(truth["facts"])
    obs = list(record.get("observations") or [])
    firm = [f for f in facts if f.get("certainty") != "needs_review"]
    review = [f for f in facts if f.get("certainty") == "needs_review"]
    shown = to_be_seen(record)
    c["facts"], c["observations"] = len(firm), len(obs)
    for f in firm:
        hits = [o for o in obs if placed_by(f, o, syn)]
        if hits:
            c["placed"] += 1
            if any(detail_match(f, o, syn) for o in hits):
                c["exact"] += 1
            else:
                say("inexact", f, hits)
                if not any(o.get("doubts") for o in hits):
                    c["silent_inexact"] += 1
        elif any(shown_as(f["quote"], p) for p in shown):
            c["shown"] += 1
            say("not placed, but shown", f)
        else:
            c["lost"] += 1
            say("LOST", f)
    for f in review:
        near = [o for o in obs if site_match(f, o, syn) and o.get("doubts")]
        ok = bool(near) or any(shown_as(f["quote"], p) for p in shown)
        c["review"] += 1
        c["flagged"] += ok
        if not ok:
            say("NOT FLAGGED", f)
    for o in obs:
        if any(bears_out(f, o, syn) for f in facts):
            c["borne_out"] += 1
            continue
        c["wrong"] += 1
        if o.get("doubts"):
            say("wrong, doubted", o)
            continue
        c["silent"] += 1
        text = " ".join(e.get("text", "") for e in o.get("evidence") or [])
        if any(same_text(n["quote"], text) for n in truth.get("not_facts") or []):
            c["invented"] += 1
            say("INVENTED", o)
        else:
            say("SILENT WRONG", o)
    c["doubts"] = sum(len(o.get("doubts") or []) for o in obs) + len(record.get("unplaced") or [])
    score_patient(truth, record, c, say)
    score_sections(truth, record, c, say)
    return c


def score_patient(truth: dict, record: dict, c: Counter, say) -> None:
    want, got = truth.get("patient") or {}, record.get("patient") or {}
    for key in ("name", "species", "sex", "neutered", "breed"):
        if want.get(key) is None:
            continue
        c["patient_told"] += 1
        ok = norm(str(want[key])) == norm(str(got.get(key)))
        c["patient_kept"] += ok
        if not ok:
            say(f"PATIENT {key}", {"quote": f"{want[key]} / {got.get(key)}"})
    if number(want.get("age")) is not None:
        c["patient_told"] += 1
        same = number(got.get("age")) == number(want["age"]) and (got.get("age") or {}).get("unit") == want["age"].get(
            "unit"
        )
        c["patient_kept"] += same
        if not same:
            say("PATIENT age", {"quote": f"{want['age']} / {got.get('age')}"})


def score_sections(truth: dict, record: dict, c: Counter, say) -> None:
    for name, quotes in (truth.get("other") or {}).items():
        kept = [
            e.get("text", "") if isinstance(e, dict) else str(e) for e in (record.get("other") or {}).get(name) or []
        ]
        for quote in quotes:
            c["other_told"] += 1
            ok = any(same_text(quote, k) for k in kept)
            c["other_kept"] += ok
            if not ok:
                say(f"SECTION {name}", {"quote": quote})


def share(a: int, b: int) -> str:
    return f"{a / b:.3f}" if b else "-"


def report(name: str, c: Counter) -> str:
    return (
        f"{name:<22} facts {c['facts']:>4}  placed {share(c['placed'], c['facts'])}"
        f"  exact {share(c['exact'], c['facts'])}"
        f"  precision {share(c['borne_out'], c['observations'])}  wrong {c['wrong']:>3}  silent {c['silent']:>3}"
        f"  silent_inexact {c['silent_inexact']:>3}  invented {c['invented']:>3}  lost {c['lost']:>3}"
        f"  unseen {(c['silent'] + c['silent_inexact'] + c['lost']) / max(1, c['exams']):.2f}"
        f"  flagged {c['flagged']}/{c['review']}  burden {c['doubts'] / max(1, c['exams']):.1f}"
        f"  patient {share(c['patient_kept'], c['patient_told'])}  sections {share(c['other_kept'], c['other_told'])}"
    )
