"""From words to statements: `read` is the whole language step.

The names are loaded on first use, so that importing a small part of this package loads no model.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dictate.language.step import explain, read

__all__ = ["explain", "read"]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from dictate.language import step

    return getattr(step, name)
