"""Which sites of the form were spoken of, and which were not. Nothing is normal because nobody spoke of it."""

from __future__ import annotations

from dictate.exam.anatomy import applies
from dictate.exam.context import Context
from dictate.exam.record import Coverage
from dictate.exam.statements import Statement


def count_coverage(statements: tuple[Statement, ...], context: Context) -> Coverage:
    """Names of the sites recorded and not recorded, in the order of the lexicon's table of sites.

    A site that this patient cannot have is not missed.
    """
    spoken = {s.site for s in statements}
    due = [s.site for s in context.lexicon.sites if applies(s, context.patient)]
    known = [s.site for s in context.lexicon.sites if s.site in spoken]
    return Coverage(
        recorded=(*known, *sorted(spoken - set(known))),
        not_recorded=tuple(site for site in due if site not in spoken),
    )
