"""The mistakes people make, why they make them, and the picture that puts each right.

Gathered from people who teach the trade (common practice, no source).  Wrong options name one of these, so
that the feedback speaks to the mistake and not only to the miss.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Misconception:
    """One mistake: what people say, why they say it, and what shows them that it is not so.

    hint: one sentence to a learner who holds it, true of any plant.  lesson: the number of the lesson that shows its picture.
    """

    number: int
    says: str
    why: str
    correct_with: str
    hint: str
    lesson: int


_ROWS: tuple[tuple[str, str, str, str, int], ...] = (
    ("a tank beside the boiler is on the boiler loop", "it stands near", "trace the coil's two tees",
     "Where the tank stands tells nothing; the two tees of its coil do.", 10),
    ("a tank with its own pump is on the boiler loop", "it has a pump", "the same pump on either side",
     "A tank's own pump can stand on either side of the separation; it does not tell the loop.", 9),
    ("every short bypass is a separation", "it looks alike", "ask whose pump moves water through it",
     "A bypass looks like a common pipe; ask whose pump moves water through it.", 7),
    ("four pipe diameters is about looks", "it was learned by heart", "the pressure over 4 D and over 40 D",
     "The tees stand close so that there is next to no pressure between them.", 7),
    ("the common pipe flows one way", "one arrow was drawn", "three cases of boiler flow and system flow",
     "The common pipe flows either way, or not at all: it carries the difference of the two loops.", 7),
    ("the boiler's outlet temperature is what the building gets", "no idea of mixing",
     "80 °C in, 75 °C out: the return that joins it",
     "Where the system takes more than the boilers give, return water mixes in and cools the supply.", 7),
    ("a bigger boiler pump makes the supply hotter", "more is better",
     "the supply stops rising while the return warms",
     "Once the boiler loop carries more than the system takes, more flow only warms the boiler's return.", 7),
    ("the separator pushes water", "it looks like a vessel that works", "the same plant with the pumps off",
     "A separator moves nothing by itself; only pumps do.", 7),
    ("a valve in the common pipe balances it", "it looks tidy", "the flows with that valve shut",
     "The common pipe must stay open: anything in it makes one loop push the other.", 7),
    ("a pump that is off blocks the water", "it looks shut", "ghost flow through it",
     "Water passes a pump that stands still; only a valve closes a branch.", 9),
    ("a check valve always stops flow through a tank", "it works elsewhere",
     "the tank beside the system pump's loads",
     "Another pump can push the branch forwards, and forwards a check valve opens.", 9),
    ("the expansion tank may join anywhere", "it only holds water", "suction pressure at 40 and at 100 kPa",
     "Where the expansion tank joins, a pump cannot change the pressure: so join it at the pump's inlet.", 4),
    ("a bypass anywhere saves the pump", "one word for two jobs", "both places: boilers shut, zones shut",
     "One bypass serves when the boilers are shut, another when the zones are; they stand in two places.", 11),
    ("direct return is a fault", "it is a slogan", "flows computed on two header sizes",
     "Direct return is a question of balance, not a fault by itself.", 11),
    ("reverse return makes the flows equal", "it is a slogan", "the middle branches get least",
     "Reverse return evens the flows out; it does not make them equal.", 11),
    ("DHW priority is just faster", "no limit was seen", "the room after two hours of draw",
     "Priority takes the heat from the building; it needs a time limit, or the building can freeze.", 5),
    ("turn the tank down to stop scalds", "it saves energy", "growth against burns; the mixing valve",
     "A cool store lets bacteria grow; a thermostatic mixing valve guards the taps instead.", 13),
    ("a low return is always good, or always bad", "one kind of boiler was learned",
     "the dew point, and both kinds of boiler",
     "A cold return suits a condensing boiler and corrodes one that is not built for it.", 8),
    ("the lead is the nearest boiler", "the layout", "the same plant with the mark moved",
     "The lead is the boiler that is marked to run the sequence, wherever it stands.", 11),
    ("no tank is drawn, so there is no DHW", "a plate exchanger, or a tank in another room",
     "the coil found out on the system loop",
     "Look for whatever heats DHW: a coil or a plate exchanger can lie far from the boilers.", 8),
    ("it heats, so it is set right", "winter hides it", "a DHW call in summer",
     "A wrong setting can heat the building all winter and fail on the first DHW call in summer.", 13),
    ("power off means valve shut", "like a light", "the valve sprung open, the boiler still hot",
     "Where a motorised valve goes without power is its own choice: commonly it springs open.", 6),
)

MISCONCEPTIONS: Mapping[int, Misconception] = MappingProxyType(
    {number: Misconception(number, *row) for number, row in enumerate(_ROWS, 1)})
"""Every misconception by its number, from 1 on.

>>> MISCONCEPTIONS[19].says, MISCONCEPTIONS[19].lesson
('the lead is the nearest boiler', 11)
"""
