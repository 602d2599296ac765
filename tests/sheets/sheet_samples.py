"""A small plan built by hand: no reader, no solver, so that a sheet's test is about the sheet."""

from __future__ import annotations

import math
from html.parser import HTMLParser

from thundersheet.base.finding import Cure, Finding
from thundersheet.base.source import Place
from thundersheet.base.time import Span, Time
from thundersheet.base.units import METRIC
from thundersheet.model.device import Lead, Move, Part
from thundersheet.model.show import WINDOWS, CueTrack
from thundersheet.plan.records import Cue, Plan, Target
from thundersheet.plan.schedule.records import Schedule, Word
from thundersheet.sheets.markup import VOID
from thundersheet.sheets.picture import Programme
from thundersheet.track.proof.records import Proof, ProvedWord

STROKE = tuple((0.054 + 0.258 * i / 20, 0.5 - 0.5 * math.cos(math.pi * i / 20)) for i in range(21))
TONE = Span.ms(50)


def make_lead(parts: dict[str, float], curve=(), early: float = 12, late: float = 15) -> Lead:
    return Lead(
        parts=tuple(Part(name=name, span=Span.ms(ms)) for name, ms in parts.items()),
        early=Span.ms(early),
        late=Span.ms(late),
        basis="estimated",
        rest=Span.ms(500),
        state=None,
        curve=curve,
    )


def make_cue(at_s: float, device: str, action: str, what: str, window: str, lead: Lead) -> Cue:
    at = Time.seconds(at_s)
    target = Target(
        id=f"{device} {action} {at}",
        beat=f"beat {at}",
        beat_at=at,
        land_at=at,
        move=Move(device=device, action=action),
        land="arrives",
        window=WINDOWS[window],
        what=what,
        says=f"{device} {action}",
        place=Place("book.yaml", 30 + int(at_s)),
    )
    return Cue(target=target, at=at - lead.total, lead=lead, commands=())


OPEN = make_lead({"valve": 15, "hose": 8, "filling": 31, "moving": 258}, ((0.0, 0.0), *STROKE))
LAMP = make_lead({"relay": 8, "lamp": 60}, ((0.0, 0.0), (0.008, 0.0), (0.068, 1.0)))
NOW = make_lead({"lamp": 2}, ((0.0, 0.0), (0.002, 1.0)))
KNOCK = make_lead({"board": 1, "hammer": 30}, ((0.0, 0.0), (0.031, 1.0), (0.07, 0.0)), 4, 4)
FAN = make_lead({"relay": 8, "running up": 1200}, ((0.0, 0.0), (0.6, 0.5), (1.2, 1.0)))
FADE = make_lead({}, ((0.0, 0.0), (4.0, 1.0)))
PUFF = make_lead({"valve": 15, "hose": 12, "reaching": 13}, ((0.027, 0.0), (0.04, 1.0), (0.16, 0)))


def make_cues() -> tuple[Cue, ...]:
    cues = [
        make_cue(0.0, "oil-lamp", "on", "oil lamp burns", "loose", NOW),
        make_cue(6.0, "lamp-turn", "on", "lamp begins to turn", "soft", LAMP),
        make_cue(6.0, "lamp", "to", "lamp begins to turn", "soft", FADE),
        make_cue(12.0, "glass", "to", "the glass falls", "soft", FADE),
        make_cue(18.0, "wind", "to", "wind bar climbs", "loose", FADE),
        make_cue(20.0, "fan", "on", "a draught", "loose", FAN),
        make_cue(26.0, "lightning", "flash", "first far lightning", "soft", NOW),
        make_cue(31.0, "gust", "puff", "charts lift", "hit", PUFF),
        make_cue(36.0, "knocker", "strike", "knock under the floor", "hit", KNOCK),
        make_cue(36.6, "knocker", "strike", "knock under the floor", "hit", KNOCK),
        make_cue(41.5, "shutter", "out", "shutter slams open", "hit", OPEN),
        make_cue(41.5, "gust", "puff", "shutter slams open", "hit", PUFF),
        make_cue(41.6, "beacons", "on", "beacons & alarm <roof>", "soft", LAMP),
        make_cue(45.0, "shutter", "back", "shutter pulled to", "soft", OPEN),
        make_cue(54.0, "lens", "out", "lens drops, lamp out", "hit", OPEN),
        make_cue(62.5, "lens", "back", "lens rises", "soft", OPEN),
    ]
    return tuple(sorted(cues, key=lambda cue: cue.leaves_at))


def make_marks(cues: tuple[Cue, ...], length_s: int) -> tuple[Word, ...]:
    words = []
    for number in range(1, length_s):
        onset = Time.seconds(number)
        due = tuple(c.id for c in cues if onset <= c.leaves_at < onset + Span.seconds(1))
        words.append(
            Word(
                id=f"mark {number}",
                kind="mark",
                symbols="#0012A3",
                onset=onset,
                tone_onsets=tuple(onset + Span.ms(100) * i for i in range(7)),
                tone=TONE,
                cues=due,
                number=number,
            )
        )
    return tuple(words)


FINDINGS = (
    Finding(
        code="PLAN-03",
        grade="warn",
        place=Place("book.yaml", 71, 5),
        says="the shutter may arrive 15 ms late of 0:41.500.",
        allowed="40 ms late is allowed.",
        cures=(Cure(do="Measure ten strokes.", cost="an hour"),),
        about=("shutter out 0:41.500",),
        source="ITU-R BT.1359-1",
    ),
    Finding(code="SAFE-02", grade="refuse", says="three flashes.", about=("beat 0:26.000",)),
    Finding(code="AIR-11", grade="note", says="the lens takes 0.2 l of air.", about=("lens",)),
)  # fmt: skip


def make_plan(cues: tuple[Cue, ...], findings: tuple[Finding, ...] = FINDINGS) -> Plan:
    style = CueTrack()
    words = make_marks(cues, 84)
    schedule = Schedule(
        layout="marks", style=style, length=Time.seconds(84), words=words, departures=()
    )
    return Plan(
        show="The Lamp Room",
        variant="",
        length=Time.seconds(84),
        fingerprint="1f2e3d4c",
        cues=cues,
        style=style,
        schedule=schedule,
        findings=findings,
        units=METRIC,
    )


def make_programme() -> Programme:
    levels = tuple(
        abs(math.sin(i / 300)) * (0.3 + 0.7 * math.exp(-(((i - 4150) / 40) ** 2)))
        for i in range(8400)
    )
    return Programme(levels=levels, step=Span.ms(10))


def make_proof() -> Proof:
    words = []
    for index in range(1, 84):
        error = 0.00021 * ((index * 37) % 11 - 5)
        state = {17: "missing", 30: "wrong", 44: "extra"}.get(index, "heard")
        words.append(
            ProvedWord(
                id=f"mark {index}",
                state=state,
                expected_s=None if state == "extra" else float(index),
                heard_s=None if state == "missing" else index + error,
                symbols="" if state == "extra" else "#0012A3",
                heard={"missing": "", "wrong": "#0?12A3"}.get(state, "#0012A3"),
            )
        )
    return Proof(
        verdict="words missing",
        because="1 of 83 words is missing, at 0:17.000.",
        media="lamp-room.mp4",
        show="The Lamp Room",
        fingerprint="1f2e3d4c",
        heard_fingerprint="1f2e3d4c",
        words=tuple(words),
        speed_ppm=12.5,
        offset_ms=0.02,
        allowed_ms=5.0,
        findings=FINDINGS,
    )


class Nesting(HTMLParser):
    """Fails on an end tag that does not close the element opened last."""

    def __init__(self):
        super().__init__()
        self.open, self.cues, self.text = [], [], []

    def handle_starttag(self, tag, attrs):
        if tag not in VOID:
            self.open.append(tag)
        self.cues += [value for key, value in attrs if key == "data-cue"]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def read_html(page: str) -> Nesting:
    found = Nesting()
    found.feed(page)
    found.close()
    assert found.open == []
    return found
