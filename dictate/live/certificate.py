"""Certificates for the exam room: a phone's browser gives its microphone to a page over HTTPS only.

The practice gets an authority of its own, once; it is installed on each phone or tablet (the display offers it). It
signs the certificate of this machine, which is made anew when its names or addresses change or it is about to expire.
Keys never leave the folder, which its owner alone may read.
"""

from __future__ import annotations

import ipaddress
import os
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from dictate.errors import InputError
from dictate.speech.files import private_folder, write_whole

AUTHORITY_YEARS = 10
DAYS = 397  # browsers refuse certificates of servers that hold longer (Apple, "About upcoming limits", 2020)
RENEW = 30  # days before its end at which it is made anew


@dataclass(frozen=True, slots=True)
class Certificates:
    """Files: this machine's certificate with its chain, its key, and the authority for the phones. `fingerprint` is the
    authority's SHA-256, to be compared on the phone."""

    certificate: Path
    key: Path
    authority: Path
    fingerprint: str


def default_folder() -> Path:
    """`dictate/certificates` in the user's configuration (`$XDG_CONFIG_HOME`, `%APPDATA%` or `~/.config`)."""
    above = os.environ.get("XDG_CONFIG_HOME") or os.environ.get("APPDATA")
    return (Path(above) if above else Path.home() / ".config") / "dictate" / "certificates"


def own_names(names: Sequence[str] = ()) -> tuple[str, ...]:
    """Names and addresses under which this machine may be reached in its network; no other machine is asked."""
    found = [*names, "localhost", "127.0.0.1", "::1", socket.gethostname(), f"{socket.gethostname()}.local"]
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        probe.connect(("192.0.2.1", 9))  # sends nothing: it only tells which own address a packet would leave from
        found.append(str(probe.getsockname()[0]))
    except OSError:
        pass
    finally:
        probe.close()
    return tuple(dict.fromkeys(n for n in found if n))


def make_certificates(folder: Path, names: Sequence[str], *, now: datetime | None = None) -> Certificates:
    """The certificates in a folder, made where they are missing, expire within a month or lack one of the names.

    Raises:
        InputError: the package cryptography is not installed, or the folder holds something else or cannot be written.
    """
    try:
        from cryptography import x509
    except ImportError:
        raise InputError("certificates need the package cryptography: pip install 'dictate-exam[live]'") from None
    now = now or datetime.now(UTC)
    files = {n: folder / f"{n}.pem" for n in ("authority", "authority-key", "room", "room-key")}
    try:
        private_folder(folder)
        if not files["authority"].exists():
            _make_authority(files, now)
        authority = x509.load_pem_x509_certificate(files["authority"].read_bytes())
        if not _still_good(files, authority, names, now):
            _make_room(files, authority, names, now)
    except (OSError, ValueError) as error:
        raise InputError(f"no certificate can be made here ({error})", where=str(folder)) from None
    from cryptography.hazmat.primitives import hashes

    fingerprint = authority.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificates(files["room"], files["room-key"], files["authority"], fingerprint)


def _key_pair() -> Any:
    from cryptography.hazmat.primitives.asymmetric import ec

    return ec.generate_private_key(ec.SECP256R1())


def _pem(key: Any) -> bytes:
    from cryptography.hazmat.primitives import serialization as s

    made: bytes = key.private_bytes(s.Encoding.PEM, s.PrivateFormat.PKCS8, s.NoEncryption())
    return made


def _make_authority(files: dict[str, Path], now: datetime) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.x509.oid import NameOID

    key = _key_pair()
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"dictate exam room ({socket.gethostname()})"[:64])])
    usage = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=True, crl_sign=True, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=365 * AUTHORITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    write_whole(files["authority-key"], _pem(key))
    write_whole(files["authority"], made.public_bytes(serialization.Encoding.PEM))


def _make_room(files: dict[str, Path], authority: Any, names: Sequence[str], now: datetime) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    signer = serialization.load_pem_private_key(files["authority-key"].read_bytes(), password=None)
    key = _key_pair()
    made = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(min(now + timedelta(days=DAYS), authority.not_valid_after_utc))
        .add_extension(x509.SubjectAlternativeName([_san(n) for n in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.public_key()), critical=False)
        .sign(signer, hashes.SHA256())  # type: ignore[arg-type]
    )
    chain = made.public_bytes(serialization.Encoding.PEM) + authority.public_bytes(serialization.Encoding.PEM)
    write_whole(files["room-key"], _pem(key))
    write_whole(files["room"], chain)


def _san(name: str) -> Any:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name.encode("idna").decode())


def _still_good(files: dict[str, Path], authority: Any, names: Sequence[str], now: datetime) -> bool:
    from cryptography import x509
    from cryptography.exceptions import InvalidSignature

    if not (files["room"].exists() and files["room-key"].exists()):
        return False
    room = x509.load_pem_x509_certificate(files["room"].read_bytes())
    try:
        room.verify_directly_issued_by(authority)
    except (InvalidSignature, ValueError, TypeError):
        return False
    there = set(room.extensions.get_extension_for_class(x509.SubjectAlternativeName).value)
    return {_san(n) for n in names} <= there and room.not_valid_after_utc - now > timedelta(days=RENEW)
