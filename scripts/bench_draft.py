"""How long `dictate draft` takes beside plain faster-whisper with the same weights, on the same sound, in one run.

    python scripts/bench_draft.py                              the sample audio put end to end, on two cores
    python scripts/bench_draft.py talk.ogg --cores 2           a file of your own
    python scripts/bench_draft.py --minutes 120 --no-plain     memory and time of a very long exam

Both are programs of their own on the same cores: start, loading and decoding count for both. Plain is
`WhisperModel(weights, "cpu", compute_type="int8").transcribe(file)` with its defaults (beam 5, no words' times), and
once more with words' times, which a draft needs. The cache is a fresh folder; the weights are joined before the clock
starts. Real time factor: seconds of work for a second of sound. The ratio stands a busy machine better than the
factors do.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

SAMPLES = HERE.parent / "sample_audio_synthetic"
WAYS = ("quick", "default", "thorough")
_PLAIN = """
import sys
from faster_whisper import WhisperModel
model = WhisperModel(sys.argv[1], device="cpu", compute_type="int8", cpu_threads=int(sys.argv[4]))
segments, _ = model.transcribe(sys.argv[2], language="en", word_timestamps=sys.argv[3] == "words")
print(sum(len(s.text) for s in segments))
"""
_DRAFT = "import sys; from dictate.cli import main; sys.exit(main())"


@dataclass(frozen=True, slots=True)
class Run:
    """What one program took: wall-clock and processor seconds, and its peak memory in MB."""

    seconds: float
    processor: float
    memory: float


def timed(command: Sequence[str], *, cores: int, environment: dict[str, str]) -> Run:
    """Run a program on the first `cores` processors this process may use, and wait for it."""
    places = sorted(os.sched_getaffinity(0))[:cores]
    begun = time.perf_counter()
    child = subprocess.Popen(
        command,
        env={**os.environ, "OMP_NUM_THREADS": str(cores), **environment},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        preexec_fn=lambda: os.sched_setaffinity(0, places),
    )
    said = child.stderr.read() if child.stderr else b""
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit(
            f"{' '.join(command[:4])} ended with {child.returncode}: {said.decode(errors='replace')[-500:]}"
        )
    return Run(time.perf_counter() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def long_sound(minutes: float | None, place: Path) -> Path:
    """The sample audio put end to end, repeated or cut to so many minutes, as one FLAC file."""
    import numpy as np
    from voices import write_sound

    from dictate.sound import RATE, decode

    samples = np.concatenate([decode(p).samples for p in sorted(SAMPLES.glob("*.ogg"))])
    if minutes:
        samples = np.resize(samples, round(minutes * 60 * RATE))
    write_sound(place, samples.astype(np.float32) / 32768)
    return place


def main(arguments: Sequence[str] | None = None) -> int:
    """Print a table; the exit status."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", nargs="?", type=Path)
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--minutes", type=float, help="length of the sound made from the samples")
    parser.add_argument("--no-plain", action="store_true", help="leave the comparison out")
    parser.add_argument("--ways", nargs="+", choices=WAYS, default=WAYS)
    options = parser.parse_args(arguments)

    from dictate.sound import decode
    from dictate.speech import SpeechSettings
    from dictate.speech.models import model_folder

    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        folder = Path(name)
        cache = folder / "cache"
        weights = model_folder(SpeechSettings(cache=cache)).folder
        file = options.file or long_sound(options.minutes, folder / "talk.flac")
        length = decode(file).seconds
        print(f"{file.name}: {length / 60:.1f} minutes of sound, {options.cores} cores")
        print(f"{'':34s}{'seconds':>9s}{'cpu':>9s}{'factor':>9s}{'peak MB':>9s}")
        environment = {"DICTATE_CACHE": str(cache)}
        python = sys.executable
        runs = {}
        for way in options.ways:
            shutil.rmtree(cache / "words", ignore_errors=True)  # no way shall live on what another one heard
            out = str(folder / f"drafts-{way}")
            asked = [] if way == "default" else [f"--{way}"]
            runs[way] = timed(
                [python, "-c", _DRAFT, "draft", str(file), "--out", out, *asked],
                cores=options.cores,
                environment=environment,
            )
            _row(f"dictate draft, {way}", runs[way], length)
        if options.no_plain:
            return 0
        for title, words in (("plain faster-whisper", "no"), ("the same with words' times", "words")):
            command = [python, "-c", _PLAIN, str(weights), str(file), words, str(options.cores)]
            plain = timed(command, cores=options.cores, environment={})
            _row(title, plain, length)
            for way, run in runs.items():
                print(
                    f"  {way + ' / this':32s}{run.seconds / plain.seconds:9.2f}{run.processor / plain.processor:9.2f}"
                )
    return 0


def _row(title: str, run: Run, length: float) -> None:
    print(f"{title:34s}{run.seconds:9.1f}{run.processor:9.1f}{run.seconds / length:9.3f}{run.memory:9.0f}", flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
