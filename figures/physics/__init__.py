"""What the water does: steady flow, heat and operation of any plant, in plain numpy."""

from .batch import Flows, sweep
from .batch_heat import Heats, heats
from .network import Flow, Prepared
from .solution import Solution, solve
from .state import NoSolution, State
from .water import Water, water

__all__ = ["Flow", "Flows", "Heats", "NoSolution", "Prepared", "Solution", "State", "Water", "heats", "solve", "sweep",
           "water"]
