"""Spoilt files go through the commands: no traceback, no markup out of words, nothing written astray."""

import pytest

from tests.bench import fuzz


def test_spoilt_files_end_in_plain_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eighty plants, label sheets, blueprints and records, the same ones on every day; the long run is in tests/bench."""
    monkeypatch.setattr(fuzz, "PATIENCE_S", 60.0)       # nothing fails on a slow day
    monkeypatch.setenv("LOOPBOOK_DATA", "")             # put back when the test ends
    faults: list[str] = []
    count = fuzz.run(80, seed=1, tell=faults.append, kinds=("plant", "labels", "blueprint", "record"))
    assert faults == []
    assert min(count[kind] for kind in ("plant", "labels", "blueprint", "record")) > 2


@pytest.mark.parametrize(("page", "wrong"), [
    ("<svg><text>&lt;x-bad&gt;</text></svg>", 0),
    ("<svg><text><x-bad/></text></svg>", 1),
    ("<svg><text>open</svg>", 1),
    ('<svg><g onload="a()"/></svg>', 1),
])
def test_markup_that_a_word_made_is_seen(page: str, wrong: int) -> None:
    """The fuzz can tell an escaped word from one that became an element or a handler."""
    assert len(fuzz.markup_faults("d.svg", page)) == wrong
