"""From the statements of a talk to one drafted record: merged, cross-checked, coverage counted."""
