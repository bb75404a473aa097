"""Every fact of the tables says where it comes from.

Source: the tables themselves, as `dictate lexicon --sources` lists them. A row of fact names a published source with
what was read and where, or says `common practice, no source`, or `from memory`. Tables of pure wording need none.
"""

from collections import Counter
from dataclasses import fields

import pytest

from dictate.cli import main
from dictate.lexicon import load
from dictate.lexicon.loader import kind_of_source, table_classes

FACTS = {  # tables that state facts of the trade; the others tell how people say things
    "sites", "findings", "site_findings", "finding_sites", "breeds", "species_facts", "ranges", "units", "number_words",
    "scales", "teeth", "tooth_words", "measures", "containers", "site_traits", "plain_words", "anaesthesia_sites",
    "physical_status_words", "vital_sign_codes",
}  # fmt: skip
TABLES = sorted(FACTS | {name for name, row in table_classes().items() if "source" in {f.name for f in fields(row)}})


@pytest.mark.parametrize("table", TABLES)
def test_every_row_of_fact_has_a_source(table: str) -> None:
    """No row of a table that states facts is without a source."""
    assert all(row.source for row in getattr(load(), table))


def test_at_most_a_tenth_is_from_memory() -> None:
    """Of all rows of fact at most a tenth is from memory."""
    kinds = Counter(kind_of_source(row.source) for table in TABLES for row in getattr(load(), table))
    assert kinds["from memory"] <= kinds.total() / 10


def test_the_sources_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """`dictate lexicon --sources` prints every source of every table."""
    assert main(["lexicon", "--sources"]) == 0
    told = capsys.readouterr().out
    for table in TABLES:
        assert all(f"{table}: {row.source} (" in told for row in getattr(load(), table))
