"""Made-up talks for training, from the tables of words beside this file and the lexicon's words for sites.

They hold every site and finding, sides said in many ways, lists, carrying over, corrections, and talk that is no
finding; their marks are true by the way they are made. They stand beside the written narrations, never instead of them.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

from second_reader_data import PLAIN, Fact, Mark, Names, Talk, fact_cuts, part_cuts
from second_reader_words import Words

PRONOUNS = ("it", "that", "this one", "that one")


class Speaker:
    """Builds one made-up talk, sentence after sentence."""

    def __init__(self, words: Words, names: Names, rng: random.Random) -> None:
        self.w, self.names, self.rng = words, names, rng
        self.text: list[str] = []
        self.marks: list[Mark] = []
        self.by_site: dict[str, list[str]] = {}
        spread = Counter({f: len(set(sites)) for f, sites in words.at.items()})
        self.anywhere = [f for f, _ in spread.most_common(5)]  # findings that stand at most sites
        for f, sites in words.at.items():
            for s in set(sites):
                self.by_site.setdefault(s, []).append(f)

    # ------------------------------------------------------------------------------------------------- small pieces

    def pick(self, kind: str) -> str:
        """One phrase of a kind."""
        return self.rng.choice(self.w.talk[kind])

    def say(self, text: str) -> tuple[int, int]:
        """Adds words and gives their place."""
        first = len(self.text)
        self.text += text.split()
        return first, len(self.text)

    def stop(self, mark: str) -> None:
        """Puts a stop behind the last word."""
        if self.text and self.text[-1][-1].isalnum():
            self.text[-1] += mark

    def fact(self, span: tuple[int, int], site: str, outcome: int, side: str, hedged: bool = False) -> None:
        """Marks words as one fact."""
        if span[1] > span[0]:
            self.marks.append(Mark(*span, "fact", Fact(self.names.sites.index(site), (outcome,), side, hedged)))

    def column(self, finding: str, present: bool) -> int:
        """Outcome column of a finding."""
        i = self.names.findings.index(finding)
        return len(PLAIN) + i + (0 if present else len(self.names.findings))

    def paired(self, site: str) -> bool:
        """Whether a site has sides."""
        return self.names.paired[self.names.sites.index(site)]

    def sited(self, site: str, side: str) -> str:
        """A site with its side in words."""
        rng = self.rng
        plural = self.w.many[site] or [n if n.endswith("s") else n + "s" for n in self.w.one[site][:3]]
        word = rng.choice(self.w.one[site])
        if side in ("left", "right"):
            return rng.choice(
                (
                    f"{side} {word}",
                    f"{side} {word}",
                    f"the {side} {word}",
                    f"{word} on the {side}",
                    f"{side}-hand {word}",
                )
            )
        if side == "both":
            word = rng.choice(plural)
            return rng.choice(
                (
                    word,
                    f"both {word}",
                    f"the {word}",
                    f"{word} on both sides",
                    f"both the {word}",
                    f"{word} left and right",
                )
            )
        return rng.choice((word, f"the {word}", f"his {word}", f"her {word}"))

    def side(self, site: str) -> str:
        """A side to speak of."""
        return self.rng.choice(("left", "right", "both")) if self.paired(site) else "none"

    def state(self, site: str) -> str:
        """Words that praise a site."""
        own = self.w.talk.get(f"normal:{site}")
        return self.rng.choice(own) if own and self.rng.random() < 0.6 else self.pick("normal")

    # --------------------------------------------------------------------------------------------------- statements

    def normal(self, site: str, side: str) -> None:
        """A site is normal."""
        rng, where, state = self.rng, self.sited(site, side), self.state(site)
        verb = rng.choice(
            ("is", "looks", "feels", "seems") if side in ("left", "right", "none") else ("are", "look", "feel", "both")
        )
        form = rng.random()
        if form < 0.35:
            text = f"{where} {state}"
        elif form < 0.65:
            text = f"{where} {verb} {state}"
        elif form < 0.8:
            text = f"{where}, {self.pick('normal_clause')}"
        elif form < 0.9:
            text = f"{state} {where}"
        else:
            text = f"{where}. {self.pick('normal_clause').capitalize()}"
        self.fact(self.say(text), site, PLAIN.index("normal"), side)

    def present(self, site: str, side: str, finding: str) -> None:
        """A finding at a site, sometimes hedged."""
        rng = self.rng
        nouns, states, clauses = self.w.findings[finding]
        where, hedged = self.sited(site, side), rng.random() < 0.12
        hedge = f"{self.pick('hedge')} " if hedged else ""
        kinds = [k for k, v in (("noun", nouns), ("state", states), ("clause", clauses)) if v]
        kind = rng.choice(kinds)
        if kind == "noun":
            noun = rng.choice(nouns)
            if rng.random() < 0.4:
                noun = f"{self.pick('severity')} {noun.removeprefix('a ').removeprefix('an ')}"
            text = rng.choice(
                (
                    f"{hedge}{noun} on {where}",
                    f"{where} has {hedge}{noun}",
                    f"{where}, {hedge}{noun}",
                    f"{where} {hedge}{noun}",
                    f"{where} with {hedge}{noun}",
                    f"{hedge}{noun} in {where}",
                    f"there's {hedge}{noun} at {where}",
                    f"I've got {hedge}{noun} {where}",
                    f"{hedge}{noun}, {where}",
                )
            )
        elif kind == "state":
            verb = rng.choice(("is", "looks", "feels", "a bit", "quite", "rather", "", "are"))
            text = f"{where} {verb} {hedge}{rng.choice(states)}"
        else:
            text = f"{where}{rng.choice((',', '.', ' and', ''))} {hedge}{rng.choice(clauses)}"
        self.fact(self.say(text), site, self.column(finding, True), side, hedged)

    def more(self, site: str, side: str) -> None:
        """A further statement of the same site, without its name."""
        rng = self.rng
        finding = self.finding(site)
        nouns, states, clauses = self.w.findings[finding]
        joint = self.pick("clean_join")
        if joint:
            self.say(joint)
        if rng.random() < 0.6 and nouns:
            noun = rng.choice(nouns).removeprefix("a ").removeprefix("an ")
            self.fact(
                self.say(self.pick("pronoun_absent").replace("{w}", noun)), site, self.column(finding, False), side
            )
        elif clauses and rng.random() < 0.5:
            self.fact(self.say(rng.choice(clauses)), site, self.column(finding, True), side)
        elif states:
            text = f"{rng.choice(PRONOUNS)} {rng.choice(('is', 'looks', 'feels'))} {rng.choice(states)}"
            self.fact(self.say(text), site, self.column(finding, True), side)

    def absent(self, site: str, side: str) -> None:
        """A finding that was looked for and is absent, with the site named."""
        rng = self.rng
        finding = self.finding(site)
        nouns, states, _ = self.w.findings[finding]
        where = self.sited(site, side)
        if nouns and rng.random() < 0.75:
            noun = rng.choice(nouns).removeprefix("a ").removeprefix("an ")
            no = self.pick("pronoun_absent").replace("{w}", noun)
            text = rng.choice(
                (f"{no} on {where}", f"{where}, {no}", f"{where} {no}", f"{no} in {where}", f"{where} has {no}")
            )
        elif states:
            no = rng.choice(("not", "never", "nowhere near", "anything but", "is not", "are not"))
            text = f"{where} {no} {rng.choice(states)}"
        else:
            return
        self.fact(self.say(text), site, self.column(finding, False), side)

    def unseen(self, site: str, side: str) -> None:
        """A site that could not be examined."""
        text = self.pick("not_examined").replace("{s}", self.sited(site, side))
        span = self.say(text)
        if self.rng.random() < 0.5:
            self.stop(",")
            self.say(self.pick("reason"))
        self.fact(span, site, PLAIN.index("not_examined"), side)

    def measured(self, site: str) -> None:
        """A value, in figures or words."""
        text = self.pick(f"measured:{site}").replace("{n}", self.number())
        self.fact(self.say(text), site, PLAIN.index("measured"), self.side(site) if self.paired(site) else "none")

    def number(self) -> str:
        """Some number."""
        rng = self.rng
        ones = self.w.talk["number"]
        return rng.choice(
            (
                str(rng.randint(1, 240)),
                f"{rng.randint(1, 60)}.{rng.randint(0, 9)}",
                rng.choice(ones),
                f"{rng.choice(ones)} point {rng.choice(ones[:9])}",
                f"one {rng.choice(ones[13:])}",
                f"{rng.choice(ones[13:])} {rng.choice(ones[:9])}",
                "a hundred and " + rng.choice(ones),
            )
        )

    def finding(self, site: str) -> str:
        """A finding that can stand at the site."""
        known = self.by_site.get(site)
        return self.rng.choice(known) if known and self.rng.random() < 0.9 else self.rng.choice(self.anywhere)

    def aside(self, role: str) -> None:
        """Talk that is no finding."""
        text = self.pick(role)
        site = self.rng.choice(self.names.sites)
        nouns = self.w.findings[self.finding(site)][0] or ["trouble"]
        text = (
            text.replace("{s}", self.sited(site, self.side(site)))
            .replace("{p}", self.rng.choice(nouns))
            .replace("{n}", self.number())
        )
        span = self.say(text)
        self.marks.append(Mark(*span, role))

    def one(self, site: str, side: str) -> None:
        """One statement of a site, of any sort."""
        if f"measured:{site}" in self.w.talk and self.rng.random() < 0.8:
            self.measured(site)
            return
        r = self.rng.random()
        if r < 0.38:
            self.normal(site, side)
        elif r < 0.75:
            self.present(site, side, self.finding(site))
        elif r < 0.88:
            self.absent(site, side)
        else:
            self.unseen(site, side)

    # --------------------------------------------------------------------------------------------------------- turns

    def repeated(self, site: str) -> None:
        """The same on the other side: what was said of the first is said again."""
        side = self.rng.choice(("left", "right"))
        other = "right" if side == "left" else "left"
        at = len(self.marks)
        self.one(site, side)
        if self.rng.random() < 0.4:
            self.stop(",")
            self.more(site, side)
        told = [m.fact for m in self.marks[at:] if m.fact and m.fact.side == side]
        self.stop(self.rng.choice(",.."))
        span = self.say(self.pick("same").replace("{o}", other))
        for f in told:
            self.marks.append(Mark(*span, "fact", replace(f, side=other)))

    def contrasted(self, site: str) -> None:
        """One side so, the other otherwise, the site named once."""
        side = self.rng.choice(("left", "right"))
        other = "right" if side == "left" else "left"
        self.one(site, side)
        self.stop(self.rng.choice(",.."))
        finding = self.finding(site)
        states = self.w.findings[finding][1]
        good = self.rng.random() < 0.5 or not states
        said = self.state(site) if good else self.rng.choice(states)
        text = self.rng.choice(
            (
                f"{other} {said}",
                f"the {other} one is {said}",
                f"{other} is {said}",
                f"but the {other} {said}",
                f"on the {other} {said}",
            )
        )
        self.fact(self.say(text), site, PLAIN.index("normal") if good else self.column(finding, True), other)

    def listed(self) -> None:
        """Several sites that share one state or finding."""
        rng = self.rng
        sites = rng.sample([s for s in self.names.sites if f"measured:{s}" not in self.w.talk], rng.randint(2, 4))
        side = rng.choice(("left", "right", "both"))
        all_paired = all(self.paired(s) for s in sites)
        sides = {s: (side if self.paired(s) else "none") for s in sites}
        said = [self.sited(s, sides[s] if not all_paired else ("both" if side == "both" else "none")) for s in sites]
        first = len(self.text)
        lead = f"{side} " if all_paired and side != "both" else ""
        text = lead + ", ".join(w.removeprefix("the ") for w in said[:-1]) + f" and {said[-1].removeprefix('the ')} "
        self.say(text + rng.choice(("are ", "", "all ", "feel ")) + self.pick("normal"))
        for s in sites:
            self.fact((first, len(self.text)), s, PLAIN.index("normal"), sides[s])

    def corrected(self, site: str) -> None:
        """A side or a statement taken back."""
        rng = self.rng
        at, first = len(self.marks), len(self.text)
        side = rng.choice(("left", "right")) if self.paired(site) else "none"
        self.present(site, side, self.finding(site))
        fact = self.marks[at].fact
        assert fact
        self.marks[at:] = [Mark(first, len(self.text), "taken back")]
        self.stop(rng.choice(",.\u2014"))
        if side != "none" and rng.random() < 0.6:
            other = "right" if side == "left" else "left"
            text = rng.choice(
                (
                    f"{self.pick('taken')}, {other}",
                    f"{self.pick('taken')}, that's the {other}",
                    f"{other}, not {side}",
                    f"no, {other}, sorry",
                )
            )
            self.marks.append(Mark(*self.say(text), "fact", replace(fact, side=other)))
        else:
            self.say(self.pick("taken"))
            self.stop(",")
            self.one(site, side)

    def turn(self) -> None:
        """One thing to say."""
        rng = self.rng
        r = rng.random()
        site = rng.choice(self.names.sites)
        if rng.random() < 0.3:
            finding = rng.choice([f for f, s in self.w.at.items() if s])
            site = rng.choice(self.w.at[finding])
            self.present(site, self.side(site), finding)
        elif r < 0.4:
            side = self.side(site)
            self.one(site, side)
            if rng.random() < 0.35 and f"measured:{site}" not in self.w.talk:
                self.stop(rng.choice(",."))
                self.more(site, side)
        elif r < 0.5 and self.paired(site):
            self.repeated(site)
        elif r < 0.6 and self.paired(site):
            self.contrasted(site)
        elif r < 0.65:
            self.listed()
        elif r < 0.7:
            self.corrected(site)
        else:
            roles = (
                "teaching",
                "intention",
                "plan",
                "advice",
                "history",
                "procedures",
                "laboratory",
                "joke",
                "address",
                "other patient",
            )
            self.aside(rng.choice(roles))

    def talk(self, name: str) -> Talk:
        """A whole talk."""
        rng = self.rng
        self.say(self.pick("opening").replace("{name}", self.pick("name")))
        if rng.random() < 0.6:
            self.stop(",")
            self.say(self.pick("kind"))
        self.stop(".")
        for _ in range(rng.randint(10, 30)):
            first = len(self.text)
            self.turn()
            if first < len(self.text):
                self.text[first] = self.text[first][:1].upper() + self.text[first][1:]
            self.stop(rng.choice("......,;!"))
        made = Talk(name, tuple(self.text), tuple(self.marks))
        return replace(made, fact_cuts=tuple(fact_cuts(made)), part_cuts=tuple(part_cuts(made)))


def made_talks(words: Words, names: Names, *, many: int, seed: int) -> list[Talk]:
    """Made-up talks, the same for the same seed."""
    rng = random.Random(seed)
    return [Speaker(words, names, rng).talk(f"made{i}") for i in range(many)]
