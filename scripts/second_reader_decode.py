"""A simple drafted record from the second reader alone, to measure it by itself."""

from __future__ import annotations

import re

from second_reader_data import SECTIONS, Names


def record_of(reader, text: str, names: Names) -> dict:
    """One record: outcomes above the threshold, like ones merged, sections from roles; of numbers only figures."""
    lim = reader.labels.limits
    paired = dict(zip(names.sites, names.paired, strict=True))
    merged: dict[tuple, dict] = {}
    other: dict[str, list[dict]] = {s: [] for s in SECTIONS}
    before: set[str] = set()
    for s in reader.read(text):
        here = {name for name in SECTIONS if s.roles[name] >= lim["section"]}
        for name in here:
            if name in before:
                old = other[name][-1]
                other[name][-1] = {
                    "text": text[old["char_start"] : s.char_end],
                    "char_start": old["char_start"],
                    "char_end": s.char_end,
                }
            else:
                other[name].append({"text": s.text, "char_start": s.char_start, "char_end": s.char_end})
        before = here
        if s.taken_back >= max(0.5, lim["taken back"]):
            continue
        for site in s.sites:
            side = max(site.sides, key=lambda k: site.sides[k])
            for o in site.outcomes:
                if o.probability < lim["outcome"]:
                    continue
                for one in ("left", "right") if side == "both" else (None if side == "none" else side,):
                    one = one if paired[site.site] else None
                    doubts = []
                    if o.probability < lim["outcome_sure"]:
                        doubts.append({"kind": "reading", "message": "read with little certainty", "choices": []})
                    if paired[site.site] and one is None:
                        doubts.append({"kind": "side", "message": "side left open", "choices": []})
                    key = (site.site, one, o.status, o.finding, o.present, o.measured)
                    evidence = {"text": s.text, "char_start": s.char_start, "char_end": s.char_end}
                    if key in merged:
                        merged[key]["evidence"].append(evidence)
                        merged[key]["doubts"] = min(merged[key]["doubts"], doubts, key=len)
                        continue
                    number = re.search(r"\d+(?:\.\d+)?", s.text) if o.measured else None
                    merged[key] = {
                        "site": site.site,
                        "side": one,
                        "status": o.status,
                        "finding": o.finding,
                        "present": o.present,
                        "stated_as": "possible" if site.hedged >= 0.5 else "certain",
                        "qualifiers": {},
                        "value": {"number": float(number.group()), "unit": None, "comparator": None}
                        if number
                        else None,
                        "doubts": doubts,
                        "evidence": [evidence],
                    }
    return {"observations": list(merged.values()), "unplaced": [], "other": other, "patient": {}}
