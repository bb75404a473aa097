"""Rooms, microphones, noises and voices that differ, for training on sound: all on the graphics card, in batches.

Shapes: samples (batch, 480000) at 16 kHz; mel spectrograms (batch, 80, 3000), as Whisper takes them.
"""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional as F

RATE, LENGTH, WINDOW, HOP, BINS = 16000, 480000, 400, 160, 201


def mel_filters(device: str) -> Tensor:
    """Slaney's mel filters, 80 of them up to 8 kHz, area-normalised; shape (80, 201). After librosa's definition."""

    def mel(hz: float) -> float:
        return hz / (200 / 3) if hz < 1000 else 15 + math.log(hz / 1000) / (math.log(6.4) / 27)

    def hz(m: Tensor) -> Tensor:
        return torch.where(m < 15, m * 200 / 3, 1000 * torch.exp((m - 15) * math.log(6.4) / 27))

    edges = hz(torch.linspace(mel(0), mel(8000), 82, dtype=torch.float64))
    f = torch.linspace(0, RATE / 2, BINS, dtype=torch.float64)
    up = (f - edges[:-2, None]) / (edges[1:-1] - edges[:-2])[:, None]
    down = (edges[2:, None] - f) / (edges[2:] - edges[1:-1])[:, None]
    filters = torch.minimum(up, down).clamp(min=0) * (2 / (edges[2:] - edges[:-2]))[:, None]
    return filters.float().to(device)


def power(x: Tensor) -> Tensor:
    """Power spectra, (batch, 201, 3000)."""
    window = torch.hann_window(WINDOW, device=x.device)
    return torch.stft(x, WINDOW, HOP, window=window, return_complex=True)[..., :-1].abs().square()


def log_mel(spectra: Tensor, filters: Tensor) -> Tensor:
    """Whisper's input from power spectra."""
    logs = torch.clamp(filters @ spectra, min=1e-10).log10()
    logs = torch.maximum(logs, logs.amax((1, 2), keepdim=True) - 8.0)
    return (logs + 4) / 4


def chance(n: int, p: float, device: torch.device) -> Tensor:
    return torch.rand(n, 1, device=device) < p


def uniform(n: int, low: float, high: float, device: torch.device) -> Tensor:
    return torch.empty(n, 1, device=device).uniform_(low, high)


def level(x: Tensor) -> Tensor:
    """Root mean square of the louder frames, (batch, 1)."""
    frames = x.unfold(1, 4000, 4000).square().mean(2)
    loud = frames > frames.amax(1, keepdim=True) / 1000
    return ((frames * loud).sum(1) / loud.sum(1).clamp(min=1)).sqrt()[:, None] + 1e-6


def in_rooms(x: Tensor, p: float) -> Tensor:
    """Some of the sounds in a room: noise that dies away, for an echo of 0.1 to 0.7 s, convolved with the sound."""
    n, taps = len(x), 8000
    t = torch.arange(taps, device=x.device) / RATE
    decay = torch.exp(-6.9 * t / uniform(n, 0.1, 0.7, x.device))
    echo = torch.randn(n, taps, device=x.device) * decay
    echo[:, : RATE // 500] = 0
    echo = echo / echo.square().sum(1, keepdim=True).sqrt() * 10 ** (uniform(n, -16, 3, x.device) / 20)
    echo[:, 0] = 1
    size = 1 << (x.shape[1] + taps).bit_length()
    wet = torch.fft.irfft(torch.fft.rfft(x, size) * torch.fft.rfft(echo, size), size)[:, : x.shape[1]]
    return torch.where(chance(n, p, x.device), wet * level(x) / level(wet), x)


def with_noise(x: Tensor, bank: Tensor, p: float, low: float, high: float) -> Tensor:
    """Some of the sounds with a stretch of the bank (kinds, samples) that far, in dB, below them."""
    n = len(x)
    kind = torch.randint(len(bank), (n,)).tolist()
    at = torch.randint(bank.shape[1] - LENGTH, (n,)).tolist()
    noise = torch.stack([bank[k, a : a + LENGTH].float() for k, a in zip(kind, at, strict=True)])
    noise = noise / level(noise) * level(x) / 10 ** (uniform(n, low, high, x.device) / 20)
    return x + noise * chance(n, p, x.device)


def other_voices(spectra: Tensor, p: float) -> Tensor:
    """Some of the spectra stretched along the frequencies, as by a longer or shorter throat, 0.86 to 1.16."""
    n = len(spectra)
    factor = torch.where(chance(n, p, spectra.device), uniform(n, 0.86, 1.16, spectra.device), 1.0)
    f = torch.arange(BINS, device=spectra.device)[None] * factor
    low = f.floor().clamp(max=BINS - 2).long()
    part = (f - low).clamp(0, 1)[..., None]
    index = low[..., None].expand(-1, -1, spectra.shape[2])
    bent = spectra.gather(1, index) * (1 - part) + spectra.gather(1, index + 1) * part
    return torch.where((f > BINS - 1)[..., None], spectra[:, -1:], bent)


def through_microphones(spectra: Tensor, p: float, telephone: float) -> Tensor:
    """Some of the spectra coloured by a smooth curve of up to 8 dB; some cut to 300 to 3400 Hz or to 4 kHz."""
    n, device = len(spectra), spectra.device
    points = torch.empty(n, 1, 8, device=device).uniform_(-8, 8) * chance(n, p, device)[..., None]
    curve = F.interpolate(points, BINS, mode="linear", align_corners=True)[:, 0]
    f = torch.linspace(0, RATE / 2, BINS, device=device)[None]
    kind = torch.rand(n, 1, device=device)
    narrow = ((f < 300) | (f > 3400)) & (kind < telephone)
    dull = (f > 4000) & (kind > 1 - telephone)
    gain = 10 ** (curve / 10) * torch.where(narrow | dull, 1e-5, 1.0)
    return spectra * gain[..., None]


def with_holes(mel: Tensor) -> Tensor:
    """Two bands and two moments of each spectrogram filled with its mean (Park et al., SpecAugment, 2019)."""
    mel = mel.clone()
    for row in mel:
        mean = row.mean()
        for _ in range(2):
            f, t = int(torch.randint(0, 10, (1,))), int(torch.randint(0, 40, (1,)))
            a, b = int(torch.randint(0, 80 - f, (1,))), int(torch.randint(0, 3000 - t, (1,)))
            row[a : a + f] = mean
            row[:, b : b + t] = mean
    return mel
