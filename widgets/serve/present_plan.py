"""Plans for teaching with Loopbook, and the tests before and after: which lesson, for how long, and what to do in it.

The minutes of a lesson are those of its notebook; a plan takes a share of them.  Lessons that are not there are left
out of a plan, and their time is free.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

BEFORE, AFTER = 901, 902
"""The seeds of the two forms. They are as hard as one another and share no plant."""
QUESTIONS = 10


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch of a plan. begins: minutes from the start; of: what the whole lesson takes, 0 where it is no lesson."""

    begins: int
    minutes: int
    what: str
    how: str
    lesson: str = ""
    of: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    """name: in addresses.  minutes: in all.  left_out: what there was no time for."""

    name: str
    title: str
    aim: str
    blocks: tuple[Block, ...]
    left_out: str

    @property
    def minutes(self) -> int:
        """In all."""
        return sum(block.minutes for block in self.blocks)


@dataclass(frozen=True, slots=True)
class Form:
    """One of the two tests: how to print it, and what to say about it."""

    title: str
    command: str
    says: str


_Line = tuple[str, float | int, str, str]
"""A lesson by the first letters of its name and the share of its minutes; or '' and minutes; what; how."""
_NINETY: tuple[_Line, ...] = (
    ("", 10, "Test before", "On paper or on screen, alone, no help. Collect it; say nothing about the answers."),
    ("01-", 0.5, "Start here", "The guess, the parts, one reading said aloud together."),
    ("07-", 0.3, "Where two loops meet", "The guess and the three cases; let somebody point at the common pipe."),
    ("12-", 0.5, "Which configuration?", "The guess, then arrangements 2, 3 and 5 with one boiler. Then pairs: one reads, "
     "one points."),
    ("13-", 0.3, "Set wrongly: the damage", "One wrong setting only: a DHW call in summer."),
    ("", 5, "What we saw", "Each says one thing that they will look for in their next boiler room."),
    ("", 10, "Test after", "The other form. Hand back both, and go through what was answered wrongly."),
)
_DAY: tuple[_Line, ...] = (
    ("", 15, "Test before", "On paper or on screen, alone, no help."),
    ("01-", 0.8, "Start here", "All but the exercise, which is for pairs."),
    ("02-", 0.35, "What is in the room", "Parts and tags; who has seen which?"),
    ("03-", 0.5, "Follow the water", "Each pair traces one load on paper."),
    ("05-", 0.6, "What the control does", "Who pumps, who stops: say it before it is shown."),
    ("", 15, "Break", ""),
    ("06-", 0.4, "One loop, and what starves it", "The guess, the two bypasses, one exercise."),
    ("07-", 0.7, "Where two loops meet", "All three cases; side by side with the bypass."),
    ("", 45, "Midday", ""),
    ("09-", 0.5, "A tank on the system loop", "Trace the coil's two pipes, every time."),
    ("10-", 0.6, "Tank on the boiler loop", "Side by side with the lesson before: two tees have moved."),
    ("12-", 0.8, "Which configuration?", "All five, then each pair draws a plant for another pair to read."),
    ("", 15, "Break", ""),
    ("13-", 0.6, "Set wrongly: the damage", "Foretell the damage, then look."),
    ("14-", 0.5, "What is wrong here?", "Two plants in pairs, one together."),
    ("", 15, "Test after", "The other form."),
    ("", 10, "Both tests handed back", "What was answered wrongly, on the drawing."),
)


def chosen_plans(minutes: Mapping[str, int]) -> tuple[Plan, ...]:
    """The plan for 90 minutes and the one for a day. minutes: of each lesson that is there, by its name.

    >>> short, day = chosen_plans({"01-start-here": 30, "12-which-configuration": 45})
    >>> short.minutes, [block.what for block in short.blocks if block.lesson]
    (62, ['Start here', 'Which configuration?'])
    """
    return (
        _plan("90-minutes", "90 minutes", "Everybody can say the control configuration of a small plant, and give the reason.",
              _NINETY, minutes),
        _plan("one-day", "One day", "Everybody can read a plant with several boilers aloud, say its configuration with priority, "
              "and foretell what a wrong setting does.", _DAY, minutes),
    )


def _plan(name: str, title: str, aim: str, lines: tuple[_Line, ...], minutes: Mapping[str, int]) -> Plan:
    blocks: list[Block] = []
    at = 0
    for start, share, what, how in lines:
        if start:
            lesson = next((one for one in minutes if one.startswith(start)), "")
            if not lesson:
                continue
            takes = max(5, round(minutes[lesson] * share))
            blocks.append(Block(at, takes, what, how, lesson, minutes[lesson]))
        else:
            takes = int(share)
            blocks.append(Block(at, takes, what, how))
        at += takes
    used = {block.lesson for block in blocks}
    rest = len([one for one in minutes if one not in used])
    left = f"{rest} lessons are left for afterwards: each is made to be worked through alone." if rest else ""
    return Plan(name, title, aim, tuple(blocks), left)


def forms() -> tuple[Form, ...]:
    """The test before and the one after: two forms of the same bank, fixed, as hard as one another.

    >>> [form.title for form in forms()]
    ['Before', 'After']
    """
    return tuple(Form(title, f"loopbook paper --seed {seed} --questions {QUESTIONS} --copies 20 --out {folder}",
                      f"prints a paper for each of twenty, with one key; `loopbook mark` marks them. On screen: "
                      f"`Sitting(seed={seed})` in a notebook, or `loopbook answers` for the room.".replace("`", ""))
                 for title, seed, folder in (("Before", BEFORE, "test-before"), ("After", AFTER, "test-after")))
