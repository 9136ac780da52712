"""What a plant looks like: symbols, the placer, and the drawing as an object.

>>> from figures.plant import parse_plant
>>> import figures.drawing
>>> hasattr(figures.drawing, "Diagram")
True
"""

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .diagram import Diagram

__all__ = ["Diagram"]


def __getattr__(name: str) -> object:
    """`Diagram` is opened when first asked for, so that `import figures.drawing` stays quick."""
    if name == "Diagram":
        from .diagram import Diagram

        return Diagram
    raise AttributeError(f"module 'figures.drawing' has no attribute '{name}'")


def open_schemdraw() -> None:
    """Import schemdraw without pyplot, which it would load whenever matplotlib is installed.

    Its matplotlib backend is hidden only while schemdraw is first imported: a learner who draws with
    schemdraw on matplotlib in the same kernel can still import that backend by name.
    """
    if "schemdraw" in sys.modules:
        return
    name = "schemdraw.backends.mpl"
    hidden = name not in sys.modules
    if hidden:
        sys.modules[name] = None  # type: ignore[assignment]
    try:
        import schemdraw
        import schemdraw.elements  # noqa: F401
    finally:
        if hidden:
            sys.modules.pop(name, None)
