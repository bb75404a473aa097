"""What the store says no to: InputErrors with one clear line; some carry what a page needs to go on."""

from __future__ import annotations

from typing import Any

from dictate.errors import InputError


class Refused(InputError):
    """A person may not do this, or did not prove who they are. `wait`: seconds until the next try is looked at."""

    def __init__(self, what: str, *, where: str = "", wait: float = 0.0) -> None:
        super().__init__(what, where=where)
        self.wait = wait


class Conflict(InputError):
    """Something was changed by somebody else since the page was shown. Nothing was written.

    `since`: the others' decisions that the page had not seen. `working`: the review as it is now, where there is one.
    """

    def __init__(self, what: str, *, where: str = "", since: tuple[Any, ...] = (), working: Any = None) -> None:
        super().__init__(what, where=where)
        self.since = since
        self.working = working


class Gone(InputError):
    """Sound that is not kept (any more)."""
