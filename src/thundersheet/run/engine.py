"""Plays one frozen plan on a time that is given from outside, everything through the gate.

In: the night as it is, with its instant. Out: what is to be sent. Keeps how the outputs stand and
where the devices were told to go; has no clock, and decides about no state. A cue goes as a whole
or not at all: half a cue would leave a valve with two coils anywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from thundersheet.base.time import ZERO, Span, Time
from thundersheet.plan.records import Cue, Plan
from thundersheet.plan.stretches import begins, passing
from thundersheet.run.events import Effect, Jog, Say, Send
from thundersheet.run.gate import ALLOW, Answer, Ask, Place, Stand, Wire, gate
from thundersheet.run.now import Now
from thundersheet.run.sensors import tank_pa
from thundersheet.run.setup import Line, Setup
from thundersheet.run.watch import barred

MOST_LATE = Span.ms(500)
"""A cue that could leave only so late is left out, unless it makes safe: guests have moved on."""
JOG_LASTS = Span.ms(250)
"""A held jog button says so again within this; else the output is let go (the word may be lost)."""


@dataclass(frozen=True, slots=True)
class _Waits:
    """A cue that the gate holds."""

    cue: Cue
    since: Time
    until: Time


class Engine:
    """The outputs of one show, and the plan that plays on them."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.wires: dict[str, Wire] = {}
        self.places: dict[str, Place] = {}
        self.jogging = ""
        self._lets_go: dict[str, Time] = {}
        self._waits: list[_Waits] = []
        self._plan: Plan | None = None
        self._began = ZERO
        self._next = 0
        self._leads = {
            name: tuple(begins(cue).since(cue.at) for cue in plan.cues)
            for name, plan in setup.plans.items()
        }

    def begin(self, variant: str, at: Time) -> None:
        """A show starts; every device is home, or barred."""
        self._plan, self._began, self._next = self.setup.plans[variant], at, 0
        self.places.clear()

    def shift(self, began: Time) -> None:
        """The programme began at another instant; a cue that has left never leaves again."""
        self._began = began

    def end(self) -> None:
        """No cue leaves any more."""
        self._plan = None
        self._waits.clear()

    def wakes(self) -> Time | None:
        """When something is due next; None: nothing is."""
        due = [*self._lets_go.values(), *(each.until for each in self._waits)]
        if self._plan and self._next < len(self._plan.cues):
            due.append(self._due(self._plan.cues[self._next]))
        return min(due, default=None)

    def stand(self, now: Now) -> Stand:
        """How things stand, for the gate."""
        return Stand(
            state=now.state,
            practice=now.practice,
            air=now.air,
            tank_pa=tank_pa(now.readings, self.setup),
            barred=barred(self.setup, now),
            wires=self.wires,
            places=self.places,
            unknown=now.unproved,
            jogging=self.jogging,
            jogged=now.jogged,
        )

    def make_safe(self, at: Time) -> Iterator[Send]:
        """Every output but the air's to its safe value, whatever it is thought to have."""
        self.end()
        self.jogging = ""
        self._lets_go.clear()
        for line in self.setup.lines.values():
            if line.device:
                yield from self._release(line, at)

    def air(self, now: Now, on: bool) -> Iterator[Effect]:
        """Air in or out, where an output switches it."""
        line = self.setup.lines.get(self.setup.air)
        if line is None:
            return
        ask = Ask(output=line.name, value=1.0 if on else line.safe, by="air" if on else "safe")
        answer = gate(self.setup, self.stand(now), ask, now.at)
        if answer.verdict == "allow":
            yield self._send(line, ask.value, now.at, answer)
        else:
            yield Say("warn", f"No air: {answer.why}.")

    def rest(self, now: Now) -> Iterator[Send]:
        """What is barred and away from its safe value gets it."""
        away = [name for name, wire in self.wires.items() if wire.on_since is not None]
        bars = barred(self.setup, now) if away else {}
        for name in away:
            if self.setup.lines[name].device in bars:
                yield from self._release(self.setup.lines[name], now.at)

    def jog(self, now: Now, event: Jog) -> tuple[bool, tuple[Effect, ...]]:
        """One output by hand, and whether it was allowed; let go when the button is."""
        line = self.setup.lines.get(event.output)
        if not event.held:
            mine = line is not None and self.jogging == event.output
            return False, tuple(self._release(line, now.at)) if mine and line else ()
        ask = Ask(output=event.output, value=event.value, by="jog", held=True)
        answer = gate(self.setup, self.stand(now), ask, now.at)
        if answer.verdict != "allow" or line is None:
            return False, (Say("note", f"No jog: {answer.why}."),)
        if event.value == line.safe:
            return False, tuple(self._release(line, now.at))
        ends = min(answer.lets_go or now.at + JOG_LASTS, now.at + JOG_LASTS)
        self.jogging = line.name
        return True, (self._send(line, event.value, now.at, Answer("allow", lets_go=ends)),)

    def let_go(self, now: Now) -> Iterator[Send]:
        """Outputs whose time is over."""
        for name in sorted(n for n, at in self._lets_go.items() if at <= now.at):
            yield from self._release(self.setup.lines[name], now.at)

    def play(self, now: Now) -> Iterator[Effect]:
        """The cues that are due, in their order, and those that have waited."""
        if self._plan is None or now.state != "playing":
            return
        stand = self.stand(now)
        due = [each for each in self._waits if each.until <= now.at]
        self._waits = [each for each in self._waits if each.until > now.at]
        for each in due:
            yield from self._try(stand, each.cue, each.since, now.at)
        cues, leads = self._plan.cues, self._leads[self._plan.variant]
        while self._next < len(cues) and self._due(cues[self._next]) <= now.at:
            cue = cues[self._next]
            self._next += 1
            self._supersede(cue)
            yield from self._try(stand, cue, self._due(cue), now.at, leads[self._next - 1])

    def _due(self, cue: Cue) -> Time:
        return self._began + cue.leaves_at.since(ZERO)

    def _supersede(self, cue: Cue) -> None:
        """A cue that waits is forgotten when the next of its device is due."""
        device = cue.target.move.device
        self._waits = [each for each in self._waits if each.cue.target.move.device != device]

    def _try(
        self, stand: Stand, cue: Cue, due: Time, at: Time, starts: Span | None = None
    ) -> Iterator[Effect]:
        if not cue.commands:
            return
        if at.since(due) > MOST_LATE and not self._makes_safe(cue):
            yield Say("warn", f"{cue.id} was left out: it would have left {at.since(due)} late.")
            return
        starts = begins(cue).since(cue.at) if starts is None else starts
        answers = [self._asked(stand, cue, i, at, starts) for i in range(len(cue.commands))]
        worst = next((each for each in answers if each.verdict == "refuse"), None)
        held = [each.until for each in answers if each.until is not None]
        if worst is None and held:
            yield from self._held(cue, due, max(held), answers)
        elif worst is not None:
            yield Say("note", f"{cue.id} was left out: {worst.why}.")
        else:
            yield from self._goes(cue, at, answers)

    def _makes_safe(self, cue: Cue) -> bool:
        return all(self.setup.lines[each.output].safe == each.value for each in cue.commands)

    def _asked(self, stand: Stand, cue: Cue, i: int, at: Time, starts: Span) -> Answer:
        command, move = cue.commands[i], cue.target.move
        ask = Ask(
            output=command.output,
            value=command.value,
            by="plan",
            move=move,
            starts=starts,
            hold=command.hold,
        )
        return gate(self.setup, stand, ask, at)

    def _held(self, cue: Cue, due: Time, until: Time, answers: list[Answer]) -> Iterator[Effect]:
        """It waits if that is soon enough."""
        if until.since(due) <= max(cue.target.window.late, Span(0)):
            self._waits.append(_Waits(cue, due, until))
            return
        why = next(each.why for each in answers if each.verdict == "hold")
        yield Say("note", f"{cue.id} was left out: {why}.")

    def _goes(self, cue: Cue, at: Time, answers: list[Answer]) -> Iterator[Effect]:
        device = cue.target.move.device
        old = self.places.get(device)
        rests = at + cue.lead.rest
        before = None if old is None else old.move
        self.places[device] = Place(cue.target.move, before, rests, passing(cue))
        for command, answer in zip(cue.commands, answers, strict=True):
            line = self.setup.lines[command.output]
            sent = self._send(line, command.value, at, answer)
            yield replace(sent, cue=cue.id, over=command.over)

    def _send(self, line: Line, value: float, at: Time, answer: Answer) -> Send:
        old = self.wires.get(line.name, Wire(line.safe))
        if value == line.safe:
            off = at if old.on_since is not None else old.off_since
            self.wires[line.name] = Wire(value, None, off)
        else:
            self.wires[line.name] = Wire(value, old.on_since or at, old.off_since)
        self._lets_go.pop(line.name, None)
        if answer.lets_go is not None:
            self._lets_go[line.name] = answer.lets_go
        return Send(line.name, value, at, lets_go=answer.lets_go)

    def _release(self, line: Line, at: Time) -> Iterator[Send]:
        """The safe value; a device that was kept away by this output is then on its way home."""
        wire, place = self.wires.get(line.name), self.places.get(line.device)
        away = wire is not None and wire.on_since is not None
        if away and place is not None and not place.passes:
            self.places[line.device] = Place(None, place.move, at + self._longest(line.device))
        if self.jogging == line.name:
            self.jogging = ""
        yield self._send(line, line.safe, at, ALLOW)

    def _longest(self, device: str) -> Span:
        """The longest that any move of a device takes to come to rest."""
        return max(
            (
                cue.lead.rest
                for plan in self.setup.plans.values()
                for cue in plan.cues
                if cue.target.move.device == device
            ),
            default=Span(0),
        )
