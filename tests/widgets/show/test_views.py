"""Views without a browser: each control changes lists of names, and the drawing stays the same text."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from figures.drawing import ink
from figures.plant.scheme import Scheme
from widgets import views
from widgets.serve import present
from widgets.show.views import ALL, ASK, LAYERS, OFF

PLANT = Scheme(boilers=2, tank="boiler loop", faults=("relief-missing",), title="Weir & Co").plant()


def test_controls_switch_names_and_never_draw_anew() -> None:
    shown = views(PLANT)
    before = shown.canvas.svg
    assert shown.canvas.hide == ["missing"] and shown.canvas.caption == ASK and "Weir &amp; Co" in before
    shown.layers["tags"].value = False
    assert shown.canvas.hide == ["tags", "missing"]
    shown.missing.value = True
    assert shown.canvas.hide == ["tags"] and shown.canvas.caption == f"Missing: {shown.gone[0].name}."
    shown.loop.value = "system loop"
    assert {"B1", "PB2", "boiler loop"} <= set(shown.canvas.dimmed) and "E1" not in shown.canvas.dimmed
    shown.loop.value = ALL
    assert shown.canvas.dimmed == [] and shown.canvas.svg == before
    shown.projected.value = True
    assert shown.canvas.projected and shown.canvas.svg == before


def test_steps_end_where_the_water_comes_home() -> None:
    shown = views(PLANT)
    assert shown.next.disabled and shown.back.disabled
    shown.to.value = "E1"
    count = len(shown.steps)
    assert shown.at == 1 and list(shown.canvas.marks) == ["B1"] and shown.back.disabled and not shown.next.disabled
    for _ in range(count + 3):
        shown.next.click()
    assert shown.at == count and shown.next.disabled and "B1" in shown.canvas.marks
    assert shown.canvas.caption.startswith(f"Step {count} of {count}. Back at B1: the water has been round.")
    shown.back.click()
    assert shown.at == count - 1
    shown.to.value = OFF
    assert shown.canvas.marks == {} and shown.next.disabled


def test_a_sound_plant_has_nothing_missing() -> None:
    shown = views(Scheme())
    assert shown.missing.disabled and shown.missing.description == "What is missing (0)"
    assert repr(shown) == "<Views of A plant without a name>"


def test_a_plant_file_is_read_and_what_is_no_plant_is_refused() -> None:
    path = next((Path(__file__).parents[2] / "plants").glob("*.toml"))
    assert views(str(path)).canvas.svg
    with pytest.raises((TypeError, ValueError)):
        views(41)  # type: ignore[arg-type]


def test_layers_have_the_same_names_on_a_page_and_before_a_class() -> None:
    """Each is a layer of the drawing; a presented lesson switches them by the same words."""
    assert set(LAYERS) <= set(ink.LAYERS)
    script = (Path(present.__file__).parent / "present_look" / "present.js").read_text("utf-8")
    (table,) = re.findall("const LAYERS = {(.*)};", script)
    assert dict(re.findall(r'(\w+): "([^"]+)"', table)) == {**LAYERS, "missing": "What is missing"}
