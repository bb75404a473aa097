"""One observation a side; a side that was left open is doubted; a side on an unpaired site is kept as a qualifier."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from dictate.exam.context import Context
from dictate.exam.statements import Doubt, Statement

OPEN_SIDE = Doubt("side", "The side was not said.", ("left", "right", "both"))


def settle_sides(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """Every statement with side "left", "right" or None, as the site allows."""
    return tuple(settled for statement in statements for settled in _settle(statement, context))


def _settle(statement: Statement, context: Context) -> Iterator[Statement]:
    if not context.paired(statement.site):
        if statement.side is not None:
            qualifiers = {**statement.qualifiers, "side": statement.side}
            statement = replace(statement, side=None, qualifiers=qualifiers)
        yield statement
    elif statement.side == "both":
        yield replace(statement, side="left")
        yield replace(statement, side="right")
    elif statement.side is None and not any(d.kind == OPEN_SIDE.kind for d in statement.doubts):
        yield replace(statement, doubts=(*statement.doubts, OPEN_SIDE))
    else:
        yield statement
