"""Passwords and PINs: kept as Argon2id hashes (RFC 9106) and never as they were typed."""

from __future__ import annotations

import functools
import itertools

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from dictate.errors import InputError

LEAST_LETTERS = 10  # common practice, no source
LEAST_DIGITS = 6  # common practice, no source; six digits hold because tries are slowed
MOST = 200
_hasher = PasswordHasher()


def check_password(password: str) -> str:
    """The password, or InputError where it is too short, too long or too plain."""
    if len(password) < LEAST_LETTERS:
        raise InputError(f"needs at least {LEAST_LETTERS} characters", where="password")
    if len(password) > MOST:
        raise InputError(f"has more than {MOST} characters", where="password")
    if len(set(password)) < 4:
        raise InputError("is the same few characters over and over", where="password")
    return password


def check_pin(pin: str) -> str:
    """The PIN, or InputError where it is not made of digits, too short, or in a row like 123456 or 111111."""
    if not (pin.isascii() and pin.isdigit() and LEAST_DIGITS <= len(pin) <= 12):
        raise InputError(f"needs {LEAST_DIGITS} to 12 digits", where="PIN")
    steps = {(int(b) - int(a)) % 10 for a, b in itertools.pairwise(pin)}
    if len(steps) == 1 or len(set(pin)) < 3:
        raise InputError("is too easy to guess; take digits that are not in a row", where="PIN")
    return pin


def hashed(secret: str) -> str:
    return _hasher.hash(secret)


def matches(kept: str, secret: str) -> bool:
    """Whether a secret is the one of a hash. An empty hash matches nothing, and takes as long."""
    try:
        return _hasher.verify(kept or _nobody(), secret[:MOST]) and bool(kept)
    except (VerificationError, InvalidHashError):
        return False


@functools.cache
def _nobody() -> str:
    return _hasher.hash("the hash of no account")
