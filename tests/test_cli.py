"""The command line as a user meets it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from exam_cases import said, spoken

from dictate.cli import main, steps
from dictate.errors import InputError
from dictate.exam.record import json_schema
from dictate.exam.statements import Reading
from dictate.lexicon import Lexicon
from dictate.speech.words import SoundNote, Transcript

TALK = "The left elbow is thick today, and she limps on it since Monday, but both of the eyes are clear."


def read(transcript: Transcript, lexicon: Lexicon) -> Reading:
    """Stands for the language step: one statement where the talk has an elbow."""
    if "crash" in transcript.text:
        raise RuntimeError("something\nbroke")
    if "thick" not in transcript.text:
        return Reading()
    return Reading(
        statements=(said(transcript.text, "thick", "elbow", "left", status="abnormal", finding="thickening"),)
    )


@pytest.fixture
def stubbed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command line with a language step and a speech step that need no model."""

    def listener(model: str, *, within: object = None, **ways: bool) -> object:
        def listen(file: Path) -> Transcript:
            if not file.exists():
                raise InputError("there is no such file", where=str(file))
            heard = spoken(TALK)
            return Transcript(heard.words, heard.text, "5" * 64, SoundNote(20.0))

        return listen

    monkeypatch.setattr(steps, "read", read)
    monkeypatch.setattr(steps, "listener", listener)
    monkeypatch.setattr("dictate.cli.transcribe.listener", listener)


def talk(folder: Path, name: str = "rex.txt", text: str = TALK) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


def run(*arguments: object) -> int:
    return main([str(a) for a in arguments])


def test_help_imports_nothing_heavy() -> None:
    """`dictate --help` answers at once: no model, number or data library is imported for it."""
    code = (
        "import sys; from dictate.cli.arguments import make_parser; make_parser().format_help();"
        "heavy = {'spacy', 'numpy', 'pydantic', 'av', 'faster_whisper', 'rich', 'onnxruntime'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.usefixtures("stubbed")
def test_draft_writes_a_record_that_fits_the_schema(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A text and a sound become records that fit the published schema, silently where nothing is wrong."""
    sound = talk(tmp_path, "moss.wav", "stands for a sound")
    assert run("draft", talk(tmp_path), sound, "--out", tmp_path / "out") == 0
    for name in ("rex", "moss"):
        data = json.loads((tmp_path / "out" / f"{name}.record.json").read_text(encoding="utf-8"))
        jsonschema.validate(data, json_schema())
        assert [o["site"] for o in data["observations"]] == ["elbow"]
        assert "elbow" in (tmp_path / "out" / f"{name}.record.txt").read_text(encoding="utf-8")
    assert data["observations"][0]["evidence"][0]["start"] is not None
    assert capsys.readouterr().err == ""


@pytest.mark.usefixtures("stubbed")
def test_one_bad_file_does_not_stop_the_others(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A missing file in the middle is told in one line, the others are drafted, the exit status is 1."""
    first, last = talk(tmp_path / "in", "a.txt"), talk(tmp_path / "in", "z.txt")
    assert run("draft", first, tmp_path / "gone.txt", last, "--out", tmp_path / "out") == 1
    assert sorted(p.name for p in (tmp_path / "out").glob("*.json")) == ["a.record.json", "z.record.json"]
    (line,) = capsys.readouterr().err.splitlines()
    assert "gone.txt" in line


@pytest.mark.usefixtures("stubbed")
def test_two_inputs_of_one_name_have_two_drafts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The second of two inputs of the same name gets a name of its own, which is said on stderr."""
    one, two = talk(tmp_path / "a"), talk(tmp_path / "b", text=TALK + " Good girl.")
    assert run("draft", one, two, "--out", tmp_path / "out") == 0
    names = sorted(p.name for p in (tmp_path / "out").glob("*.json"))
    assert len(names) == 2
    assert names[0] in capsys.readouterr().err


@pytest.mark.usefixtures("stubbed")
def test_a_second_run_gives_the_same_files(tmp_path: Path) -> None:
    """Drafting again changes nothing but the drafting time."""
    out = tmp_path / "out"
    contents = []
    for _ in range(2):
        assert run("draft", talk(tmp_path), "--out", out) == 0
        data = json.loads((out / "rex.record.json").read_text(encoding="utf-8"))
        assert data.pop("drafted")
        contents.append(data)
    assert contents[0] == contents[1]
    assert len(list(out.iterdir())) == 2


@pytest.mark.usefixtures("stubbed")
def test_a_fault_of_the_program_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An unforeseen error while one file is drafted is one line with the file's name, status 2; the others go on."""
    bad = talk(tmp_path, "bad.txt", "This one will crash the left and the right of it all.")
    assert run("draft", bad, talk(tmp_path), "--out", tmp_path / "out") == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "bad.txt" in line
    assert "RuntimeError: something broke" in line
    assert (tmp_path / "out" / "rex.record.json").exists()


@pytest.mark.usefixtures("stubbed")
def test_debug_shows_the_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """DICTATE_DEBUG=1 shows where a fault happened."""
    monkeypatch.setenv("DICTATE_DEBUG", "1")
    bad = talk(tmp_path, "bad.txt", "This one will crash the left and the right of it all.")
    assert run("draft", bad, "--out", tmp_path / "out") == 2
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.usefixtures("stubbed")
def test_stopped_by_the_user(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C ends with one line and status 130, and no half-written file is left."""

    def stop(*_: object) -> Reading:
        raise KeyboardInterrupt

    monkeypatch.setattr(steps, "read", stop)
    assert run("draft", talk(tmp_path), "--out", tmp_path / "out") == 130
    assert capsys.readouterr().err.splitlines() == ["dictate: stopped"]
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.usefixtures("stubbed")
def test_folder_that_cannot_be_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where results cannot be written, one line says so before any work is done."""
    blocked = talk(tmp_path, "not a folder")
    assert run("draft", talk(tmp_path), "--out", blocked / "out") == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "cannot write in this folder" in line


@pytest.mark.usefixtures("stubbed")
def test_transcribe_writes_words(tmp_path: Path) -> None:
    """Each sound becomes a file of words with start, end and probability; a text is refused in one line."""
    sound = talk(tmp_path, "moss.wav", "stands for a sound")
    assert run("transcribe", sound, "--out", tmp_path / "out") == 0
    data = json.loads((tmp_path / "out" / "moss.words.json").read_text(encoding="utf-8"))
    assert {"text", "start", "end", "probability"} <= set(data["words"][0])
    assert [w["text"] for w in data["words"]] == TALK.split()
    assert run("transcribe", talk(tmp_path), "--out", tmp_path / "out") == 1


def test_schema_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """`dictate schema` prints a valid JSON Schema."""
    assert run("schema") == 0
    jsonschema.Draft202012Validator.check_schema(json.loads(capsys.readouterr().out))


def test_lexicon_lists_tables_and_sources(capsys: pytest.CaptureFixture[str]) -> None:
    """`dictate lexicon` lists every table; `--sources` the sources that rows name."""
    assert run("lexicon") == 0
    assert "site_words" in capsys.readouterr().out
    assert run("lexicon", "--sources") == 0
    assert "ranges: " in capsys.readouterr().out


@pytest.mark.parametrize("arguments", [[], ["draft"], ["draft", "x.txt"], ["sing"], ["draft", "x.txt", "--ou", "y"]])
def test_wrong_usage_is_status_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """A missing or unknown command or option is told with the usage, status 2."""
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert "usage: dictate" in capsys.readouterr().err
