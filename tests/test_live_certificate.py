"""The certificate set-up: an authority of the practice's own, and this machine's certificate from it."""

from __future__ import annotations

import ssl
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.request import urlopen

import pytest

from dictate.errors import InputError
from dictate.live.board import Board
from dictate.live.certificate import make_certificates
from dictate.live.room import Room
from dictate.live.serving import RoomServer, certificates_for

NAMES = ("localhost", "127.0.0.1")


def test_who_knows_the_authority_trusts_the_room(tmp_path: Path) -> None:
    """A client that has installed the authority reaches the room by each name without a warning; another does not."""
    made = make_certificates(tmp_path, NAMES)
    room = Room(board=Board(), key="k" * 24, secure=True, authority=made.authority)
    knows = ssl.create_default_context(cafile=str(made.authority))
    with RoomServer(room, "127.0.0.1", 0, certificates=made) as server:
        for name in NAMES:
            with urlopen(f"https://{name}:{server.port}/authority", context=knows) as answer:
                assert answer.read() == made.authority.read_bytes()
        with pytest.raises(OSError, match="CERTIFICATE_VERIFY_FAILED"):
            urlopen(f"https://localhost:{server.port}/authority", context=ssl.create_default_context())


def test_keys_are_for_their_owner_alone(tmp_path: Path) -> None:
    """Nobody else on the machine can read a private key, and the authority's key signs nothing but this machine."""
    make_certificates(tmp_path / "c", NAMES)
    for name in ("authority-key.pem", "room-key.pem"):
        assert stat.S_IMODE((tmp_path / "c" / name).stat().st_mode) == 0o600


def test_the_authority_stays_and_the_room_s_certificate_is_renewed(tmp_path: Path) -> None:
    """Phones are set up once: only this machine's certificate changes, with its names and shortly before it ends."""
    first = make_certificates(tmp_path, NAMES)
    room = first.certificate.read_bytes()
    assert make_certificates(tmp_path, NAMES).certificate.read_bytes() == room
    more = make_certificates(tmp_path, (*NAMES, "192.0.2.7"))
    assert more.fingerprint == first.fingerprint
    renamed = more.certificate.read_bytes()
    assert renamed != room
    later = datetime.now(UTC) + timedelta(days=380)
    assert make_certificates(tmp_path, NAMES, now=later).certificate.read_bytes() != renamed
    assert make_certificates(tmp_path, NAMES, now=later).fingerprint == first.fingerprint


def test_damage_and_a_phone_that_cannot_reach_us_are_told_in_one_line(tmp_path: Path) -> None:
    """A damaged authority, and a phone where only this machine could open the page."""
    make_certificates(tmp_path, NAMES)
    (tmp_path / "authority.pem").write_text("nonsense")
    with pytest.raises(InputError, match="no certificate"):
        make_certificates(tmp_path, NAMES)
    with pytest.raises(InputError, match="--host"):
        certificates_for("127.0.0.1", (), tmp_path, phone=True)
