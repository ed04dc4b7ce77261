"""A plan of practice: which ball comes next, of which club, asked or free, with the tone or without, and what stays.

The rules, each with where it comes from:

- From blocked to random. Mixed clubs look worse while practising and stay better in the laboratory; on the range the
  gain is small, in the young nothing (meta-analysis of 54 studies: Czyz and others, Scientific Reports 14, 15974, 2024;
  first Shea and Morgan, Journal of Experimental Psychology: Human Learning and Memory 5, 1979, from memory).
- The tone fades. Who is told after every try leans on it (guidance hypothesis: Winstein and others, Research Quarterly
  for Exercise and Sport 65(4), 1994; fading: Aoyagi and others, Journal of Physical Therapy Science 31(8), 2019, which
  calls the case for it unsettled), and inside the band it is silent anyway (Sherwood, Perceptual and Motor Skills 66,
  1988, from memory).
- A silent test at the end, and another a week later: what shows while practising is not what was learnt (Schmidt and
  Bjork, Psychological Science 3, 1992, from memory).
- Now and then a ball with a place to go to on purpose: common practice.

How many balls each part has, and a week for the test, are invented. A plan lies in the data folder, one TOML file a
golfer, its name telling nothing of theirs; it is erased and renamed with them.
"""

from __future__ import annotations

import datetime
import hashlib
import tomllib
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
import tomli_w

from groundtone.errors import GroundtoneError, Telling
from groundtone.feel.in_blocks import LEAST_BLOCKS, TURN_EACH
from groundtone.feel.lines import mixed
from groundtone.files import data_folder, write_whole

LATER_DAYS = 7
RETENTION_BALLS = 10
LEAST_BALLS, MOST_BALLS = 16, 200
MOST_CLUBS = 5
# Of the balls: one club after the other, clubs in turn, clubs mixed; what is left is the test.
_PARTS = (0.25, 0.25, 0.25)
# The tone tells of every ball, of each second, of each fourth.
_TONE_EVERY = (1, 2, 4)
# Each so manieth ball of the parts in turn and mixed has a place to go to.
_ASK_EVERY = 5


@dataclass(frozen=True)
class Ball:
    """One ball.

    Attributes
    ----------
    kind : str
        Its block: "drill", "test" or "retention"; "purpose" where a place is asked for.
    club : str
        As the golfer calls it; empty: whichever.
    asked : str
        The place to go to on purpose; empty: free.
    tone : bool
        Whether the tone may tell.
    """

    kind: str
    club: str
    asked: str = ""
    tone: bool = False


@dataclass(frozen=True)
class Plan:
    """A golfer's plan.

    Attributes
    ----------
    clubs : tuple of str
        In the order in which sounds number them.
    drill : str
        Name of the drill; empty: the golfer's own bands.
    made : str
        Day, ISO 8601.
    seen : str
        The latest day on which the plan was looked at: a clock before it has been set back.
    done : int
        Balls hit so far, those of the retention test not counted.
    practised : str
        Day on which the last planned ball was hit; empty before it.
    kept : str
        Day of the retention test; empty before it.
    """

    golfer: str
    clubs: tuple[str, ...]
    drill: str
    balls: int
    seed: int
    made: str
    seen: str = ""
    done: int = 0
    practised: str = ""
    kept: str = ""
    days: int = LATER_DAYS

    def __post_init__(self) -> None:
        if not LEAST_BALLS <= self.balls <= MOST_BALLS:
            raise GroundtoneError(f"a plan has {LEAST_BALLS} to {MOST_BALLS} balls, not {self.balls}")
        if not 1 <= len(self.clubs) <= MOST_CLUBS or len(set(self.clubs)) < len(self.clubs):
            raise GroundtoneError(f"a plan has 1 to {MOST_CLUBS} clubs, each once")
        if not 1 <= self.days <= 60:
            raise GroundtoneError(f"the retention test comes 1 to 60 days later, not {self.days}")
        for day in (self.made, self.seen, self.practised, self.kept):
            if day:
                _day(day)

    @property
    def due(self) -> str:
        """The day of the retention test: so many days after the last planned ball; empty before that."""
        return (_day(self.practised) + datetime.timedelta(self.days)).isoformat() if self.practised else ""

    def all_balls(self) -> tuple[Ball, ...]:
        """All balls but those of the retention test."""
        counts = [round(part * self.balls) for part in _PARTS]
        return (
            *_told(_blocked(self.clubs, counts[0]), _TONE_EVERY[0], ask=False),
            *_told(_in_turn(self.clubs, counts[1]), _TONE_EVERY[1]),
            *_told(_mixed(self.clubs, counts[2], self.seed), _TONE_EVERY[2]),
            *(Ball("test", club) for club in _mixed(self.clubs, self.balls - sum(counts), self.seed + 1)),
        )

    def retention(self) -> tuple[Ball, ...]:
        """The balls of the retention test."""
        return tuple(Ball("retention", club) for club in _mixed(self.clubs, RETENTION_BALLS, self.seed + 2))


@dataclass(frozen=True)
class Next:
    """What the plan says for a day.

    Attributes
    ----------
    balls : tuple of Ball
        To hit now, in this order; empty: nothing of the plan.
    sentence : str
        What it is, or why there is nothing.
    """

    balls: tuple[Ball, ...]
    sentence: str


def today() -> str:
    """The day by the computer's clock."""
    return datetime.date.today().isoformat()


def next_of(plan: Plan, day: str) -> Next:
    """What is to be done on a day.

    A clock that was set back never takes a retention test away: the latest day that was seen counts.
    """
    back = bool(plan.seen) and _day(day) < _day(plan.seen)
    said = f" The computer's clock says {day}, and {plan.seen} has been: set it." if back else ""
    day = max(day, plan.seen)
    if plan.kept:
        return Next((), "This plan is done and what stayed is known: make a new one." + said)
    if plan.practised:
        if day >= plan.due:
            return Next(plan.retention(), f"What has stayed? {RETENTION_BALLS} balls without a tone." + said)
        return Next((), f"All balls of the plan are hit; the retention test is on {plan.due}." + said)
    left = plan.all_balls()[plan.done :]
    return Next(left, f"{len(left)} of {plan.balls} balls are left." + said)


LEAST_TURNS, MOST_TURNS, TURN_BALLS = LEAST_BLOCKS, 12, TURN_EACH
"""Blocks of each kind in turn, and the balls of one: what such a lesson can prove is in docs/evidence.md."""


def in_turn(blocks: int, club: str = "", each: int = TURN_BALLS) -> tuple[Ball, ...]:
    """Short blocks without the tone and with it, to and fro, so that what the tone does can be told from a drift.

    Examples
    --------
    >>> [(ball.kind, ball.tone, n) for ball, n in steps(in_turn(3, each=4))][:3]
    [('baseline', False, 4), ('drill', True, 4), ('baseline', False, 4)]
    """
    if not LEAST_TURNS <= blocks <= MOST_TURNS:
        raise GroundtoneError(f"blocks in turn are {LEAST_TURNS} to {MOST_TURNS} of each kind, not {blocks}")
    one = [Ball("baseline", club)] * each + [Ball("drill", club, tone=True)] * each
    return (*one,) * blocks


def steps(balls: Sequence[Ball]) -> list[tuple[Ball, int]]:
    """Balls that are alike and follow each other as one, with how many they are."""
    out: list[tuple[Ball, int]] = []
    for ball in balls:
        if out and out[-1][0] == ball and not ball.asked:
            out[-1] = ball, out[-1][1] + 1
        else:
            out.append((ball, 1))
    return out


def _told(clubs: Sequence[str], every: int, *, ask: bool = True) -> list[Ball]:
    out = []
    for number, club in enumerate(clubs, start=1):
        if ask and number % _ASK_EVERY == 0:
            out.append(Ball("purpose", club, ("toes", "heels")[number // _ASK_EVERY % 2]))
        else:
            out.append(Ball("drill", club, tone=(number - 1) % every == 0))
    return out


def _blocked(clubs: Sequence[str], n: int) -> list[str]:
    return [clubs[i * len(clubs) // n] for i in range(n)]


def _in_turn(clubs: Sequence[str], n: int) -> list[str]:
    return [clubs[i % len(clubs)] for i in range(n)]


def _mixed(clubs: Sequence[str], n: int, seed: int) -> list[str]:
    spare = np.random.default_rng(seed).permutation(len(clubs)).tolist()
    each = [club for club in clubs for _ in range(n // len(clubs))]
    return mixed(each + [clubs[i] for i in spare[: n - len(each)]], seed)


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise GroundtoneError(f"{text!r} is no day: write it as 2026-03-14") from None


def path_of(golfer: str, folder: Path | None = None) -> Path:
    """The file of a golfer's plan, there or not."""
    key = hashlib.sha256(golfer.encode("utf-8", "surrogatepass")).hexdigest()[:24]
    return (folder or data_folder()) / "plans" / f"{key}.toml"


def read_plan(golfer: str, folder: Path | None = None) -> Plan | None:
    """A golfer's plan; None where there is none.

    Raises
    ------
    GroundtoneError
        The file cannot be understood.
    """
    path = path_of(golfer, folder)
    try:
        table = tomllib.loads(path.read_text("utf-8"))
        return Plan(**{**table, "clubs": tuple(table["clubs"])})
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, KeyError, TypeError, GroundtoneError) as error:
        raise GroundtoneError(
            f"the plan of {golfer!r} in {path} cannot be used ({error}): 'groundtone plan --new' makes another"
        ) from error


def write_plan(plan: Plan, folder: Path | None = None) -> None:
    """Keeps a plan in place of the one before.

    Raises
    ------
    GroundtoneError
        The file cannot be written.
    """
    path = path_of(plan.golfer, folder)
    with Telling(GroundtoneError, f"the plan cannot be written to {path}", "check folder and disk"):
        write_whole(path, tomli_w.dumps({**asdict(plan), "clubs": list(plan.clubs)}))


def forget_plan(golfer: str, folder: Path | None = None) -> None:
    """Removes a golfer's plan, where there is one.

    Raises
    ------
    GroundtoneError
        The file cannot be removed.
    """
    path = path_of(golfer, folder)
    with Telling(GroundtoneError, f"{path} cannot be removed", "close what uses it and try again"):
        path.unlink(missing_ok=True)


def hand_on_plan(old: str, new: str, folder: Path | None = None) -> None:
    """Gives a plan to another code name; where that one has a plan already, the old one goes."""
    if path_of(old, folder).exists() and not path_of(new, folder).exists():
        plan = read_plan(old, folder)
        assert plan is not None
        write_plan(replace(plan, golfer=new), folder)
    forget_plan(old, folder)
