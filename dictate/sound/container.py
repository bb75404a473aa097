"""Opening a sound file and reading its packets one by one, past damage.

The decoding loop that is commonly used ends at the first damaged packet without an error (measured: half of an MP3 or
M4A is lost to 512 damaged bytes). Here every packet is decoded by itself: a bad one is counted and the next one is
tried, and each frame keeps its time stamp, so that whoever places the frames can see what is missing.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import av
import av.error

from dictate.errors import InputError

# Containers of sound and video only. Playlists and scripts (hls, concat, sdp) are left out: they make FFmpeg open other
# files and addresses, and no file that is handed to us may do that.
FORMATS = (
    "wav,w64,aiff,au,caf,flac,mp3,ogg,mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,aac,ac3,eac3,dts,amr,amrnb,amrwb,asf,avi,"
    "mpeg,mpegts,flv,wv,tta,ape,dsf,ogv,rm,s8,sds,sox,voc,xwma,iff,mp2"
)
# In these formats nothing but the place in the file tells the time: FFmpeg counts the packets that it finds, so lost
# bytes would silently move all later times forward.
_TIME_BY_BYTES = frozenset({"mp3", "aac", "ac3", "eac3", "dts", "mp2"})
_TRANSPORT = frozenset({"mpegts", "mpeg"})  # their clock starts anywhere
_ENDLESS = 200  # so many reading errors in a row, with no packet between them, end the file


@dataclass(frozen=True, slots=True)
class Stamped:
    """One decoded frame, `frame`, as PyAV gives it. `time` is its start in seconds by its stamp, None without one."""

    time: float | None
    frame: Any


@dataclass(frozen=True, slots=True)
class Opened:
    """An open file and the stream that is read. `claimed` is the length in seconds that the file itself states, or
    None; `base` is the stamp, in seconds, that counts as the beginning."""

    container: Any
    stream: Any
    path: Path
    claimed: float | None
    base: float


@contextmanager
def opened(path: Path) -> Iterator[Opened]:
    """Open the file and choose its first sound stream.

    Raises:
        InputError: no such file, not readable, empty, no sound file, or a file without sound.
    """
    where = str(path)
    try:
        if not path.exists():
            raise InputError("there is no such file", where=where)
        if path.is_dir():
            raise InputError("this is a folder, not a sound file", where=where)
        if path.stat().st_size == 0:
            raise InputError("the file is empty (0 bytes)", where=where)
        with path.open("rb") as f:
            head = f.read(16)
    except OSError as e:
        raise InputError(f"cannot be opened ({e.strerror or e})", where=where) from None
    except ValueError as e:  # a null character in the name
        raise InputError(f"cannot be opened ({e})", where=where) from None
    try:
        options = {"format_whitelist": FORMATS, "protocol_whitelist": "file"}
        container = av.open(f"file:{path}", metadata_errors="ignore", options=options)
    except (av.error.FFmpegError, OSError, ValueError):
        raise InputError(_why_not(head), where=where) from None
    with container:
        if not container.streams.audio:
            raise InputError("no sound track in this file", where=where)
        stream = next((s for s in container.streams.audio if s.codec_context is not None), None)
        if stream is None:
            raise InputError("the kind of sound in this file is not known (or its head is damaged)", where=where)
        stream.codec_context.options = {"err_detect": "crccheck+explode"}  # a frame whose checksum fails is no sound
        base = 0.0
        if container.format.name in _TRANSPORT and container.start_time:
            base = container.start_time / av.time_base
        elif stream.start_time and stream.time_base and 0 < stream.start_time * stream.time_base < 0.2:
            base = float(stream.start_time * stream.time_base)  # the encoder's run-in, cut off by the decoder
        yield Opened(container, stream, path, claimed_seconds(container, stream, path), base)


def _why_not(head: bytes) -> str:
    if head[4:8] == b"ftyp":
        return "cannot be read: its index is missing or damaged (an M4A or MP4 that was cut off cannot be opened)"
    return "cannot be read as sound (no sound format that is known, or its beginning is damaged)"


def claimed_seconds(container: Any, stream: Any, path: Path) -> float | None:
    """The length that the file itself states, in seconds, or None where it states none (an estimate states nothing)."""
    name = container.format.name
    if name == "wav":
        return _wav_seconds(path)
    if name == "mp3":
        return _xing_seconds(path, stream)
    if name in _TIME_BY_BYTES or name in _TRANSPORT:
        return None
    if name == "ogg":
        return _ogg_seconds(path, stream)
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    if container.duration and not container.streams.video:
        return float(container.duration / av.time_base)
    return None


def _wav_seconds(path: Path) -> float | None:
    """What the RIFF header says (RIFF/WAVE, Microsoft 1991: `fmt ` has bytes a second at offset 8, `data` its size)."""
    with path.open("rb") as f:
        head = f.read(1 << 16)
    rate, at = 0, 12
    while at + 8 <= len(head):
        kind, size = head[at : at + 4], struct.unpack_from("<I", head, at + 4)[0]
        if kind == b"fmt " and at + 20 <= len(head):
            rate = struct.unpack_from("<I", head, at + 16)[0]
        if kind == b"data":
            # A recorder that was killed leaves 0 or the largest number here: nothing is claimed then.
            return size / rate if rate and 0 < size < 0x7FFFFF00 else None
        at += 8 + size + size % 2
    return None


def _xing_seconds(path: Path, stream: Any) -> float | None:
    """The number of frames in the Xing/Info header of an MP3, as LAME and others write it, in seconds."""
    with path.open("rb") as f:
        head = f.read(10)
        skip = 0
        if head[:3] == b"ID3" and len(head) == 10:  # ID3v2: size in four times seven bits, after a head of ten bytes
            skip = 10 + sum((b & 0x7F) << s for b, s in zip(head[6:10], (21, 14, 7, 0), strict=True))
        f.seek(skip)
        first = f.read(4096)
    for tag in (b"Xing", b"Info"):
        at = first.find(tag)
        if at >= 0 and len(first) >= at + 12 and first[at + 7] & 1:
            frames = struct.unpack_from(">I", first, at + 8)[0]
            context = stream.codec_context
            size = context.frame_size or (576 if context.rate < 32000 else 1152)
            return float(frames * size / context.rate) if context.rate else None
    return None


def _ogg_seconds(path: Path, stream: Any) -> float | None:
    """The end by the last page's own head (RFC 3533: granule position at byte 6), though the page may be damaged.

    FFmpeg skips a page whose checksum fails and then takes the page before for the last one.
    """
    page = _last_page(path, alone=len(stream.container.streams) == 1)
    granule = struct.unpack_from("<q", page, 6)[0] if page else 0
    codec, rate = stream.codec_context.name, stream.codec_context.rate
    if granule > 0 and codec in ("opus", "libopus"):
        return float(granule / 48000 - 0.0065)  # less the usual run-in of 312 samples
    if granule > 0 and codec in ("vorbis", "flac") and rate:
        return float(granule / rate)
    return float(stream.duration * stream.time_base) if stream.duration and stream.time_base else None


def lacks_end_mark(file: Opened) -> bool:
    """Whether an Ogg file ends without the page that is marked as its last (RFC 3533: bit 4 of byte 5): it was cut off,
    or its recorder was."""
    if file.container.format.name != "ogg" or len(file.container.streams) != 1:
        return False
    page = _last_page(file.path, alone=True)
    return bool(page) and not page[5] & 4


def _last_page(path: Path, *, alone: bool) -> bytes:
    """The head of the last Ogg page, or nothing; of the first stream where that is the only one."""
    size = path.stat().st_size
    with path.open("rb") as f:
        head = f.read(18)
        f.seek(max(0, size - (1 << 17)))
        tail = f.read()
    serial = head[14:18] if alone and head[:4] == b"OggS" and len(head) == 18 else None
    at = len(tail)
    while (at := tail.rfind(b"OggS", 0, at)) >= 0:
        page = tail[at : at + 27]
        if len(page) == 27 and page[4] == 0 and (serial is None or page[14:18] == serial):
            return page
    return b""


@dataclass(slots=True)
class Trouble:
    """What went wrong while reading: counted here by `stamped_frames`, read by its caller after the last frame."""

    bad_packets: int = 0
    bad_reads: int = 0
    reached: int = 0  # the byte of the file behind the last packet
    notes: list[str] = field(default_factory=list)


def stamped_frames(file: Opened, trouble: Trouble) -> Iterator[Stamped]:
    """Every frame that can be decoded, in the order of the file, with its time in seconds."""
    name = file.container.format.name
    by_bytes = name in _TIME_BY_BYTES
    lost = 0.0  # seconds that lost bytes stand for, in formats where only the place in the file tells the time
    after, mean_size, length, seen = None, 0.0, 0.0, 0
    for packet in _packets(file, trouble):
        late = 0.0
        if packet.pos is not None:
            trouble.reached = max(trouble.reached, packet.pos + packet.size)
        if by_bytes and packet.size and packet.pos is not None and packet.pos >= 0:
            length = float((packet.duration or 0) * packet.time_base) or length
            own = frame_bytes(bytes(packet)[:8], name)
            if seen > 4:
                if after is not None and packet.pos > after:
                    lost += round((packet.pos - after) / mean_size) * length
                if own is None:  # begins with rubbish, so it is all lost; FFmpeg counts it as one frame
                    lost += max(0, round(packet.size / mean_size) - 1) * length
                elif packet.size > own:  # rubbish behind the frame
                    late = round((packet.size - own) / mean_size) * length
            after = packet.pos + packet.size
            if own:
                seen += 1
                # A running mean: a file of varying bit rate is judged by its neighbourhood.
                mean_size += (own - mean_size) / min(seen, 100)
        try:
            frames = packet.decode()
        except (av.error.FFmpegError, ValueError, MemoryError):  # the family: damaged AAC raises its PermissionError
            trouble.bad_packets += 1
            frames = []
        for frame in frames:
            if not frame.samples or not frame.sample_rate:
                continue
            stamp = None if frame.pts is None or not frame.time_base else float(frame.pts * frame.time_base)
            yield Stamped(None if stamp is None else stamp + lost - file.base, frame)
        lost += late
    if by_bytes and after is not None and mean_size:
        tail = file.path.stat().st_size - after - 128  # an ID3v1 tag is no sound
        if tail > 8 * mean_size:
            trouble.bad_reads += 1


_MP3_KBITS = (
    (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320),  # MPEG-1
    (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),  # MPEG-2 and 2.5
)
_MP3_RATES = {3: (44100, 48000, 32000), 2: (22050, 24000, 16000), 0: (11025, 12000, 8000)}


def frame_bytes(head: bytes, name: str) -> int | None:
    """How many bytes a frame has by its own head, or None where the head is none: ADTS (ISO/IEC 13818-7) and MPEG audio
    layer III (ISO/IEC 11172-3). Formats that are not known here give 0, which claims nothing."""
    if name not in ("mp3", "aac"):
        return 0
    mask, sync = (0xF6, 0xF0) if name == "aac" else (0xE0, 0xE0)
    if len(head) < 7 or head[0] != 0xFF or head[1] & mask != sync:
        return None
    if name == "aac":
        return (head[3] & 3) << 11 | head[4] << 3 | head[5] >> 5
    version, layer, kbits, rate, padding = (
        head[1] >> 3 & 3, head[1] >> 1 & 3, head[2] >> 4, head[2] >> 2 & 3, head[2] >> 1 & 1
    )  # fmt: skip
    if version == 1 or layer != 1 or kbits in (0, 15) or rate == 3:
        return None
    first = version == 3
    return (144 if first else 72) * _MP3_KBITS[not first][kbits] * 1000 // _MP3_RATES[version][rate] + padding


def _packets(file: Opened, trouble: Trouble) -> Iterator[Any]:
    errors = 0
    while errors < _ENDLESS:
        try:
            for packet in file.container.demux(file.stream):
                errors = 0
                yield packet
            return
        except (av.error.FFmpegError, OSError, ValueError):
            # The generator is spent after an error, the container is not: reading goes on behind the bad place.
            errors += 1
            trouble.bad_reads += 1
