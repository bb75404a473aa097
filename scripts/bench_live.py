"""What the live exam is measured by. Each part is a run of its own:

python scripts/bench_live.py latency [FILE...]    end of the words to the display, processor, equal drafts (samples)
python scripts/bench_live.py long --minutes 120   memory over a long recording
python scripts/bench_live.py kills --times 200    SIGKILL at random moments
python scripts/bench_live.py disk                 a disk that runs full
python scripts/bench_live.py answers              spoken answers in scripted exams
python scripts/bench_live.py orders               orders in six voices, clean and at 12 dB
python scripts/bench_live.py triggers             false triggers: narrations as text, sentences that sound alike
python scripts/bench_live.py hours --minutes 120  false triggers: two hours of narrations, spoken
python scripts/bench_live.py replay --every 4     narrations as text through the live exam: false answers, equal drafts
python scripts/bench_live.py whole                whole exams with orders through the command, drafted again: equal
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]


PARTS = ("latency", "long", "kills", "disk", "answers", "orders", "triggers", "hours", "replay", "whole")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one part; the exit status."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("part", choices=PARTS)
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--minutes", type=float, default=120)
    parser.add_argument("--held", action="store_true", help="orders: with voices that are for measuring alone")
    parser.add_argument("--every", type=int, default=1, help="replay: every so many of the narrations for work")
    parser.add_argument("--clauses", action="store_true", help="replay: a silence at every comma")
    options = parser.parse_args(arguments)
    if options.part == "latency":
        from live_latency import measure

        measure(options.files or sorted((HERE.parent / "sample_audio_synthetic").glob("*_clean.ogg")))
    elif options.part == "long":
        from live_long import measure_memory

        measure_memory(options.minutes)
    elif options.part == "kills":
        from live_kills import kills

        kills(options.times)
    elif options.part == "disk":
        from live_kills import full_disk

        full_disk()
    elif options.part == "hours":
        from live_hours import hours

        hours(options.minutes)
    elif options.part == "replay":
        from live_replay import replay

        replay(every=options.every, clauses=options.clauses)
    elif options.part == "whole":
        from live_whole import whole

        whole()
    elif options.part == "answers":
        from live_answers import answers

        answers()
    else:
        import live_orders

        if options.part == "orders":
            live_orders.orders(held=options.held)
        else:
            live_orders.text_triggers()
            live_orders.near()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
