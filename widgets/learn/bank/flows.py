"""Questions on two loops whose flows differ: mixed temperatures, a pump sped up, a return judged."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import pairwise

from ..items import Hint, Item, Option
from .case import Draw, NoCase
from .hints import HINTS
from .mixing import Mixing, mixing

TOLERANCE_K = 0.5
"""A temperature this near to the key counts as the key; wrong ones stand at least four times as far off."""
ROUNDED_K = 0.2
"""As far as the figures in the text may lead from the solved key, for they are rounded."""
COLD_C, WARM_C = 54.0, 57.0
"""Return of a boiler not built to condense: too cold below the one, safe above the other (about 54 to 60 °C,
common practice; the maker's figure rules)."""
TRIES = 60


def _item(d: Draw, ident: str, objective: str, kind: str, text: str, options: list[Option], key: str, because: str,
          mix: Mixing, lit: tuple[str, ...], drawn: bool) -> Item:
    first, second = HINTS[objective]
    ladder = (Hint(first), Hint(second), Hint("The two pumps, and the place asked about, are lit up.", mix.pumps, lit))
    return Item(ident, kind, kind, objective, text, tuple(options), (key,), because, ladder, mix.case.plant, mix.pumps, lit,
                difficulty=d.difficulty, flows=mix.flows if drawn else {})


def _said(mix: Mixing) -> str:
    more, less = ("boiler", "system") if mix.warmed else ("system", "boiler")
    return (f"{mix.pumps[0]} moves the boiler loop, {mix.boiler_lps:.3f} L/s, and {mix.pumps[1]} the system loop, "
            f"{mix.system_lps:.3f} L/s: the {more} loop carries more than the {less} loop.")


def temperature(objective: str, d: Draw, ident: str) -> Item:
    """F3, F5: the temperature in one pipe. The figures are the same whichever pump is the boilers'."""
    wanted = d.chance.choice(("return", "warmed", "diluted", "supply"))
    for _ in range(TRIES):
        warmed = {"warmed": True, "diluted": False}.get(wanted, d.chance.random() < 0.5)
        mix = mixing(d, warmed)
        place = {"warmed": "boiler back", "diluted": "system out",
                 "supply": "system out" if warmed else "boiler out",
                 "return": "system back" if warmed else "boiler back"}[wanted]
        less, more = sorted((round(mix.boiler_lps, 3), round(mix.system_lps, 3)))
        hot, cold = round(mix.boiler_c, 1), round(mix.system_back_c, 1)
        told = {"return": cold, "warmed": (less * cold + (more - less) * hot) / more,
                "diluted": (less * hot + (more - less) * cold) / more, "supply": hot}
        solved = {"boiler back": mix.boiler_back_c, "system out": mix.system_c, "boiler out": mix.boiler_c,
                  "system back": mix.system_back_c}[place]
        agree = abs(told[wanted] - solved) < ROUNDED_K
        told[wanted] = solved
        figures = sorted(told.values())
        if min(b - a for a, b in pairwise(figures)) < 4 * TOLERANCE_K or not agree:
            continue
        mistakes = {"supply": 6, "return": 5, "warmed": 7, "diluted": 5}
        options = [Option(name, f"{figure:.1f} °C", None if name == wanted else mistakes[name],
                          "" if name == wanted else "which pump moves which loop, and which way does the difference go?")
                   for name, figure in told.items()]
        pumps = list(zip(mix.pumps, (mix.boiler_lps, mix.system_lps)))
        d.chance.shuffle(pumps)
        flows = " and ".join(f"{tag} moves {lps:.3f} L/s" for tag, lps in pumps)
        text = (f"{flows[0].upper()}{flows[1:]}. The boiler's water leaves it at {hot:.1f} °C, the building's comes back at "
                f"{cold:.1f} °C, and nothing is lost on the way. How warm is the water in the pipe {mix.pipes[place]}?")
        because = (f"{_said(mix)} {_rule(mix)} So {mix.pipes[place]} has {solved:.1f} °C.")
        return _item(d, ident, objective, "temperature", text, options, wanted, because, mix, (mix.pipes[place],), False)
    raise NoCase("no figures that differ enough")


def _rule(mix: Mixing) -> str:
    if mix.warmed:
        return "The surplus turns back to the boiler: its return is warmed, and the supply is as hot as the boiler gives it."
    return "What is short comes from the return: the supply is diluted, and the boiler gets the return as it is."


CASES = {("boiler", False): ("hotter", "The supply to the building gets hotter", 7),
         ("boiler", True): ("warmer", "The boiler's return gets warmer, the supply does not", 7),
         ("system", False): ("cooler", "The supply to the building gets cooler", 6),
         ("system", True): ("colder", "The boiler's return gets colder, the supply does not", 5)}
"""Which pump is sped up, and whether the boiler loop carries more: key, label, misconception."""
REASONS = {"hotter": "it moves the boiler loop, which carries less than the system loop",
           "warmer": "it moves the boiler loop, which carries more than the system loop",
           "cooler": "it moves the system loop, which carries more than the boiler loop",
           "colder": "it moves the system loop, which carries less than the boiler loop"}


def _sped(d: Draw) -> tuple[Mixing, str, str]:
    """A plant, the pump that is sped up, and the key: each case as likely as any."""
    side, warmed = d.chance.choice(list(CASES))
    mix = mixing(d, warmed)
    return mix, mix.pumps[0 if side == "boiler" else 1], CASES[side, mix.warmed][0]


def sped_up(d: Draw, ident: str) -> Item:
    """F3: what changes when one pump moves a little more."""
    mix, pump, key = _sped(d)
    options = [Option(name, label, None if name == key else mistake,
                      "" if name == key else f"that would be right if {REASONS[name]}.")
               for name, label, mistake in CASES.values()]
    text = (f"The flows stand on the drawing. {pump} is made to move a little more; the building's return stays as warm as it "
            "is. What changes first?")
    return _item(d, ident, "F3", "name", text, options, key, f"{_said(mix)} {_rule(mix)} Here {REASONS[key]}.", mix,
                 tuple(mix.pipes.values()), True)


def sped_up_true(d: Draw, ident: str) -> Item:
    """F3: the same, true or false with the reason."""
    mix, pump, key = _sped(d)
    name, label, _ = d.chance.choice(list(CASES.values()))
    options = [Option(other, f"{'True' if other == name else 'False'}: {REASONS[other]}", None if other == key else mistake,
                      "" if other == key else f"it is not so that {REASONS[other]}.") for other, _, mistake in CASES.values()]
    text = (f"The flows stand on the drawing. {pump} is made to move a little more; the building's return stays as warm as it "
            f"is. Somebody says: “{label}”. Is that true or false, and why?")
    return _item(d, ident, "F3", "true or false", text, options, key, f"{_said(mix)} {_rule(mix)}", mix,
                 tuple(mix.pipes.values()), True)


JUDGED = {(False, False): ("harm", "Too cold: this boiler must not condense", 18,
                           "cold water comes back, and the boiler is not built to condense"),
          (True, False): ("safe", "Warm enough: this boiler stays dry", 18,
                          "warm water comes back, and the boiler is not built to condense"),
          (False, True): ("good", "Cold, and good: this boiler condenses", 18,
                          "cold water comes back, and the boiler is built to condense"),
          (True, True): ("waste", "Too warm: this boiler hardly condenses", 18,
                         "warm water comes back, and the boiler is built to condense")}
"""Whether the boiler's return is warm, and whether it is built to condense: key, label, misconception, reason."""


def _judged(d: Draw) -> tuple[Mixing, str]:
    warm, condensing = d.chance.choice(list(JUDGED))
    for _ in range(TRIES):
        mix = mixing(d, warm, condensing=condensing)
        if mix.system_back_c < COLD_C - 2.0 and (mix.boiler_back_c > WARM_C) == warm \
                and (mix.boiler_back_c < COLD_C or warm):
            return mix, JUDGED[warm, condensing][0]
    raise NoCase("F5: no return so clearly cold or warm")


def _return_text(mix: Mixing) -> str:
    return (f"The flows stand on the drawing, and beside it which boilers are built to condense. The boiler's water leaves it at "
            f"{mix.boiler_c:.0f} °C, the building's comes back at {mix.system_back_c:.0f} °C.")


def _return_why(mix: Mixing) -> str:
    return (f"{_said(mix)} {_rule(mix)} The boiler gets {mix.boiler_back_c:.0f} °C back; flue gas condenses below about "
            f"{COLD_C:.0f} °C (the maker's figure rules).")


def judged(d: Draw, ident: str) -> Item:
    """F5: is the return that the boiler gets good for it?"""
    mix, key = _judged(d)
    options = [Option(name, label, None if name == key else mistake,
                      "" if name == key else f"that would be right if {reason}.")
               for name, label, mistake, reason in JUDGED.values()]
    return _item(d, ident, "F5", "name", f"{_return_text(mix)} How do you judge the water that the boiler gets back?", options,
                 key, _return_why(mix), mix, (mix.pipes["boiler back"],), True)


def judged_true(d: Draw, ident: str) -> Item:
    """F5: the same, true or false with the reason."""
    mix, key = _judged(d)
    name, label, _, _ = d.chance.choice(list(JUDGED.values()))
    options = [Option(other, f"{'True' if other == name else 'False'}: {reason}", None if other == key else mistake,
                      "" if other == key else f"it is not so that {reason}.") for other, _, mistake, reason in JUDGED.values()]
    text = f"{_return_text(mix)} Somebody says of the boiler's return: “{label}”. Is that true or false, and why?"
    return _item(d, ident, "F5", "true or false", text, options, key, _return_why(mix), mix, (mix.pipes["boiler back"],), True)


FLOWS: dict[tuple[str, str], Callable[[Draw, str], Item]] = {
    ("F3", "temperature"): partial(temperature, "F3"), ("F5", "temperature"): partial(temperature, "F5"),
    ("F3", "name"): sped_up, ("F3", "true or false"): sped_up_true,
    ("F5", "name"): judged, ("F5", "true or false"): judged_true}
"""Makers of questions about flows, by objective and kind."""
