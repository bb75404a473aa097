"""Who is logged in: kept in memory only, so a restart logs everybody out. The store slows failed tries down."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

IDLE_SECONDS = 30 * 60
LONGEST_SECONDS = 12 * 60 * 60


@dataclass(frozen=True, slots=True)
class Session:
    """One person at one browser; times are seconds of the clock that `Sessions` was given."""

    token: str
    account: int
    started: float
    seen: float


class Sessions:
    """All open sessions. Safe to use from several threads."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._open: dict[str, Session] = {}
        self._secret = secrets.token_bytes(32)

    def open(self, account: int) -> str:
        """Begin a session and return its token, which is the browser's cookie."""
        token, now = secrets.token_urlsafe(32), self._clock()
        with self._lock:
            self._open = {k: s for k, s in self._open.items() if self._lives(s, now)}
            self._open[token] = Session(token, account, now, now)
        return token

    def find(self, token: str) -> Session | None:
        """The session of this token, and a note that it was seen; None if there is none or it has run out."""
        now = self._clock()
        with self._lock:
            session = self._open.get(token)
            if session is None or not self._lives(session, now):
                self._open.pop(token, None)
                return None
            self._open[token] = replace(session, seen=now)
            return session

    def close(self, token: str) -> None:
        with self._lock:
            self._open.pop(token, None)

    def close_all_of(self, account: int, *, but: str = "") -> None:
        """End the sessions of an account, e.g. when its password changed; `but` is the token that may stay."""
        with self._lock:
            self._open = {k: s for k, s in self._open.items() if s.account != account or k == but}

    def form_token(self, cookie: str) -> str:
        """The token that a form sent with this cookie must carry; other sites cannot know it."""
        return hmac.new(self._secret, cookie.encode(), hashlib.sha256).hexdigest()

    def fits(self, cookie: str, form_token: str) -> bool:
        return bool(cookie) and hmac.compare_digest(self.form_token(cookie), form_token)

    @staticmethod
    def _lives(session: Session, now: float) -> bool:
        return now - session.seen < IDLE_SECONDS and now - session.started < LONGEST_SECONDS
