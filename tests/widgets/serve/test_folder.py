"""The learner's folder: what is put there, what is kept, what is said."""

import json
import os
import stat
from pathlib import Path

import pytest

from widgets.learn import lessons, whole
from widgets.serve import folder as f


def notebook(*sources: str, outputs: bool = False, folded: bool = False) -> str:
    """A small notebook of code cells, as Jupyter saves it."""
    cells = [
        {
            "cell_type": "code",
            "id": f"c{n}",
            "source": source.splitlines(keepends=True),
            "execution_count": n,
            "metadata": {"jupyter": {"source_hidden": True}} if folded else {},
            "outputs": [{"output_type": "stream", "name": "stdout", "text": ["hello\n"]}] if outputs else [],
        }
        for n, source in enumerate(sources)
    ]
    return json.dumps({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5})


class Shop:
    """A shop of lessons that a test can bring up to date, and a learner's folder."""

    def __init__(self, root: Path) -> None:
        self.shelf, self.folder = root / "shelf", root / "learner"
        self.shelf.mkdir()

    def ships(self, name: str, *sources: str) -> None:
        (self.shelf / name).write_text(notebook(*sources), "utf-8")

    def fill(self) -> f.Filled:
        return f.fill(self.folder, tuple(sorted(self.shelf.glob("*.ipynb"))))

    def theirs(self, name: str) -> str:
        return (self.folder / name).read_text("utf-8")


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path)


def test_lessons_are_put_into_a_folder_that_was_missing(shop: Shop) -> None:
    """The folder and those above it are made; every lesson is there, byte for byte."""
    shop.ships("01-a.ipynb", "1")
    shop.ships("02-b.ipynb", "2")
    shop.folder = shop.folder / "deep" / "down"
    done = shop.fill()
    assert done.said == ("2 lessons put here.",)
    assert [shop.folder / "01-a.ipynb", shop.folder / "02-b.ipynb"] == list(done.lessons)
    assert (shop.shelf / "01-a.ipynb").read_bytes() == (shop.folder / "01-a.ipynb").read_bytes()


def test_a_second_time_nothing_is_done_or_said(shop: Shop) -> None:
    """No lesson is touched that is the same already."""
    shop.ships("01-a.ipynb", "1")
    shop.fill()
    before = (shop.folder / "01-a.ipynb").stat().st_mtime_ns
    assert shop.fill().said == ()
    assert before == (shop.folder / "01-a.ipynb").stat().st_mtime_ns


def test_what_the_learner_changed_is_kept(shop: Shop) -> None:
    """A changed cell stays changed, and nothing is put beside it while there is no newer lesson."""
    shop.ships("01-a.ipynb", "1")
    shop.fill()
    (shop.folder / "01-a.ipynb").write_text(notebook("1", "my own note"), "utf-8")
    assert shop.fill().said == ()
    assert notebook("1", "my own note") == shop.theirs("01-a.ipynb")
    assert {"01-a.ipynb", f.LIST_NAME} == {p.name for p in shop.folder.iterdir()}


def test_a_newer_lesson_is_put_beside_a_changed_one_and_said(shop: Shop) -> None:
    """The learner's lesson keeps its name; the newer one gets '(new)'."""
    shop.ships("01-a.ipynb", "1")
    shop.fill()
    (shop.folder / "01-a.ipynb").write_text(notebook("my own"), "utf-8")
    shop.ships("01-a.ipynb", "2")
    said = shop.fill().said
    assert said == ("01-a.ipynb: kept as you changed it; the newer lesson is beside it, '01-a (new).ipynb'.",)
    assert notebook("my own") == shop.theirs("01-a.ipynb")
    assert notebook("2") == shop.theirs("01-a (new).ipynb")


def test_a_newer_lesson_is_offered_once(shop: Shop) -> None:
    """Said and put there once; not again when the learner has thrown it away."""
    shop.ships("01-a.ipynb", "1")
    shop.fill()
    (shop.folder / "01-a.ipynb").write_text(notebook("my own"), "utf-8")
    shop.ships("01-a.ipynb", "2")
    shop.fill()
    assert shop.fill().said == ()
    (shop.folder / "01-a (new).ipynb").unlink()
    assert shop.fill().said == ()
    assert not (shop.folder / "01-a (new).ipynb").exists()


def test_a_changed_new_lesson_is_kept_too(shop: Shop) -> None:
    """What the learner wrote into 'NAME (new)' is theirs: the one after that gets another name."""
    shop.ships("01-a.ipynb", "1")
    shop.fill()
    (shop.folder / "01-a.ipynb").write_text(notebook("my own"), "utf-8")
    shop.ships("01-a.ipynb", "2")
    shop.fill()
    (shop.folder / "01-a (new).ipynb").write_text(notebook("my own, too"), "utf-8")
    shop.ships("01-a.ipynb", "3")
    assert "'01-a (new 2).ipynb'" in shop.fill().said[0]
    assert notebook("my own, too") == shop.theirs("01-a (new).ipynb")
    assert notebook("3") == shop.theirs("01-a (new 2).ipynb")


def test_outputs_and_folding_do_not_count_as_changes(shop: Shop) -> None:
    """Jupyter saves those by itself: such a lesson is brought up to date in its place."""
    shop.ships("01-a.ipynb", "1")
    shop.fill()
    (shop.folder / "01-a.ipynb").write_text(notebook("1", outputs=True, folded=True), "utf-8")
    assert shop.fill().said == ()
    assert "hello" in shop.theirs("01-a.ipynb")
    shop.ships("01-a.ipynb", "2")
    assert shop.fill().said == ("01-a.ipynb: brought up to date; you had changed nothing in it.",)
    assert notebook("2") == shop.theirs("01-a.ipynb")


@pytest.mark.parametrize("text", ["", "not a notebook", "[]", '{"cells": 3}', '{"cells": [{}]}'])
def test_a_spoilt_lesson_is_kept_and_a_good_one_put_beside_it(shop: Shop, text: str) -> None:
    """What cannot be read as a notebook may still be somebody's work."""
    shop.ships("01-a.ipynb", "1")
    shop.folder.mkdir()
    (shop.folder / "01-a.ipynb").write_text(text, "utf-8")
    assert "'01-a (new).ipynb'" in shop.fill().said[0]
    assert text == shop.theirs("01-a.ipynb")
    assert notebook("1") == shop.theirs("01-a (new).ipynb")


@pytest.mark.parametrize("text", ["", "{", '{"lessons": 1}', '{"lessons": {"01-a.ipynb": 7}}', "[1]"])
def test_a_damaged_list_loses_nothing(shop: Shop, text: str) -> None:
    """Without the list a lesson that differs counts as changed; one that does not, as given."""
    shop.ships("01-a.ipynb", "1")
    shop.ships("02-b.ipynb", "2")
    shop.fill()
    (shop.folder / "02-b.ipynb").write_text(notebook("my own"), "utf-8")
    (shop.folder / f.LIST_NAME).write_text(text, "utf-8")
    assert shop.fill().said == (
        "02-b.ipynb: kept as you changed it; the newer lesson is beside it, '02-b (new).ipynb'.",
    )
    assert notebook("my own") == shop.theirs("02-b.ipynb")


def test_a_link_that_leads_nowhere_is_not_written_through(shop: Shop) -> None:
    """The learner's link stays; the lesson goes beside it."""
    shop.ships("01-a.ipynb", "1")
    shop.folder.mkdir()
    os.symlink(shop.folder.parent / "elsewhere.ipynb", shop.folder / "01-a.ipynb")
    shop.fill()
    assert not (shop.folder.parent / "elsewhere.ipynb").exists()
    assert notebook("1") == shop.theirs("01-a (new).ipynb")


def test_a_folder_that_is_a_file_is_refused_in_one_line(shop: Shop) -> None:
    """Also a file higher up in the path."""
    shop.ships("01-a.ipynb", "1")
    shop.folder.write_text("a file", "utf-8")
    with pytest.raises(f.BadFolder, match="this is a file, not a folder; name another folder"):
        shop.fill()
    shop.folder = shop.folder / "below"
    with pytest.raises(f.BadFolder, match="a part of this path is a file"):
        shop.fill()


def test_the_place_of_our_own_lessons_is_refused() -> None:
    """Nobody's notes may end up in the package."""
    with pytest.raises(f.BadFolder, match="keeps its own lessons here; name a folder of your own"):
        f.fill(lessons.lessons_dir())


def test_an_unwritable_folder_is_refused_in_one_line(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever runs the tests may be allowed everything, so the refusal itself is made here."""

    def refuse(*args: object, **kwargs: object) -> tuple[int, str]:
        raise PermissionError(13, "Permission denied", str(shop.folder))

    shop.ships("01-a.ipynb", "1")
    monkeypatch.setattr(whole.tempfile, "mkstemp", refuse)
    with pytest.raises(f.BadFolder, match="may not be written by you; name a folder of your own") as bad:
        shop.fill()
    assert "\n" not in str(bad.value)


def test_a_full_disk_leaves_the_learners_lesson_whole(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The old lesson stands, no half file is left, and one line says so."""

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    shop.ships("01-a.ipynb", "1")
    shop.fill()
    before = sorted(p.name for p in shop.folder.iterdir())
    shop.ships("01-a.ipynb", "2")
    monkeypatch.setattr(whole.os, "fsync", full)
    with pytest.raises(f.BadFolder, match="no space left on device; nothing of yours was changed"):
        shop.fill()
    assert notebook("1") == shop.theirs("01-a.ipynb")
    assert before == sorted(p.name for p in shop.folder.iterdir())


@pytest.mark.parametrize(
    ("made", "seen"),
    [
        (["figures.py"], ["figures.py"]),
        (["widgets.py", "figures/__init__.py"], ["figures/__init__.py", "widgets.py"]),
        (["figures/photo.png"], []),
        (["my_figures.py"], []),
    ],
)
def test_files_of_the_learner_that_would_shadow_ours_are_found(
    tmp_path: Path, made: list[str], seen: list[str]
) -> None:
    """A module or a package of our names counts; a plain folder of pictures does not."""
    for name in made:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("", "utf-8")
    assert seen == [place.relative_to(tmp_path).as_posix() for place in f.shadows(tmp_path)]


def test_the_source_tree_does_not_shadow_itself() -> None:
    """`loopbook study .` in the source tree is told nothing."""
    assert f.shadows(Path(f.__file__).resolve().parents[2]) == ()


def test_lessons_are_found_inside_an_installed_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wheel holds them in `widgets/serve`; the source tree beside `widgets`."""
    package = tmp_path / "site" / "widgets"
    package.mkdir(parents=True)
    monkeypatch.setattr(lessons, "__file__", str(package / "learn" / "lessons.py"))
    assert tmp_path / "site" / "lessons" == lessons.lessons_dir()
    (package / "serve" / "lessons").mkdir(parents=True)
    assert package / "serve" / "lessons" == lessons.lessons_dir()


def test_an_example_of_a_label_sheet_lies_beside_the_lessons(tmp_path: Path) -> None:
    """A lesson speaks of it, and whoever changed it keeps what they wrote."""
    from widgets.paper.labels import read_labels

    f.fill(tmp_path)
    sheet = tmp_path / "labels-example.toml"
    assert read_labels(sheet)
    sheet.write_text("mine")
    assert f.fill(tmp_path).said == () and sheet.read_text() == "mine"


def test_lessons_have_the_rights_of_any_new_file_of_the_learners(tmp_path):
    """Whoever keeps their files to themselves keeps these too."""
    before = os.umask(0o077)
    try:
        [lesson] = f.fill(tmp_path / "here", lessons.shipped_lessons()[:1]).lessons
    finally:
        os.umask(before)
    assert stat.S_IMODE(lesson.stat().st_mode) == 0o600
