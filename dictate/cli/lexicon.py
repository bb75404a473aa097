"""`dictate lexicon`: the tables of words, checked; their sizes, or the sources they name."""

from __future__ import annotations

from argparse import Namespace
from collections import Counter

from dictate.lexicon import load
from dictate.lexicon.loader import kind_of_source, table_classes


def run(options: Namespace) -> int:
    """Print a line for each table, or for each source in it. A fault in a table is an InputError."""
    lexicon = load(options.lexicon)
    kinds: Counter[str] = Counter()
    for name in table_classes():
        rows = getattr(lexicon, name)
        if not options.sources:
            print(f"{name:<21} {len(rows):>6} rows")
            continue
        for source, count in sorted(Counter(row.source for row in rows if hasattr(row, "source")).items()):
            print(f"{name}: {source} ({count} rows)")
            kinds[kind_of_source(source)] += count
    if options.sources:
        print(f"\n{kinds.total()} rows of fact: " + ", ".join(f"{count} {kind}" for kind, count in kinds.most_common()))
    return 0
