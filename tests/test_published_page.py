"""The page of the outside checks says what the tests say."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def test_the_page_names_every_fact_and_source_of_the_outside_checks() -> None:
    """tests/published/README.md holds every fact and source of the tests beside it."""
    command = [sys.executable, str(ROOT / "scripts" / "published_page.py"), "--check"]
    told = subprocess.run(command, capture_output=True, text=True, check=False)
    assert told.stderr == ""
    assert told.returncode == 0
