"""`dictate explain`: how a talk was read."""

from __future__ import annotations

from argparse import Namespace

from dictate.cli.batch import quiet
from dictate.cli.steps import listener
from dictate.draft import hear
from dictate.lexicon import load


def run(options: Namespace) -> int:
    """Print what the language step made of one file."""
    quiet()
    lexicon = load(options.lexicon)
    listen = listener(options.model, plain=options.plain, way=options.way, lexicon=options.lexicon)
    heard = hear(options.file, lexicon, listen=listen)
    from dictate.language import explain

    print(explain(heard.transcript, lexicon))
    return 0
