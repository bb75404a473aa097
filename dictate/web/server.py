"""Starting the pages: which store, which address, and what must be true before anybody but this machine is let in."""

from __future__ import annotations

import contextlib
import ipaddress
import secrets
import socket
import threading
import time
import webbrowser
from collections.abc import Sequence
from pathlib import Path

import uvicorn

from dictate.cli import DONE, say
from dictate.errors import InputError
from dictate.store import Store, has_accounts
from dictate.web.app import make_app
from dictate.web.asking import House
from dictate.web.clips import Clips
from dictate.web.hearing import Hearing
from dictate.web.sessions import Sessions
from dictate.web.taking_in import open_or_make, take_in
from dictate.web.templating import make_templates
from dictate.web.warming import warm_up
from dictate.web.words import Words

OWN_WORDS = "own-words"
ANY_ADDRESS = ("0.0.0.0", "::")


def serve(
    files: Sequence[Path] = (),
    *,
    store: str | None = None,
    lexicon: Path | None = None,
    host: str = "127.0.0.1",
    port: int = 0,
    certificate: Path | None = None,
    key: Path | None = None,
    names: Sequence[str] = (),
    practice: str = "",
    open_browser: bool = True,
) -> int:
    """Show the pages until they are stopped, and return the exit status.

    Args:
        files: drafts to review; without `store` they go into one beside the first of them.
        store: a folder or a PostgreSQL address.
        lexicon: the folder of the practice's own tables; else one inside the store's folder, or beside the drafts.
        host, port: where to listen; port 0 takes a free one. What is not loopback needs `certificate` and `key`.
        names: host names that are answered to besides loopback's.

    Raises:
        InputError: no store, no draft, or an address that others can reach without TLS or without accounts.
    """
    secure = check_network(host, certificate, key)
    with open_or_make(store, files) as opened:
        open_at, notes = take_in(opened, files)
        for line in notes:
            say(f"dictate: {line}")
        house = make_house(opened, lexicon=lexicon, practice=practice, secure=secure, open_at=open_at)
        if not is_loopback(host) and house.first_key:
            raise InputError("make the first account before others can reach it: start once without --host", where=host)
        listen(house, host, port, certificate=certificate, key=key, names=names, open_browser=open_browser)
    return DONE


def make_house(
    opened: Store, *, lexicon: Path | None = None, practice: str = "", secure: bool = False, open_at: str = "/"
) -> House:
    """What the pages share, for a store that is open."""
    own = lexicon or (opened.place.sound.parent / OWN_WORDS)
    return House(
        store=opened,
        words=Words(own),
        templates=make_templates(),
        sessions=Sessions(time.monotonic),
        clips=Clips(),
        hearing=Hearing(),
        practice=practice,
        secure=secure,
        open_at=open_at,
        first_key="" if has_accounts(opened) else secrets.token_urlsafe(24),
    )


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach the address."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def check_network(host: str, certificate: Path | None, key: Path | None) -> bool:
    """Whether the pages are served with TLS. InputError where others could reach them without it."""
    if (certificate is None) != (key is None):
        raise InputError("a certificate and its key are given together", where="--certificate, --key")
    for file in (certificate, key):
        if file is not None and not file.is_file():
            raise InputError("there is no such file", where=str(file))
    if certificate is None and not is_loopback(host):
        raise InputError("others can reach this address: give --certificate and --key (TLS)", where=host)
    return certificate is not None


def listen(
    house: House,
    host: str,
    port: int,
    *,
    certificate: Path | None = None,
    key: Path | None = None,
    names: Sequence[str] = (),
    open_browser: bool = False,
) -> None:
    """Answer on this address until a signal to stop comes."""
    known = [*names] if host in ANY_ADDRESS else [host, *names]
    with contextlib.closing(_bound(host, port)) as bound:
        taken = bound.getsockname()[1]
        shown = names[0] if names else "127.0.0.1" if host in ANY_ADDRESS else f"[{host}]" if ":" in host else host
        start = f"/first?key={house.first_key}" if house.first_key else house.open_at
        address = f"{'https' if house.secure else 'http'}://{shown}:{taken}{start}"
        say(f"dictate: open {address}   (Ctrl-C stops)")
        config = uvicorn.Config(
            make_app(house, names=tuple(known)),
            log_level="error",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            lifespan="off",
            ssl_certfile=certificate,
            ssl_keyfile=key,
            timeout_graceful_shutdown=3,
        )
        threading.Thread(target=warm_up, args=(house,), daemon=True).start()
        if open_browser:
            threading.Timer(0.5, webbrowser.open, [address]).start()
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[bound])


def _bound(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM)
    try:
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind((host, port))
        bound.listen(128)  # so that the printed address answers at once
    except OSError as error:
        bound.close()
        raise InputError(f"cannot listen there ({error.strerror or error})", where=f"{host}:{port}") from None
    return bound
