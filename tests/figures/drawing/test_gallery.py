"""The README's gallery shows what is drawn today, and weighs little."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

from tests.bench.gallery import ARRANGEMENTS, FOLDER, STORY_FOLDER, draw, story

README = Path(__file__).parents[3] / "README.md"


def drawn(path: Path) -> tuple[list[str | None], list[str | None]]:
    """Tags and runs of a picture, in its order."""
    groups = [e for e in ET.parse(path).iter() if "data-tag" in e.attrib or "data-run" in e.attrib]
    return [e.get("data-tag") for e in groups], [e.get("data-run") for e in groups]


def test_the_gallery_is_what_is_drawn_today(tmp_path):
    made = draw(tmp_path)
    kept = {path.name: path for path in FOLDER.iterdir()}
    assert sorted(path.name for path in made) == sorted(kept), "run python -m tests.bench.gallery"
    for path in made:
        assert drawn(path) == drawn(kept[path.name]), "run python -m tests.bench.gallery"
    assert sum(path.stat().st_size for path in kept.values()) < 400_000


def test_the_readme_shows_every_arrangement():
    shown = re.findall(r"\(lessons/pictures/gallery/([a-z-]+\.svg)\)", README.read_text(encoding="utf-8"))
    assert sorted(shown) == sorted(path.name for path in FOLDER.iterdir())
    assert len(shown) == sum(map(len, ARRANGEMENTS.values())) == 11


def test_the_readme_tells_what_the_program_draws_and_computes(tmp_path):
    """The pictures of its first page are drawn today, and the heat that it tells is what the solver says."""
    made, tank_kw = story(tmp_path)
    readme = README.read_text(encoding="utf-8")
    assert sorted(re.findall(r"\(lessons/pictures/story/([a-z-]+\.svg)\)", readme)) == sorted(path.name for path in made)
    for path in made:
        assert drawn(path) == drawn(STORY_FOLDER / path.name), "run python -m tests.bench.gallery"
    assert f"the tank gets {tank_kw['set-rightly']:.0f} kW" in readme
    assert f"and {tank_kw['set-wrongly']:.0f} kW reach the tank" in readme
