"""`dictate schema`: the JSON Schema of a drafted record."""

from __future__ import annotations

import json
from argparse import Namespace

from dictate.exam.record import json_schema


def run(options: Namespace) -> int:
    """Print the schema."""
    print(json.dumps(json_schema(), indent=2))
    return 0
