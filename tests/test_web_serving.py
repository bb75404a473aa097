"""The program that serves the pages: it says its address, stops in order, and speaks TLS where it is given keys."""

from __future__ import annotations

import os
import re
import signal
import ssl
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from web_cases import SOUND, draft

from dictate.cli import main
from dictate.exam.record import to_json


@contextmanager
def served(*options: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """`dictate review` as a program of its own; the address that it prints."""
    code = "import sys; from dictate.cli import main; sys.exit(main(sys.argv[1:]))"
    command = [sys.executable, "-c", code, "review", "--no-browser", *options]
    program = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"})
    try:
        assert program.stderr is not None
        for line in program.stderr:
            if found := re.search(r"open (https?://\S+)", line):
                yield found[1], program
                return
        raise AssertionError("the program ended without an address")
    finally:
        program.kill()
        program.communicate()


def draft_file(folder: Path) -> Path:
    file = folder / "bramble.record.json"
    file.write_text(to_json(draft()), encoding="utf-8")
    (folder / "bramble.wav").write_bytes(SOUND)
    return file


def test_a_draft_is_enough_to_begin_and_the_first_account_is_one_step_away(tmp_path: Path) -> None:
    with served(str(draft_file(tmp_path))) as (address, program):
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/first\?key=\S+", address)
        with urllib.request.urlopen(address) as answer:
            assert b"The first account" in answer.read()
        program.send_signal(signal.SIGINT)
        assert program.wait(timeout=30) == 0


def test_with_a_certificate_it_speaks_tls_and_nothing_else(tmp_path: Path) -> None:
    pytest.importorskip("cryptography", reason="cryptography is not installed")
    certificate, key = self_signed(tmp_path)
    options = ["--certificate", str(certificate), "--key", str(key)]
    with served(str(draft_file(tmp_path)), *options) as (address, _):
        assert address.startswith("https://127.0.0.1:")
        trusted = ssl.create_default_context(cafile=str(certificate))
        with urllib.request.urlopen(address, context=trusted) as answer:
            assert answer.headers["strict-transport-security"]
            assert "Secure" in answer.headers["set-cookie"]
        with pytest.raises(OSError):
            urllib.request.urlopen(address.replace("https", "http"), timeout=10)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ((), "name drafts to review"),
        (("--store", "nowhere"), "nowhere"),
        (("missing.record.json",), "cannot be read"),
        (("--store", "nowhere", "--host", "0.0.0.0"), "TLS"),
    ],
)
def test_what_cannot_be_served_is_one_clear_line(
    options: tuple[str, ...],
    told: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["review", "--no-browser", *options]) == 1
    lines = capsys.readouterr().err.strip().splitlines()
    assert len(lines) == 1 and told in lines[0]


def self_signed(folder: Path) -> tuple[Path, Path]:
    """A certificate for loopback and its key, for an hour."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    secret = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "saltmarsh")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(secret.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(minutes=5))
        .not_valid_after(now + timedelta(hours=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), critical=False)
        .sign(secret, hashes.SHA256())
    )
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    kind, form = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8
    key.write_bytes(secret.private_bytes(kind, form, serialization.NoEncryption()))
    return certificate, key
