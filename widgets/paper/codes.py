"""The code that a printed paper carries: drawn by chance, so that no seed, and with it no key, can be had from it.

Which code belongs to which paper stands in the instructor's key alone.
"""

from __future__ import annotations

import secrets

LETTERS = "BCDFGHJKMNPQRTVWXZ346789"
"""No vowel, so that no word comes of it; no letter that looks like a figure, and no E, which a spreadsheet would count with."""
WEIGHTS = (1, 5, 7, 11, 13, 17, 19)     # none has a divisor in common with 24: one wrong letter never goes unseen
GROUP = 4


def test_code() -> str:
    """The first half of a code, the same on every paper of a test."""
    return "".join(secrets.choice(LETTERS) for _ in range(GROUP))


test_code.__test__ = False  # type: ignore[attr-defined]   # pytest takes it for one of its own by its name


def paper_codes(test: str, count: int) -> list[str]:
    """Codes for the papers of a test, no two alike.

    >>> first, second = paper_codes("BCDF", 2)
    >>> first != second, first[:5], sound(first)
    (True, 'BCDF-', True)
    """
    found: dict[str, None] = {}
    while len(found) < count:
        body = test + "".join(secrets.choice(LETTERS) for _ in range(GROUP - 1))
        found[f"{test}-{body[GROUP:]}{_check(body)}"] = None
    return list(found)


def _check(body: str) -> str:
    return LETTERS[sum(weight * LETTERS.index(letter) for weight, letter in zip(WEIGHTS, body)) % len(LETTERS)]


def tidy(written: str) -> str:
    """A code as people write it, as it is printed.

    >>> tidy(" bcdf 3467 "), tidy("?")
    ('BCDF-3467', '?')
    """
    bare = "".join(letter for letter in written.upper() if letter.isalnum())
    return f"{bare[:GROUP]}-{bare[GROUP:]}" if len(bare) == 2 * GROUP else written.strip()


def sound(code: str) -> bool:
    """True for what can be a code; one wrong letter makes it false."""
    bare = code.replace("-", "", 1)
    return len(bare) == 2 * GROUP and set(bare) <= set(LETTERS) and bare[-1] == _check(bare[:-1])
