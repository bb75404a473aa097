"""One observation a side; a side that was left open is doubted; a side on an unpaired site is kept as a qualifier."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from dictate.exam.context import Context, is_plain_normal, tooth_numbers
from dictate.exam.statements import Doubt, Statement

MAY_STAY_OPEN = "open side"  # a trait of sites of which one may be meant, whichever it was
OPEN_SIDE = Doubt("side", "The side was not said.", ("left", "right", "both"))


def settle_sides(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """Every statement with side "left", "right" or None, as the site allows."""
    return tuple(settled for statement in statements for settled in _settle(statement, context))


def _settle(statement: Statement, context: Context) -> Iterator[Statement]:
    if not context.paired(statement.site):
        if statement.side == "both" and is_plain_normal(
            statement
        ):  # "both" says nothing more of a site that has no sides
            statement = replace(statement, side=None)
        elif statement.side is not None:
            statement = _side_as_qualifier(statement, context)
        yield statement
    elif statement.side == "both":
        yield replace(statement, side="left")
        yield replace(statement, side="right")
    elif statement.side is None and _must_be_asked(statement, context):
        yield replace(statement, doubts=(*statement.doubts, OPEN_SIDE))
    else:
        yield statement


def _side_as_qualifier(statement: Statement, context: Context) -> Statement:
    """The side among the qualifiers. A tooth's number is its side: there only a spoken side that differs counts."""
    teeth = set(tooth_numbers(statement))
    sides = {
        side for t in context.lexicon.teeth if t.tooth in teeth for side in ("left", "right") if side in t.name.split()
    }
    if not sides:
        return replace(statement, side=None, qualifiers={**statement.qualifiers, "side": statement.side})
    spoken = {word for e in statement.evidence for word in e.text.lower().split()}
    if len(sides) == 1 and statement.side in spoken and statement.side not in sides:
        (side,) = sides
        message = f"The {statement.side} side was said, but tooth {', '.join(sorted(teeth))} is on the {side}."
        doubt = Doubt("side", message, (f"tooth {', '.join(sorted(teeth))}", f"{statement.side} side"))
        return replace(statement, side=None, doubts=(*statement.doubts, doubt))
    return replace(statement, side=None)


def _must_be_asked(statement: Statement, context: Context) -> bool:
    """Whether nobody has doubted the open side yet, and the site is none that may be spoken of without a side."""
    doubted = any(d.kind == OPEN_SIDE.kind for d in statement.doubts)
    return not doubted and MAY_STAY_OPEN not in context.traits(statement.site)
