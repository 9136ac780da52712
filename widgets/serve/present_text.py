"""Text of a lesson as HTML for the screen."""

from __future__ import annotations

import re
from functools import lru_cache

from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

ELSEWHERE = re.compile(r'(?:href|src)="(?![A-Za-z0-9_./#-]+"|https?://)[^"]*"')
"""A link to anything but a place here or a page: it could run something."""
LINK = re.compile(r'href="([A-Za-z0-9_-]+)\.ipynb"')


@lru_cache(maxsize=2048)
def as_html(markdown: str) -> str:
    """Markdown as HTML: marks of HTML in it are shown, not obeyed; links to lessons lead to their pages here.

    >>> as_html("See [Start](01-start-here.ipynb) & *go* <b>on</b>.")
    '<p>See <a href="/lesson/01-start-here">Start</a> &amp; <em>go</em> &lt;b&gt;on&lt;/b&gt;.</p>'
    """
    html = MarkdownWithMath(renderer=IPythonRenderer(escape=True)).render(markdown)
    return LINK.sub(r'href="/lesson/\1"', ELSEWHERE.sub("", html)).strip()
