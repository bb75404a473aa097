"""What a bulk conversion costs and whether it is safe, everything in one run.

    python scripts/bench_bulk.py --out /tmp/bench                     all of it (some two hours on two cores)
    python scripts/bench_bulk.py --out /tmp/bench --minutes 5 --only speed
    python scripts/bench_bulk.py --out /tmp/bench --minutes 5 --only windows

speed         narrations of the held part spoken by held voices: plain faster-whisper with the same weights, one file
              after the other (beam 5, its defaults); `dictate draft`; `dictate convert` in its three ways. Start and
              loading count for all. Seconds, ratio to plain, `exact`, and the share of everything but hearing.
arrangements  processes and threads on this machine, on the same sound
windows       lengths of windows and widths of the beam, one thread, seconds of processor
cluster       two Dask workers against one, each on a core of its own
restart       1,000 new short files beside 50,000 done ones, cheap steps: seconds and memory
kills         100 kills over one conversion, cheap steps: the drafts against those of an undisturbed one

Run it with nothing else at work: ratios stand a busy machine, the rest does not. Sound that lies in --out is taken as
it is. Nothing of a held narration is printed.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

import bench_bulk_safety as safety  # noqa: E402
import bench_bulk_speed as speed  # noqa: E402

WAYS = ("plain", "draft", "default", "quick", "thorough")
PARTS = ("speed", "arrangements", "windows", "cluster", "restart", "kills")


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; the exit status: 1 where the drafts after the kills are others."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="a folder outside the repository")
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--part", choices=("held", "choosing", "work"), default="held")
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--done", type=int, default=50_000)
    parser.add_argument("--new", type=int, default=1_000)
    parser.add_argument("--ways", nargs="+", choices=WAYS, default=WAYS, help="rows of the table of speeds")
    parser.add_argument("--only", nargs="+", choices=PARTS, default=PARTS)
    options = parser.parse_args(arguments)
    if HERE.parent in (options.out.resolve(), *options.out.resolve().parents):
        parser.error("--out lies in the repository, where spoken narrations do not belong")
    good = True
    with tempfile.TemporaryDirectory(prefix="bench-bulk-", dir="/tmp") as name:
        work = Path(name)
        if set(options.only) & {"speed", "arrangements", "windows", "cluster"}:
            truths, folder, cache, weights = prepared(options, work)
        if "speed" in options.only:
            show_speed(truths, folder, cache, weights, work, cores=options.cores, ways=options.ways)
        if "arrangements" in options.only:
            show_arrangements(folder, cache, work, cores=options.cores)
        if "windows" in options.only:
            show_windows(list(truths), cache)
        if "cluster" in options.only:
            show_cluster(folder, cache, work)
        if "restart" in options.only:
            show_restart(work / "restart", options.done, options.new)
        if "kills" in options.only:
            same, within = safety.kills(work / "kills", options.kills)
            good = same
            told = "the same drafts" if same else "OTHER DRAFTS"
            print(f"{options.kills} kills, {within} after which there were more drafts than before: {told}")
    return 0 if good else 1


def prepared(options: argparse.Namespace, work: Path) -> tuple[dict[Path, dict], Path, Path, Path]:
    """The narrations with truth, a folder that holds just their sound, a cache with the model alone, and the model."""
    from dictate.sound import decode
    from dictate.speech import SpeechSettings
    from dictate.speech.models import model_folder

    truths = speed.narrations(options.minutes, options.out, part=options.part)
    folder = work / "sound"
    folder.mkdir()
    for path in truths:
        shutil.copyfile(path, folder / path.name)
    minutes = sum(decode(path).seconds for path in truths) / 60
    print(f"{minutes:.1f} minutes in {len(truths)} files, {options.cores} cores", flush=True)
    cache = work / "cache"
    return truths, folder, cache, model_folder(SpeechSettings(cache=cache)).folder


def fresh(cache: Path) -> Path:
    """The cache without any words, so that everything is heard again."""
    shutil.rmtree(cache / "words", ignore_errors=True)
    return cache


def show_speed(
    truths: dict[Path, dict], folder: Path, cache: Path, weights: Path, work: Path, *, cores: int, ways: Sequence[str]
) -> None:
    """Plain faster-whisper, `dictate draft`, and the three ways of `dictate convert`; `ways` are those wanted."""
    files = [str(f) for f in sorted(folder.iterdir())]
    seconds = sum(_length(Path(f)) for f in files)
    print(f"{'':26s}{'seconds':>9s}{'x plain':>9s}{'x real':>9s}{'cpu':>9s}{'MB':>7s}{'exact':>8s}{'placed':>8s}")
    plain = None
    if "plain" in ways:
        command = [sys.executable, "-c", speed.PLAIN, str(weights), str(cores), *files]
        plain = speed.timed(command, cores=cores, environment={})
        _row("plain faster-whisper", plain, plain, seconds)
    if "draft" in ways:
        careful = speed.timed(
            [*speed.DICTATE, "draft", *files, "--out", str(work / "draft")],
            cores=cores,
            environment={"DICTATE_CACHE": str(fresh(cache))},
        )
        _row("dictate draft", careful, plain, seconds, speed.figures(work / "draft", truths))
    for way in (w for w in ("default", "quick", "thorough") if w in ways):
        option = () if way == "default" else (f"--{way}",)
        out = work / f"out-{way}"
        taken = speed.converted(folder, out, fresh(cache), cores=cores, options=option)
        _row(" ".join(("convert", *option)), taken, plain, seconds, speed.figures(out, truths))
        hearing, after = speed.shares(out)
        wall = taken.seconds * cores
        told = f"hearing {hearing / wall:.1%} of {cores} cores' time, reading and drafting {after / wall:.1%}"
        print(f"{'':26s}{told}, start, loading, writing and waiting {1 - (hearing + after) / wall:.1%}", flush=True)
    decode = speed.decoding([Path(f) for f in files])
    print(f"{'':26s}of hearing, decoding sound takes {decode:.1f} s of one core")


def _length(file: Path) -> float:
    from dictate.sound import decode

    return decode(file).seconds


def _row(title: str, taken: speed.Taken, plain: speed.Taken | None, seconds: float, found: object = None) -> None:
    ratio = f"{plain.seconds / taken.seconds:.2f}" if plain else "-"
    real = seconds / taken.seconds
    line = f"{title:26s}{taken.seconds:9.1f}{ratio:>9s}{real:9.1f}{taken.processor:9.1f}{taken.memory:7.0f}"
    if found:
        facts = max(1, found["facts"])  # type: ignore[index]
        line += f"{found['exact'] / facts:8.3f}{found['placed'] / facts:8.3f}"  # type: ignore[index]
    print(line, flush=True)


def show_arrangements(folder: Path, cache: Path, work: Path, *, cores: int) -> None:
    """The same conversion with one process that has all threads, and with one process for each core."""
    for processes in sorted({1, cores}):
        out = work / f"arranged-{processes}"
        options = ("--processes", str(processes))
        taken = speed.converted(folder, out, fresh(cache), cores=cores, options=options)
        print(f"{processes} processes on {cores} cores: {taken.seconds:.1f} s, {taken.memory:.0f} MB", flush=True)


def show_windows(files: list[Path], cache: Path) -> None:
    """Seconds of one thread for windows of several lengths and beams of several widths."""
    from dictate.speech import SpeechSettings
    from dictate.speech.packed import Packing, transcribe_all

    settings = SpeechSettings(cache=cache, use_cache=False, threads=1)
    for longest in (14.0, 20.0, 30.0):
        for beam in (1, 2, 5):
            begun = time.process_time()
            found = list(transcribe_all(files, settings=settings, packing=Packing(longest=longest, beam=beam)))
            print(
                f"windows of {longest:g} s, beam {beam}: {time.process_time() - begun:.1f} s, {len(found)} files",
                flush=True,
            )


def show_restart(work: Path, many: int, new: int) -> None:
    """A run with few and with many files done, nothing new and so many new; what the many done ones cost."""
    taken = []
    for done in (1_000, many):
        seconds, memory, more, most = safety.restart(work, done=done, new=new)
        taken.append(more)
        print(f"{done} done: nothing new {seconds:.1f} s, {memory:.0f} MB;", end=" ")
        print(f"{new} new {more:.1f} s, {most:.0f} MB", flush=True)
    print(f"what {many - 1_000} more done files add to a run over {new} new ones: {taken[1] - taken[0]:.1f} s")


def show_cluster(folder: Path, cache: Path, work: Path) -> None:
    """One Dask worker, then two, each on a core of its own."""
    one, two = (speed.on_cluster(folder, work / f"dask-{n}", fresh(cache), work, workers=n) for n in (1, 2))
    print(f"one Dask worker {one:.1f} s, two {two:.1f} s: {one / two:.2f} times as fast", flush=True)


if __name__ == "__main__":
    sys.exit(main())
