"""The glossary on a page: every word of the trade with its sentence."""

from __future__ import annotations

from widgets.learn.glossary import words


class Glossary:
    """All words in one table. A notebook shows it as text, so it prints and it is searched like any text."""

    def __repr__(self) -> str:
        return "\n".join(f"{term}: {means}" for term, means in words().items())

    def _repr_markdown_(self) -> str:
        rows = (f"| **{term}** | {means} |" for term, means in words().items())
        return "\n".join(["| word | what it means |", "| --- | --- |", *rows])


def glossary() -> Glossary:
    """All words of the trade that the lessons use, in the order of the alphabet.

    >>> repr(glossary()).splitlines()[0].partition(":")[0]
    'air separator'
    """
    return Glossary()
