"""One question where one will do: a doubt in general gives way to one that names what is doubtful."""

from __future__ import annotations

from dataclasses import replace

from dictate.exam.context import Context
from dictate.exam.statements import Statement

GENERAL = "reading"  # the kind of a doubt that says no more than that something else may have been meant


def spare_general_doubts(statements: tuple[Statement, ...], context: Context) -> tuple[Statement, ...]:
    """The same statements; one that carries a doubt of its own has no general one beside it."""
    return tuple(_spared(s) for s in statements)


def _spared(statement: Statement) -> Statement:
    named = tuple(d for d in statement.doubts if d.kind != GENERAL)
    return replace(statement, doubts=named) if named and len(named) < len(statement.doubts) else statement
