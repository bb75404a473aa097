"""Text files that cannot be drafted, and those that can though they look odd."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_cli import TALK

from dictate.cli import main, steps
from dictate.draft import hear
from dictate.errors import InputError
from dictate.exam.statements import Reading
from dictate.lexicon import load
from dictate.speech.words import Transcript
from dictate.textfile import MOST_WORDS, check_english, read_text_file

GERMAN = (
    "Der Hund ist drei Jahre alt. Die Augen sind klar, die Ohren sauber, das Herz schlägt regelmäßig, kein Geräusch."
)
FRENCH = "Le chien a trois ans. Les yeux sont clairs, les oreilles propres, le coeur bat régulièrement, sans souffle."
SPANISH = (
    "El perro tiene tres años. Los ojos están claros, las orejas limpias, el corazón late regularmente, sin soplo."
)
JAPANESE = "左の耳はきれいです。心臓の音は正常です。"

BAD = {
    "empty": (b"", "zero bytes"),
    "blank": (b" \n\t\n", "no words"),
    "dots": (b"... --- ...", "no words"),
    "binary": (b"\x00\x01\x02RIFF\xff\xfe" * 50, "binary"),
    "picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "binary"),
    "broken utf-16": (b"\xff\xfea", "not valid"),
    "german": (GERMAN.encode(), "English"),
    "french": (FRENCH.encode(), "English"),
    "spanish": (SPANISH.encode("latin-1"), "English"),
    "japanese": (JAPANESE.encode(), "English"),
    "endless": (b"left " * (MOST_WORDS + 1), "more than any exam"),
}


@pytest.mark.parametrize(("content", "told"), BAD.values(), ids=BAD)
def test_bad_text_is_one_clear_line(
    tmp_path: Path, content: bytes, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What cannot be drafted is told in one line that names the file and the reason; status 1; nothing is written."""
    file = tmp_path / "talk.txt"
    file.write_bytes(content)
    assert main(["draft", str(file), "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert str(file) in line
    assert told in line
    assert list((tmp_path / "out").iterdir()) == []


def test_folder_and_missing_file_are_told(tmp_path: Path) -> None:
    """A folder given as a file, and a file that is not there, are told for what they are."""
    (tmp_path / "folder.txt").mkdir()
    with pytest.raises(InputError, match="this is a folder"):
        read_text_file(tmp_path / "folder.txt")
    with pytest.raises(InputError, match="no such file"):
        read_text_file(tmp_path / "gone.txt")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_usual_encodings_are_read_without_a_note(tmp_path: Path, encoding: str) -> None:
    """UTF-8 with and without a mark and marked UTF-16 give the same text and no note."""
    file = tmp_path / "talk.txt"
    file.write_bytes("Café, 38.5 °C, left".encode(encoding))
    text = read_text_file(file)
    assert (text.transcript.text, text.notes) == ("Café, 38.5 °C, left", ())


def test_old_encoding_is_read_and_said(tmp_path: Path) -> None:
    """Bytes that are not UTF-8 are read as Latin-1, and the record says so."""
    file = tmp_path / "talk.txt"
    file.write_bytes("Temperature 38.5 °C, “normal”".encode("cp1252"))
    text = read_text_file(file)
    assert text.transcript.text == "Temperature 38.5 °C, “normal”"
    assert "Latin-1" in text.notes[0]
    heard = hear(file, load(), listen=lambda _: pytest.fail("a text is not listened to"))
    assert heard.source.notes == text.notes


def test_line_ends_of_every_system_are_one(tmp_path: Path) -> None:
    """Windows' and old Mac's line ends are read as plain line ends."""
    file = tmp_path / "talk.txt"
    file.write_bytes(b"left\r\nright\rboth\n")
    assert read_text_file(file).transcript.text == "left\nright\nboth\n"


@pytest.mark.parametrize(
    "text",
    [
        TALK,
        TALK.upper(),
        "T 38.4, P 96, R 20, MM pink, CRT 2, BCS 5/9, NAD.",
        "Otis. Eyes fine.",
        "Naïve café façade, he’s OK",
    ],
)
def test_english_talk_is_accepted(text: str) -> None:
    """Terse trade dictation, capitals, borrowed words and very short talk pass as English."""
    check_english(text, load(), where="talk.txt")


def test_a_very_long_text_is_drafted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A text just under the limit goes through to the language step whole."""
    seen: list[Transcript] = []

    def read(transcript: Transcript, lexicon: object) -> Reading:
        seen.append(transcript)
        return Reading()

    monkeypatch.setattr(steps, "read", read)
    file = tmp_path / "long.txt"
    text = " ".join([TALK] * (MOST_WORDS // len(TALK.split())))
    file.write_text(text)
    assert main(["draft", str(file), "--out", str(tmp_path / "out")]) == 0
    assert seen[0].text == text
