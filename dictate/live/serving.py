"""Answering for the room display in a thread of its own, with TLS where others can reach it."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import uvicorn

from dictate.errors import InputError
from dictate.live.certificate import Certificates, default_folder, make_certificates, own_names
from dictate.live.room import Room, make_room_app
from dictate.web.server import ANY_ADDRESS, is_loopback


def certificates_for(
    host: str, names: Sequence[str], folder: Path | None, *, phone: bool
) -> tuple[Certificates | None, tuple[str, ...]]:
    """The certificates with which to answer at this host, and the names to answer to. None on loopback alone.

    Raises:
        InputError: a phone is to send sound, and nobody outside this machine could reach the page.
    """
    if is_loopback(host):
        if phone:
            raise InputError("a phone must be able to reach this machine: give --host 0.0.0.0", where="--phone")
        return None, ()
    known = own_names([*names] if host in ANY_ADDRESS else [host, *names])
    return make_certificates(folder or default_folder(), known), known


class RoomServer:
    """The pages of a room as a context: they answer from entering to leaving."""

    def __init__(
        self, room: Room, host: str, port: int, *, names: tuple[str, ...] = (), certificates: Certificates | None = None
    ) -> None:
        self._room, self._host, self._names = room, host, names
        self._socket = _bound(host, port)
        self.port = int(self._socket.getsockname()[1])
        config = uvicorn.Config(
            make_room_app(room, names=names),
            log_level="critical",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            lifespan="off",
            ssl_certfile=certificates.certificate if certificates else None,
            ssl_keyfile=certificates.key if certificates else None,
            timeout_graceful_shutdown=2,
        )
        self._server = uvicorn.Server(config)
        self._server.install_signal_handlers = lambda: None  # type: ignore[attr-defined]
        self._thread = threading.Thread(target=self._run, name="room", daemon=True)

    def _run(self) -> None:
        with contextlib.suppress(KeyboardInterrupt, SystemExit):
            self._server.run(sockets=[self._socket])

    def __enter__(self) -> RoomServer:
        self._thread.start()
        ends = time.monotonic() + 10
        while not self._server.started and time.monotonic() < ends:
            if not self._thread.is_alive():
                raise InputError("the room display could not be started", where=f"{self._host}:{self.port}")
            time.sleep(0.02)
        return self

    def __exit__(self, *_: object) -> None:
        self._room.closing.set()
        self._server.should_exit = True
        self._thread.join(timeout=4)
        with contextlib.suppress(OSError):
            self._socket.close()

    def address(self, page: str = "/", *, local: bool = False) -> str:
        """The address of a page, with the room's key."""
        wide = self._host in ANY_ADDRESS
        named = next((n for n in self._names if n not in ("localhost", "127.0.0.1", "::1")), "127.0.0.1")
        host = "127.0.0.1" if local or not wide else named
        host = self._host if not wide and not local else host
        shown = f"[{host}]" if ":" in host else host
        return f"{'https' if self._room.secure else 'http'}://{shown}:{self.port}{page}?key={self._room.key}"


def _bound(host: str, port: int) -> socket.socket:
    bound = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM)
    try:
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind((host, port))
    except OSError as error:
        bound.close()
        raise InputError(
            f"cannot answer there ({error.strerror or error}); try --port", where=f"{host}:{port}"
        ) from None
    return bound
