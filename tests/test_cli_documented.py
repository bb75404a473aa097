"""The manual is tested: what the command line offers stands in it, and what it shows is so."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

import pytest

from dictate.cli.arguments import make_parser
from dictate.exam.phrases import cautions

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def commands() -> dict[str, argparse.ArgumentParser]:
    (action,) = (a for a in make_parser()._actions if isinstance(a, argparse._SubParsersAction))
    return dict(action.choices)


def test_every_command_and_option_is_in_the_manual() -> None:
    """Each command and each of its options is named in README.md, and each has a help text."""
    for name, parser in commands().items():
        assert f"`dictate {name}" in README
        for action in parser._actions:
            assert action.help
            for option in action.option_strings:
                assert option in README or option in ("-h", "--help")


def test_manual_names_no_command_that_is_not_there() -> None:
    """Every `dictate NAME` of the manual is a command."""
    assert set(re.findall(r"`dictate (\w+)", README)) == set(commands())


def test_manual_and_page_give_the_same_cautions() -> None:
    """The cautions that a record's page ends with stand in the manual word for word."""
    for caution in cautions():
        assert caution in README


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_named_files_are_there(document: str) -> None:
    """Every path of this project that a document names in backquotes exists."""
    text = (ROOT / document).read_text(encoding="utf-8")
    named = re.findall(r"`((?:dictate|lexicon|scripts|tests|sample_audio_synthetic)(?:/[\w.]+)+)`", text)
    named += [f"lexicon/{name}" for name in re.findall(r"`(\w+\.csv)`", text)]
    assert named
    planned = ("tests/narrations/NAME.json",)  # a pattern
    assert [name for name in named if not (ROOT / name).exists() and name not in planned] == []
