"""A show of answers: one question at a time, one answer a device, the count of them, and who is held off.

Nothing here knows of a network or a screen, and nothing is written to disk.  A device is a random number that goes
with the session; no name, no account and no address is kept with an answer.
"""

from __future__ import annotations

import hmac
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from .answers_questions import Question

State = Literal["waiting", "open", "closed", "key"]
"""No question yet; may be answered; may not any more; the key is shown."""
MOST_DEVICES = 400
MOST_QUESTIONS = 200
MOST_BY_HAND = 999


class NotNow(Exception):
    """What was asked for cannot be done now. The message is one sentence for who asked."""


class Bucket:
    """Lets `burst` things happen at once and `per_s` a second after that.

    >>> bucket = Bucket(burst=2, per_s=1.0, now=0.0)
    >>> bucket.take(0.0), bucket.take(0.0), bucket.take(0.0), bucket.take(1.0)
    (True, True, False, True)
    """

    __slots__ = ("at", "burst", "left", "per_s")

    def __init__(self, burst: float, per_s: float, now: float) -> None:
        self.burst, self.per_s, self.left, self.at = burst, per_s, burst, now

    def take(self, now: float) -> bool:
        """One more; False where it has to wait."""
        self.left = min(self.burst, self.left + max(0.0, now - self.at) * self.per_s)
        self.at = now
        if self.left < 1.0:
            return False
        self.left -= 1.0
        return True


@dataclass(frozen=True, slots=True)
class Limits:
    """How much one address, one device and all together may ask for: at once, and a second after that.

    of_address: requests.  of_all: requests.  of_device: answers.  tries: of wrong codes from an address.
    devices: how many may join from one address; a network that shows a whole class under one address needs more.
    """

    of_address: tuple[float, float] = (40, 4.0)
    of_all: tuple[float, float] = (1200, 300.0)
    of_device: tuple[float, float] = (10, 0.5)
    tries: tuple[float, float] = (8, 0.05)
    devices: int = 4

    @classmethod
    def shared(cls) -> Limits:
        """For a network in which all devices come from one address."""
        return cls(of_address=(600, 150.0), tries=(60, 1.0), devices=MOST_DEVICES)


@dataclass
class Round:
    """One question and what was answered: a choice by device, and a count by hand for each option."""

    question: Question
    state: State = "open"
    answers: dict[str, int] = field(default_factory=dict)
    by_hand: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.by_hand = self.by_hand or [0] * len(self.question.options)

    @property
    def counts(self) -> list[int]:
        """How many gave each option, devices and hands together."""
        found = list(self.by_hand)
        for choice in self.answers.values():
            found[choice] += 1
        return found


@dataclass
class _Seen:
    """What is known of one address for as long as it is seen: how fast it asks, and how many devices joined from it."""

    asks: Bucket
    tries: Bucket
    devices: int = 0
    at: float = 0.0


class Session:
    """One show: a code for the learners, a secret for the instructor, and rounds.

    code: six figures.  limits: how much is let through.  clock: seconds that never go back.

    >>> from widgets.serve.answers_questions import typed
    >>> session = Session()
    >>> device = session.join(session.code, "10.0.0.7")
    >>> session.put(typed("Does a pump that is off block the water?", ["Yes", "No"], right=2))
    >>> session.answer(device, 1, 0)
    >>> session.answer(device, 1, 1)      # changed
    >>> session.now.counts
    [0, 1]
    """

    def __init__(self, limits: Limits | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self.limits = limits or Limits()
        self.clock = clock
        self.code = f"{secrets.randbelow(10**6):06d}"
        self.secret = secrets.token_urlsafe(24)
        self.rounds: list[Round] = []
        self.bars = True
        self.held_off = 0
        self.changed = 0      # counts up with everything that a page would show otherwise
        self._signing = secrets.token_bytes(32)
        self._devices: dict[str, Bucket] = {}
        self._seen: dict[str, _Seen] = {}
        self._all = Bucket(*self.limits.of_all, self.clock())

    # -- who may ask ------------------------------------------------------------------------------------------

    def admit(self, address: str) -> bool:
        """One request more from an address; False, and it is counted, where it or all together ask too fast."""
        now = self.clock()
        if self._address(address, now).asks.take(now) and self._all.take(now):
            return True
        self.held_off += 1
        return False

    def _address(self, address: str, now: float) -> _Seen:
        seen = self._seen.get(address)
        if seen is None:
            if len(self._seen) >= 4 * MOST_DEVICES:      # those that never joined and were not seen for longest make room
                idle = sorted((one for one in self._seen if not self._seen[one].devices), key=lambda one: self._seen[one].at)
                for one in idle[:MOST_DEVICES]:
                    del self._seen[one]
            seen = self._seen[address] = _Seen(Bucket(*self.limits.of_address, now), Bucket(*self.limits.tries, now))
        seen.at = now
        return seen

    def join(self, code: str, address: str) -> str:
        """A new device: its random name. Raises NotNow for a wrong code, or where no more may join."""
        now = self.clock()
        seen = self._address(address, now)
        if not seen.tries.take(now):
            self.held_off += 1
            raise NotNow("Too many tries from here. Wait a minute, then try again.")
        given = "".join(code.split())
        if not hmac.compare_digest(given.encode(), self.code.encode()):
            raise NotNow("That is not the code. It has six figures and stands on the big screen.")
        if seen.devices >= self.limits.devices or len(self._devices) >= MOST_DEVICES:
            self.held_off += 1
            raise NotNow("No more devices can join from here. Tell your instructor.")
        seen.devices += 1
        device = secrets.token_urlsafe(18)
        self._devices[device] = Bucket(*self.limits.of_device, now)
        self.changed += 1
        return device

    def knows(self, device: str) -> bool:
        """The device has joined this session."""
        return device in self._devices

    @property
    def joined(self) -> int:
        """How many devices have joined."""
        return len(self._devices)

    def token(self, who: str) -> str:
        """What a form of this device's (or the instructor's, by the secret) must bring back; nobody else can know it."""
        return hmac.new(self._signing, who.encode(), "sha256").hexdigest()[:32]

    def is_token(self, who: str, given: str) -> bool:
        """The form was ours."""
        return hmac.compare_digest(self.token(who).encode(), given.encode())

    def is_secret(self, given: str) -> bool:
        """Who asks is the instructor."""
        return hmac.compare_digest(self.secret.encode(), given.encode())

    # -- questions and answers --------------------------------------------------------------------------------

    @property
    def now(self) -> Round:
        """The round that runs. Raises NotNow before the first question."""
        if not self.rounds:
            raise NotNow("There is no question yet.")
        return self.rounds[-1]

    @property
    def state(self) -> State:
        """Where the show stands."""
        return self.rounds[-1].state if self.rounds else "waiting"

    def put(self, question: Question) -> None:
        """The next question; the one before is closed for good."""
        if len(self.rounds) >= MOST_QUESTIONS:
            raise NotNow(f"{MOST_QUESTIONS} questions were asked; start anew for more.")
        self.rounds.append(Round(question))
        self.changed += 1

    def answer(self, device: str, number: int, choice: int) -> None:
        """A device's answer to question `number` (from 1): option `choice` (from 0), in place of its earlier one.

        Raises NotNow where that question is not open, there is no such option, or the device answers too fast.
        """
        if device not in self._devices:
            raise NotNow("This device has not joined. Type the code again.")
        if not self._devices[device].take(self.clock()):
            self.held_off += 1
            raise NotNow("Too fast. Wait a moment, then choose again.")
        if number != len(self.rounds) or self.state != "open":
            raise NotNow("That question is closed.")
        if not 0 <= choice < len(self.now.question.options):
            raise NotNow("There is no such answer.")
        if self.now.answers.get(device) != choice:
            self.now.answers[device] = choice
            self.changed += 1

    def by_hand(self, counts: list[int]) -> None:
        """What the instructor counted in the room, for each option; in place of an earlier count. Raises NotNow."""
        if len(counts) != len(self.now.question.options) or not all(0 <= n <= MOST_BY_HAND for n in counts):
            raise NotNow(f"Give a count from 0 to {MOST_BY_HAND} for each answer.")
        self.now.by_hand = list(counts)
        self.changed += 1

    def go(self, to: Literal["open", "closed", "key"]) -> None:
        """Close the question, open it again, or show its key. Raises NotNow where there is none."""
        if to == "open" and self.now.state == "key":
            raise NotNow("The key was shown; this question cannot be opened again.")
        if to == "key" and self.now.question.right is None:
            raise NotNow("This question has no key.")
        self.now.state = to
        self.changed += 1

    def show_bars(self, shown: bool) -> None:
        """Whether the bars grow for all to see while a question is open."""
        self.bars = shown
        self.changed += 1

    def kept(self) -> list[dict[str, object]]:
        """What may be kept of the show: questions and counts, and nothing of any device."""
        return [{"question": one.question.text, "options": [o.label for o in one.question.options], "counts": one.counts,
                 "by_hand": list(one.by_hand), "right": one.question.right} for one in self.rounds]
