"""Flashes, force and energy, the lunge after a dump."""

from __future__ import annotations

from plan_parts import Blinker, Slide, beat, book, do

from thundersheet.base.finding import Finding
from thundersheet.base.source import Origin, Place
from thundersheet.base.time import Span
from thundersheet.model.air import Air
from thundersheet.model.book import Book
from thundersheet.plan.plan import plan_cues


def findings(of: Book, topic: str) -> list[tuple[str, str]]:
    return [(f.code, f.grade) for f in plan_cues(of)[1] if f.code.startswith(topic)]


def the_one(of: Book, code: str) -> Finding:
    (finding,) = [f for f in plan_cues(of)[1] if f.code == code]
    return finding


def flashes(times: int, every_ms: float, share: float = 0.4, *, red: bool = False) -> Book:
    panel = Blinker(name="panel", lit_share=share, red=red)
    flash = beat(10, do("panel", "flash"), times=times, every=Span.ms(every_ms))
    return book((panel,), (flash,))


# W3C WCAG 2.2, criterion 2.3.1: "no more than three flashes in any one second period".
def test_three_flashes_in_a_second_pass_and_a_fourth_does_not() -> None:
    assert findings(flashes(3, 200), "FLASH") == []
    assert findings(flashes(4, 240), "FLASH") == [("FLASH-01", "refuse")]


def test_the_second_slides() -> None:
    assert findings(flashes(12, 334), "FLASH") == []
    assert findings(flashes(12, 333), "FLASH") == [("FLASH-01", "refuse")]


def test_a_small_source_is_noted_and_a_red_one_refused() -> None:
    assert findings(flashes(4, 240, share=0.2), "FLASH") == [("FLASH-03", "note")]
    assert findings(flashes(4, 240, share=0.2, red=True), "FLASH") == [("FLASH-02", "refuse")]


def test_an_unsaid_share_is_not_taken_for_a_pass() -> None:
    assert findings(flashes(4, 240, share=0.0), "FLASH") == [("FLASH-04", "note")]


def chase(gap_s: float) -> Book:
    lamps = tuple(Blinker(name=f"l{n}", lit_share=0.08) for n in range(12))
    beats = tuple(beat(10 + gap_s * n, do(f"l{n}", "flash", hold=Span.ms(100))) for n in range(12))
    return book(lamps, beats)


def test_the_lamps_of_a_chase_count_together() -> None:
    # 0.18 s apart is 5.6 a second, each lamp 8 % of the view: six of them light 48 %.
    finding = the_one(chase(0.18), "FLASH-01")
    assert finding.says.startswith("6 flashes in the second from 0:10.000, over 48% of the view")
    assert findings(chase(0.40), "FLASH") == []


def test_lights_that_come_up_one_after_another_and_stay_are_no_flashes() -> None:
    lamps = tuple(Blinker(name=f"l{n}", lit_share=0.1) for n in range(8))
    made = book(lamps, tuple(beat(10 + 0.125 * n, do(f"l{n}", "on")) for n in range(8)))
    assert findings(made, "FLASH") == []


def test_lamps_that_flash_together_are_one_flash() -> None:
    lamps = tuple(Blinker(name=f"l{n}", lit_share=0.2) for n in range(4))
    all_flash = beat(10, *(do(f"l{n}", "flash") for n in range(4)))
    assert findings(book(lamps, (all_flash,)), "FLASH") == []


REACH = Origin(Place("book.yaml", 9), {"reachable": Place("book.yaml", 9)})


def mover(
    force: float, energy: float, *, reachable: bool, edge: bool = False, said: bool = True
) -> Book:
    slide = Slide(
        name="gate",
        force_n=force,
        energy_j=energy,
        reachable=reachable,
        edge=edge,
        origin=REACH if said else Origin(),
    )
    return book((slide,), (beat(10, do("gate", "out")), beat(20, do("gate", "back"))))


# EN 953 5.2.5.2 (now ISO 14120), secondary source: 75 N and 4 J, with an edge 150 N and 10 J;
# ANSI/BHMA A156.19 4.4 and 4.5: 67 N and 1.69 J.
def test_force_and_energy_at_reach_are_held_against_the_guard_figures() -> None:
    assert findings(mover(123, 0.2, reachable=True), "FORCE") == [("FORCE-01", "refuse")]
    assert findings(mover(123, 0.2, reachable=True, edge=True), "FORCE") == [("FORCE-02", "note")]
    assert findings(mover(49, 17.0, reachable=True), "FORCE") == [("FORCE-01", "refuse")]
    assert findings(mover(49, 2.1, reachable=True), "FORCE") == [("FORCE-02", "note")]
    assert findings(mover(49, 1.0, reachable=True), "FORCE") == []


def test_out_of_reach_is_out_of_question_but_unsaid_is_not_checked() -> None:
    assert findings(mover(176, 5.0, reachable=False), "FORCE") == []
    assert findings(mover(176, 5.0, reachable=False, said=False), "FORCE") == [("FORCE-04", "warn")]


def test_the_lunge_after_a_dump_is_noted_once_for_all_devices() -> None:
    slides = tuple(Slide(name=f"s{n}", energy_j=0.5) for n in range(3))
    beats = tuple(
        each
        for n in range(3)
        for each in (beat(10 + n, do(f"s{n}", "out")), beat(20 + n, do(f"s{n}", "back")))
    )
    made = book(slides, beats, air=Air(set_pa=200_000.0))
    finding = the_one(made, "FORCE-03")
    assert finding.grade == "note"
    assert len(finding.about) == 3
    assert "lunges with 2 J" in finding.says
    # A book that says so has it in its figures, and the kind itself warns.
    dumped = book(slides, beats, air=Air(set_pa=200_000.0, dumped=True))
    assert findings(dumped, "FORCE") == []


def test_a_light_with_a_rhythm_of_its_own_counts_until_it_is_told_otherwise() -> None:
    def made(every_ms: float) -> Book:
        rhythm = Span.ms(every_ms)
        beacon = Blinker(name="beacon", lit_share=0.3, rhythm=rhythm)
        return book((beacon,), (beat(10, do("beacon", "on")), beat(30, do("beacon", "off"))))

    assert findings(made(334), "FLASH") == []
    finding = the_one(made(300), "FLASH-01")
    assert finding.says.startswith("4 flashes in the second from 0:09.998")


def test_a_lamp_that_dims_step_by_step_does_not_flash() -> None:
    # Its kind, not knowing where it was, lets each way down begin at full brightness.
    lamp = Blinker(name="lamp", lit_share=0.6, falls_from_full=True)
    steps = tuple(beat(10 + 0.1 * n, do("lamp", "off")) for n in range(8))
    assert findings(book((lamp,), (beat(9, do("lamp", "on")), *steps)), "FLASH") == []


def test_a_small_flicker_does_not_add_to_lightning() -> None:
    panel = Blinker(name="panel", lit_share=0.4)
    candle = Blinker(name="candle", lit_share=0.05, rhythm=Span.ms(500))
    made = book(
        (panel, candle),
        (
            beat(5, do("candle", "on")),
            beat(10, do("panel", "flash"), times=2, every=Span.ms(400)),
            beat(20, do("candle", "off")),
        ),
    )
    assert findings(made, "FLASH") == []
