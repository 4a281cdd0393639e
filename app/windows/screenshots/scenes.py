"""The screens of the pictures, each brought about by a simulated bench in stepped time."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from app.bench.live_bench import LiveBench
from app.bench.opening import SimulatedChoice, open_simulated
from app.bench.practice_unit import SimulatedHands
from app.bench.practised_hands import PractisedHands
from app.settings import Settings
from app.windows.screenshots.places import PLACES, visit_places
from app.windows.screenshots.visitor import LOOKS, Visitor
from app.windows.working_screen import WorkingScreen
from drivers.clock import SteppedClock
from procedures.analysis.channel import AdviceKind
from procedures.events import Supply, Tier
from procedures.library import shipped_procedures
from procedures.view import RunView

LONGEST_S = 4.0 * 3600.0
SWITCHED_S = 10.0
MISHAP_S = 60.0
Moment = Callable[[RunView], bool]


def mid_trim(view: RunView) -> bool:
    """A trimmer is being turned warm, and the program says how far."""
    wanted = any(a.channel == view.focus and a.kind is AdviceKind.TURN for a in view.advice)
    return wanted and view.at_s > 600.0 and not any(not a.acknowledged for a in view.alarms)


def warming_up(view: RunView) -> bool:
    """Twelve minutes after power-on."""
    return view.power_on_s is not None and view.at_s - view.power_on_s > 720.0


def switch_off(view: RunView) -> bool:
    """The alarm that says to switch the mains off."""
    return any(a.alarm.tier is Tier.OFF and not a.acknowledged for a in view.alarms)


def look_now(view: RunView) -> bool:
    """The alarm that asks for a look."""
    return any(a.alarm.tier is Tier.LOOK and not a.acknowledged for a in view.alarms)


def act_now(view: RunView) -> bool:
    """The alarm that says to turn down, or to stop."""
    return any(a.alarm.tier is Tier.ACT and not a.acknowledged for a in view.alarms)


def lead_off(view: RunView) -> bool:
    """The alarm that says to look at the lead."""
    return any(a.alarm.tier is Tier.LEAD and not a.acknowledged for a in view.alarms)


def not_watched(view: RunView) -> bool:
    """The alarm that says that a channel gives no readings any more."""
    return any(a.alarm.tier is Tier.BLIND and not a.acknowledged for a in view.alarms)


def cautions(view: RunView) -> bool:
    """The very first screen of a job."""
    return view.step == "cautions"


def ended(view: RunView) -> bool:
    """The run is over."""
    return view.ended is not None


def distortion_seen(view: RunView) -> bool:
    """The distortion at half power was measured, and its residual is on the screen."""
    return view.step == "distortion" and any("half power, right" in r.name for r in view.recorded)


def at_step(name: str) -> Moment:
    """A step has begun, so that what the one before it showed still stands."""
    return lambda view: view.step == name


@dataclass(frozen=True, slots=True)
class Job:
    """A simulated unit, what is done with it, and what is pictured of it in the order of its coming.

    Without hands the unit is only switched on and watched, and a minute later a `mishap` befalls it. The
    sessions of jobs that are `kept` are those that are looked back at.
    """

    unit: str
    procedure: str
    moments: tuple[tuple[str, Moment], ...]
    handed: bool = True
    kept: bool = False
    meters: int = 2
    mishap: Callable[[LiveBench], object] | None = None


def overload(live: LiveBench) -> None:
    """The display of the right channel, which is read off by a person, shows overload."""
    for _ in range(3):
        live.read_off("right bias", "OL")


def pull_a_cable(live: LiveBench) -> None:
    """The meter of the left channel falls silent."""
    assert isinstance(live.practice, SimulatedHands)
    live.practice.unplug("left meter")


def _steps(procedure: str, *steps: str, unit: str = "healthy") -> Job:
    """A job of which steps are pictured as they begin."""
    names = (f"step-{procedure}-{step}".replace(" ", "-").replace(",", "") for step in steps)
    return Job(unit, procedure, tuple(zip(names, map(at_step, steps), strict=True)))


JOBS = (
    Job(
        "healthy",
        "two-channel-bias-trim",
        (("cautions", cautions), ("warming-up", warming_up), ("trimming", mid_trim), ("finished", ended)),
        kept=True,
    ),
    Job(
        "runaway",
        "watch",
        (("called-act", act_now), ("alarm", switch_off)),
        handed=False,
        kept=True,
    ),
    Job("under_compensated", "watch", (("called-look", look_now),), handed=False),
    Job("healthy", "watch", (("called-lead", lead_off),), handed=False, meters=1, mishap=overload),
    Job("healthy", "watch", (("called-blind", not_watched),), handed=False, mishap=pull_a_cable),
    Job(
        "starved_bias",
        "verification",
        (
            ("verification-path", at_step("signal-path")),
            ("verification-response", at_step("crosstalk")),
            ("verification-residual", distortion_seen),
            ("verification-power", at_step("cool-down")),
        ),
        kept=True,
    ),
    # One or more of every kind of step.
    _steps("complaint", "words", "conditions", "try", "hours"),
    _steps("incoming-inspection", "reservoir", "visual", "earth"),
    _steps("protection-threshold", "bare", "power-on", "threshold"),
    _steps("trimmer-check", "connect", "cold", "settle", "nudge"),
    _steps("multi-pair-spread", "round-left", unit="four_pairs"),
    _steps("output-level", "signal-path", "drive", "level"),
    _steps("soak", "soak"),
    _steps("two-channel-bias-trim", "parts", "as-received", "as-found-cold", unit="over_biased"),
    # A repeat and a comparison are over at once: the step that follows shows what came of them.
    _steps("two-channel-bias-trim", "turn-down-warm", "trim-left", "lid-on", unit="scratchy_trimmer"),
    _steps("load-test", "power-off"),
    _steps("hand-back", "listen", "told"),
    _steps("emitter-resistors", "sweep"),
)


class Bench:
    """A simulated bench in stepped time, with practised hands on it or merely switched on."""

    def __init__(self, job: Job, root: Path) -> None:
        procedure = shipped_procedures()[job.procedure]
        choice = SimulatedChoice(unit=job.unit, meters=job.meters)
        self.live: LiveBench = open_simulated(choice, procedure, root, SteppedClock(), Settings())
        practice = self.live.practice
        assert isinstance(practice, SimulatedHands)
        hands = [PractisedHands(self.live, practice, seed=1)] if job.handed else []
        self._turns = self.live.turns(*hands)
        if not job.handed:
            self._turns.run(lambda: False, SWITCHED_S)
            practice.switch(Supply.MAINS)
            self.live.supply(Supply.MAINS)
        if job.mishap is not None:
            self._turns.run(lambda: False, MISHAP_S)
            job.mishap(self.live)

    def until(self, moment: Moment) -> bool:
        """Go on to a moment; whether it came. A call to look is answered, as a person at the bench would."""

        def come() -> bool:
            view = self.live.snapshot().view
            for active in view.alarms:
                if active.alarm.tier is Tier.LOOK and not active.acknowledged:
                    self.live.acknowledge(active.alarm.id)
            return moment(view)

        return self._turns.run(come, LONGEST_S)


def visit_all(camera: Visitor, only: str = "") -> None:
    """Bring about every screen in every look and show it to a visitor."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "sessions"
        root.mkdir()
        aside = Path(folder) / "aside"
        aside.mkdir()
        places = [name for name in PLACES if name.startswith(only)]
        for job in JOBS:
            wanted = [name for name, _ in job.moments if name.startswith(only)]
            if wanted or (places and job.kept):
                _visit_job(camera, root if job.kept else aside, job, wanted)
        visit_places(camera, root, places)


def _visit_job(camera: Visitor, root: Path, job: Job, wanted: list[str]) -> None:
    """Carry a job out and picture its moments."""
    bench = Bench(job, root)
    try:
        for name, moment in job.moments:
            if not bench.until(moment):
                raise RuntimeError(f"the simulated unit {job.unit} never came to {name}")
            if name in wanted:
                for look in LOOKS:
                    camera.wear(look)
                    screen = WorkingScreen(bench.live)
                    camera.take(name, screen)
                    screen.close_down()
                    camera.put_away(screen)
    finally:
        bench.live.leave()
