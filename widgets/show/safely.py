"""What a press or a change on the page calls: whatever goes wrong is told in the widget, since nobody reads a kernel's log."""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import wraps
from typing import Any

Act = Callable[..., Any]
log = logging.getLogger(__name__)


def safely(tell: Callable[[Any, str], None], *expected: type[Exception], then: str,
           words: Callable[[Exception], str] = str) -> Callable[[Act], Act]:
    """A decorator for methods of a widget: no error leaves them, each is told.

    tell: called with the widget and what to say.  expected: errors made for the learner, told in their own words (ValueError,
    and so a bad plant or answer, always).  words: how such an error is told.  then: what to do after any other error, which
    is a fault of ours and goes to the log as well.

    >>> class Bell:
    ...     @safely(lambda bell, text: print(text), then="Press again.")
    ...     def press(self, times):
    ...         raise ValueError(f"It does not ring {times} times.")
    >>> Bell().press(0)
    It does not ring 0 times.
    """
    known: tuple[type[Exception], ...] = (ValueError, *expected)

    def guard(act: Act) -> Act:
        @wraps(act)
        def guarded(self: Any, *given: Any) -> Any:
            try:
                return act(self, *given)
            except known as error:
                tell(self, words(error))
            except Exception as error:
                log.exception("%s failed", act.__qualname__)
                tell(self, f"This did not work: {type(error).__name__}: {error}. {then}")
            return None
        return guarded
    return guard
