"""Lookups over the lexicon: what belongs where. Nothing here knows a word of the trade; the tables do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from dictate.lexicon import Lexicon

SEXES = ("male", "female")
LIMB_REGIONS = {"front": "forelimbs", "hind": "hindlimbs"}


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Indexes of the lexicon's tables by name of site and finding."""

    paired: frozenset[str]
    region: dict[str, str]
    home: dict[str, str]
    stands_at: dict[str, tuple[str, ...]]
    becomes: dict[tuple[str, str], str]
    holds: dict[str, frozenset[str]]
    measures: dict[str, tuple[str, ...]]
    bare: dict[str, tuple[float, float]]
    traits: dict[str, tuple[str, ...]]
    sex_of: dict[str, str]

    def fits(self, finding: str, site: str) -> bool:
        """Whether the finding can stand at the site. A finding that no table places stands anywhere."""
        sites = self.stands_at.get(finding)
        return sites is None or self.settled(site, finding) in sites or site in sites

    def settled(self, site: str, finding: str | None) -> str:
        """The site that a finding said of `site` belongs to ("gums" with an inflammation of the gum, say)."""
        return self.becomes.get((site, finding), site) if finding else site

    def within(self, site: str, container: str) -> bool:
        return site == container or site in self.holds.get(container, frozenset())

    def same_region(self, a: str, b: str) -> bool:
        return self.region.get(a) == self.region.get(b)

    def related(self, site: str, others: Iterable[str]) -> bool:
        """Whether `site` lies in, or holds, or shares its region with one of `others`."""
        return any(self.within(site, o) or self.within(o, site) or self.same_region(site, o) for o in others)

    def sites_for_unit(self, unit: str) -> tuple[str, ...]:
        return tuple(site for site, units in self.measures.items() if unit in units)


def knowledge(lexicon: Lexicon) -> Knowledge:
    """Index the tables once."""
    region = {s.site: s.region for s in lexicon.sites}
    return Knowledge(
        paired=frozenset(s.site for s in lexicon.sites if s.paired),
        region=region,
        home={f.finding: f.home for f in lexicon.findings if f.home},
        stands_at={f.finding: f.sites for f in lexicon.finding_sites},
        becomes={(r.site, r.finding): r.becomes for r in lexicon.site_findings},
        holds={c.site: frozenset(c.holds) for c in lexicon.containers},
        measures={m.site: m.units for m in lexicon.measures},
        bare={m.site: (m.low, m.high) for m in lexicon.measures if m.bare},
        traits={
            t: tuple(r.site for r in lexicon.site_traits if r.trait == t)
            for t in {r.trait for r in lexicon.site_traits}
        },
        sex_of={s.site: told[0] for s in lexicon.sites if len(told := [a for a in s.applies_to if a in SEXES]) == 1},
    )
