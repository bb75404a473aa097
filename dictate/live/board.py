"""The one place where the exam puts what the room shall see, and where every open page waits for it."""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import Any

from dictate.live.view import View


class Board:
    """Holds the present `View`; `version` grows with each change. Safe between threads."""

    def __init__(self, view: View | None = None) -> None:
        self._view = view or View()
        self.level = -100.0  # dB below full scale; it changes all the time, so nobody is woken for it
        self._version = 1
        self._changed = threading.Condition()

    @property
    def view(self) -> View:
        return self._view

    def show(self, **changes: Any) -> None:
        """Change some fields of the view."""
        with self._changed:
            new = replace(self._view, **changes)
            if new != self._view:
                self._view, self._version = new, self._version + 1
                self._changed.notify_all()

    def trouble(self, kind: str, text: str) -> None:
        """Show a trouble of a kind, or take it away with an empty text."""
        with self._changed:
            kept = tuple(t for t in self._view.troubles if not t.startswith(f"{kind}: "))
        self.show(troubles=(*kept, f"{kind}: {text}") if text else kept)

    def wait(self, seen: int, timeout: float) -> tuple[int, View]:
        """The view and its version, as soon as it is another than the one seen, or after `timeout` seconds."""
        with self._changed:
            self._changed.wait_for(lambda: self._version != seen, timeout)
            return self._version, self._view
