"""The options that choose a way of working (`dictate/ways.py`); the same for every command that hears."""

from __future__ import annotations

import argparse


def add_ways(parser: argparse.ArgumentParser) -> None:
    """Add `--quick` and `--thorough`; without one of them `way` is "default"."""
    group = parser.add_mutually_exclusive_group()
    group.add_argument("--quick", action="store_const", const="quick", dest="way", help="faster and poorer")
    group.add_argument("--thorough", action="store_const", const="thorough", dest="way", help="as careful as it can be")
    parser.set_defaults(way="default")
