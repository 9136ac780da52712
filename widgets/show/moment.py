"""A word to somebody who waits: what takes seconds is said where the page will stand, before it stands there."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import escape

Tell = Callable[[int, int], None]


@contextmanager
def moment(text: str) -> Iterator[Tell]:
    """Show a sentence below the cell that runs, until what is done inside is done; outside a notebook nothing.

    What is given back may be called with how many of how many are done.

    >>> with moment("one moment, the questions are being made") as tell:
    ...     tell(1, 4)
    """
    core = sys.modules.get("IPython.core.getipython")     # where there is a notebook, its own code has loaded this
    shell = core.get_ipython() if core is not None else None
    if shell is None or getattr(shell, "kernel", None) is None:
        yield lambda done, of: None
        return
    from IPython.display import HTML, display

    def said(more: str = "") -> HTML:
        return HTML(f'<p role="status">{escape(text)}{escape(more)} …</p>')

    shown = display(said(), display_id=True)
    try:
        yield lambda done, of: shown.update(said(f", {done} of {of}"))
    finally:
        shown.update(HTML(""))
