"""The course of a procedure: which step is in hand, which comes next, which was passed over and why."""

from __future__ import annotations

from dataclasses import dataclass

from procedures.events import Answer, Input, StepChanged, StepState, Supply
from procedures.procedure import Procedure
from procedures.steps.before_work import BeforeWork
from procedures.steps.cautioned import Cautioned
from procedures.steps.sitting import Sitting
from procedures.steps.step import Conduct, Ending, Prompt, Requirement, StepFields
from procedures.view import StepLine

MOST_STEPS_AT_ONCE = 1000  # more steps than that without any fact between them would be a circle


@dataclass
class _Place:
    """One line of the procedure with where it stands."""

    line: StepFields
    state: StepState = StepState.WAITING
    reason: str = ""


class Course:
    """Carries a procedure's steps out in their order, as far as their conditions call for them."""

    def __init__(self, procedure: Procedure, sitting: Sitting, acknowledged: bool, read: str = "") -> None:
        before = [BeforeWork.line(acknowledged or bool(read), read)] if procedure.needs_hands else []
        self._places = [_Place(line) for line in (*before, *procedure.step)]
        self._sitting = sitting
        self._endings: dict[str, Ending] = {}
        self._at = -1
        self._conduct: Conduct | None = None
        self._back_after_warming: int | None = None
        self.visit = 0
        self.finished = False

    # --- what the run asks --------------------------------------------------------------------------

    @property
    def step(self) -> str | None:
        """The id of the step in hand; None before the first and after the last."""
        return self._places[self._at].line.id if self._conduct else None

    @property
    def lacks_power(self) -> bool:
        """Whether the step in hand makes no sense because the amplifier is off."""
        off = self._sitting.supply is Supply.OFF
        return self._conduct is not None and self._conduct.needs_power and off

    def lines(self) -> tuple[StepLine, ...]:
        """The step list."""
        return tuple(StepLine(p.line.id, p.line.title, p.state, p.reason) for p in self._places)

    def prompt(self) -> Prompt:
        """What the step in hand wants."""
        return self._conduct.prompt() if self._conduct else Prompt("")

    def deadline_s(self) -> float | None:
        """When the step in hand wants to be looked at."""
        return self._conduct.deadline_s() if self._conduct and not self.lacks_power else None

    # --- what the run tells -------------------------------------------------------------------------

    def feed(self, fact: Input) -> None:
        """Take a fact; steps begin and end."""
        if self.finished:
            return
        if self._conduct is None:
            self._open(0)
        elif self.lacks_power:
            self._conduct.lose_power()
        else:
            self._conduct.feed(fact)
        self._take_up()
        self._go_on()

    def answer(self, answer: Answer) -> None:
        """Take the answer to a question of the step in hand."""
        if self._conduct is not None:
            self._conduct.answer(answer.question.rsplit("/", 1)[-1], answer)
            self._take_up()

    def stop(self, reason: str) -> None:
        """Give up the step in hand and all that would follow. Nothing changes once it is finished."""
        if self.finished:
            return
        if self._conduct is not None:
            self._close(self._conduct, Ending("stopped", reason, StepState.STOPPED))
        self.finished = True

    def power_returned(self) -> None:
        """The amplifier was off and is on again: warm up before a step that needs it warm."""
        if self._conduct is None or not self._conduct.needs_warmth:
            return
        warm_up = next(
            (
                n
                for n in range(self._at - 1, -1, -1)
                if getattr(self._places[n].line, "kind", "") == "warm-up"
            ),
            None,
        )
        if warm_up is None:
            return
        back = self._at
        reason = "the power was away: it warms up again first"
        self._close(self._conduct, Ending("left", reason, StepState.WAITING))
        self._open(warm_up)
        self._back_after_warming = back

    # --- inside -------------------------------------------------------------------------------------

    def _go_on(self) -> None:
        for _ in range(MOST_STEPS_AT_ONCE):
            conduct = self._conduct
            if conduct is None or conduct.ending is None:
                return
            back_to = conduct.back_to
            self._close(conduct, conduct.ending)
            if back_to is not None:
                self._open(self._go_to(back_to))
            else:
                self._open(self._next())
        raise RuntimeError("the steps of this procedure go round in a circle")

    def _next(self) -> int:
        back, self._back_after_warming = self._back_after_warming, None
        if back is not None and self._endings[self._places[self._at].line.id].outcome != "too high":
            return back
        return self._at + 1

    def _go_to(self, step: str) -> int:
        """Where a step stands. Forwards, what lies between is passed over.

        Backwards, how the steps of a round ended is forgotten, so that the next round is judged by itself.
        """
        first = next(n for n, place in enumerate(self._places) if place.line.id == step)
        for place in self._places[self._at + 1 : first]:
            self._change(place, StepState.SKIPPED, f'"{self._places[self._at].line.title}" goes past it')
        for place in self._places[first : self._at]:
            self._endings.pop(place.line.id, None)
            self._sitting.outcomes.pop(place.line.id, None)
            self._change(place, StepState.WAITING, "once more")
        return first

    def _open(self, at: int) -> None:
        """Open the step at a place, or the next one whose conditions call for it."""
        for n in range(at, len(self._places)):
            place = self._places[n]
            unfit = place.line.unfit(self._sitting)
            if not unfit and place.line.wanted(self._endings, self._sitting.findings):
                self._at = n
                self.visit += 1
                self._sitting.step = place.line.id
                self._change(place, StepState.ACTIVE)
                self._conduct = Cautioned(place.line, self._sitting)
                self._take_up()
                return
            self._change(place, StepState.SKIPPED, unfit or self._why_not(place.line))
        self._conduct = None
        self.finished = True

    def _take_up(self) -> None:
        """From the cautions of a situation to the step itself, once they are acknowledged."""
        if isinstance(self._conduct, Cautioned) and self._conduct.acknowledged:
            self._conduct = self._places[self._at].line.open(self._sitting)
            self._conduct.begin()

    def _close(self, conduct: Conduct, ending: Ending) -> None:
        conduct.leave()
        place = self._places[self._at]
        if ending.state is not StepState.WAITING:
            self._endings[place.line.id] = ending
            self._sitting.outcomes[place.line.id] = ending.outcome
        self._change(place, ending.state, ending.reason or ending.outcome)
        self._conduct = None

    def _change(self, place: _Place, state: StepState, reason: str = "") -> None:
        place.state, place.reason = state, reason
        self._sitting.outbox.append(StepChanged(self._sitting.at_s, place.line.id, state, reason))

    def _why_not(self, line: StepFields) -> str:
        """In words, why the conditions do not call for a step."""
        unmet = [r for r in line.if_all if not r.met(self._endings, self._sitting.findings)]
        return "; ".join(dict.fromkeys(self._standing(r) for r in unmet or line.if_any))

    def _standing(self, requirement: Requirement) -> str:
        if requirement.channel is not None:
            found = self._sitting.findings.get(requirement.channel, "not measured yet")
            return f"{requirement.channel} was found {found}"
        title = next(p.line.title for p in self._places if p.line.id == requirement.step)
        ending = self._endings.get(requirement.step or "")
        return f'"{title}" ended with: {ending.outcome}' if ending else f'"{title}" was not carried out'
