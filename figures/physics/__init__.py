"""What the water does: steady flow, heat and operation of any plant, in plain numpy."""

from .network import Flow, Prepared
from .solution import Solution, solve
from .state import NoSolution, State
from .water import Water, water

__all__ = ["Flow", "NoSolution", "Prepared", "Solution", "State", "Water", "solve", "water"]
