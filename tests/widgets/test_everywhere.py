"""The commands on other people's machines: folders with spaces and umlauts, a locale of ASCII, a full disk, a second copy."""

from __future__ import annotations

import errno
import io
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from widgets.command import main

CODE = "import sys; from widgets.command import main; sys.exit(main(sys.argv[1:]))"


def run(folder: Path, *words: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """A command as its own process in a folder."""
    env = os.environ | {"LOOPBOOK_DATA": str(folder / "dätä"), **environment}
    return subprocess.run([sys.executable, "-c", CODE, *words], cwd=folder, env=env, timeout=120, capture_output=True)


def test_a_plant_goes_through_all_commands_in_a_folder_with_an_umlaut_and_a_space(tmp_path: Path) -> None:
    """Made, read, drawn and put on a sheet; two copies at once do not disturb one another."""
    folder = tmp_path / "Schüler Übung"
    folder.mkdir()
    title = "Übungsstraße 3"
    assert run(folder, "make", "--seed", "7", "--title", title, "--out", "Anlage ä.toml").returncode == 0
    lines = (("read", "Anlage ä.toml"), ("draw", "Anlage ä.toml", "--out", "Bild ö.svg"),
             ("sheet", "Anlage ä.toml", "--out", "Blatt ü.html"), ("record", "show"))
    with ThreadPoolExecutor(4) as copies:
        done = list(copies.map(lambda words: run(folder, *words, LC_ALL="C", PYTHONIOENCODING="ascii"), lines))
    assert [(one.returncode in (0, 1), one.stderr) for one in done] == [(True, b"")] * 4
    assert title in done[0].stdout.decode("utf-8")
    assert title in (folder / "Bild ö.svg").read_text("utf-8") and title in (folder / "Blatt ü.html").read_text("utf-8")


class Full(io.TextIOBase):
    """A disk that takes nothing more."""

    def write(self, text: str) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize("words", [("parts", "drain", "--json"), ("make", "--seed", "7"), ("paper", "--questions", "1")])
def test_a_disk_that_is_full_is_told_in_one_line(words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch,
                                                 capsys: pytest.CaptureFixture[str]) -> None:
    """Where the output goes: exit 2, no traceback."""
    monkeypatch.setattr(sys, "stdout", Full())
    assert main(words) == 2
    says = "the output: no space left on device; what was to be written is not all there"
    assert capsys.readouterr().err == f"loopbook {words[0]}: {says}\n"


def test_a_data_folder_that_cannot_be_made_is_told_in_one_line(tmp_path: Path) -> None:
    """A home of somebody else's, say: nothing is lost, nothing raised."""
    (tmp_path / "file").write_text("", "utf-8")
    done = run(tmp_path, "record", "export", LOOPBOOK_DATA=str(tmp_path / "file" / "data"))
    assert b"Traceback" not in done.stderr and done.returncode in (0, 2)
