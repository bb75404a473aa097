"""From words to statements: `read` is the whole language step."""

from dictate.language.step import explain, read

__all__ = ["explain", "read"]
