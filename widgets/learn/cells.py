"""Cells of a table that a spreadsheet program will open: what a learner wrote is data, and never a formula."""

from __future__ import annotations

import re

from figures.plant.refusal import CONTROL

RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")
"""First letters that a spreadsheet program may take for a formula."""
_WITHIN = re.compile(r"([;\t\r\n][\s\u00a0]*)(?=[=+\-@])")
_SAFE_WITHIN = re.compile(r"([;\t\r\n][\s\u00a0]*)'(?=[=+\-@])")
"""Where a program that goes by another separator than the comma begins a cell: in much of Europe that is the semicolon."""


def safe(value: object) -> object:
    """A cell that no spreadsheet program takes for a formula; figures stay figures, and what cannot be seen becomes '?'.

    >>> safe("=1+1"), safe(0.5), safe("Ann (invented)"), safe("Kim;=1+1")
    ("'=1+1", 0.5, 'Ann (invented)', "Kim;'=1+1")
    """
    if value is None or isinstance(value, int | float):
        return value
    text = CONTROL.sub(lambda found: found[0] if found[0] in "\t\r\n" else "?", str(value))
    text = _WITHIN.sub(r"\1'", text)
    return f"'{text}" if text.lstrip(" \u00a0").startswith(RISKY) else text


def unsafe(text: str) -> str:
    """What stood in a cell before `safe` put apostrophes into it.

    >>> unsafe("'=1+1"), unsafe("'tis"), unsafe("Kim;'=1+1")
    ('=1+1', "'tis", 'Kim;=1+1')
    """
    text = _SAFE_WITHIN.sub(r"\1", text)
    return text[1:] if text.startswith("'") and text[1:].lstrip().startswith(RISKY) else text
