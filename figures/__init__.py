"""What a plant is, what it does, what it looks like. Everything here can be used without a widget.

>>> from figures import Scheme, read
>>> read(Scheme.random(7).plant()).arrangement in ("single loop", "separated loops")
True
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .drawing import Diagram
    from .plant import BadPlant, Plant, parse_plant, read_plant, write_plant
    from .plant.scheme import Scheme
    from .reading import Reading, read

_WHERE = {
    "BadPlant": "plant", "Plant": "plant", "parse_plant": "plant", "read_plant": "plant", "write_plant": "plant",
    "Scheme": "plant.scheme", "read": "reading", "Reading": "reading", "Diagram": "drawing",
    "State": "physics", "solve": "physics", "operate": "physics.operation",
}

__all__ = ["BadPlant", "Diagram", "Plant", "Reading", "Scheme", "parse_plant", "read", "read_plant", "write_plant"]


def __getattr__(name: str) -> object:
    """Rooms are opened when first asked for, so that `import figures` stays quick."""
    if name in _WHERE:
        return getattr(import_module(f".{_WHERE[name]}", __name__), name)
    raise AttributeError(f"module 'figures' has no attribute '{name}'")
