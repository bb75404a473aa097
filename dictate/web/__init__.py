"""The pages: review, signing, finding again, comparing. Server-rendered, for the practice's own machines alone.

serve(files, store=..., ...) -> exit status     blocks until it is stopped
make_app(house) -> Starlette                    the same pages as an application, for tests
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dictate.web.server import serve

__all__ = ["serve"]


def __getattr__(name: str) -> Any:
    if name != "serve":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from dictate.web.server import serve

    return serve
