"""`dictate verify`: whether anything that was kept was changed since."""

from __future__ import annotations

from argparse import Namespace

from dictate import store as s
from dictate.cli import SOME_FAILED
from dictate.cli.store_asking import opened


def run(options: Namespace) -> int:
    """Print each fault and a closing line; status 1 where there is one."""
    heads = tuple(s.read_head(text) for text in options.head)
    with opened(options) as store:
        found = s.verify(store, sound=options.sound, heads=heads)
    for fault in found.faults:
        print(fault)
    sound = "" if found.sounds is None else f", {found.sounds} recordings"
    state = f"{len(found.faults)} FAULTS" if found.faults else "all as it was written"
    print(f"{state}: {found.entries} entries, {found.records} signed records{sound}")
    print(f"head {found.head}")
    return SOME_FAILED if found.faults else 0
