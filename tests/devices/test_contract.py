"""What every kind of device promises to the rest, held against every kind there is."""

from __future__ import annotations

import importlib
import xml.etree.ElementTree as ElementTree
from dataclasses import fields, is_dataclass
from itertools import pairwise

import pytest
from kinds_at_work import IDS, KINDS, example_book, example_device, moves_of, setting

import thundersheet.devices
from thundersheet.base.shape import Record, specs
from thundersheet.base.time import Span
from thundersheet.devices import kind_named, kind_names
from thundersheet.model.device import LANDINGS, Device, Lead, Move
from thundersheet.plan.plan import plan_cues

each_kind = pytest.mark.parametrize("kind", KINDS, ids=IDS)

WANTED = [
    "air cylinder",
    "air jet",
    "solenoid hammer",
    "lamp",
    "dimmed lamp",
    "flicker",
    "flash",
    "beacon",
    "pilot light",
    "bar gauge",
    "needle gauge",
    "servo",
    "gear motor",
    "fan",
    "shaker",
    "pump",
    "mist",
    "screen",
    "media player",
    "relay",
]
"""The kinds that the job names."""


def leads_of(device: Device, move: Move, lands: tuple[str, ...]) -> dict[str, Lead]:
    around = setting()
    state = _state_before(device, move)
    return {
        land: device.lead(move, land, state, Span.seconds(30), around)  # type: ignore[arg-type]
        for land in lands
    }


def _state_before(device: Device, move: Move) -> object:
    """A state from which the move has something to do: on before off, out before back."""
    opposite = {"off": "on", "back": "out", "home": "on", "stop": "out"}.get(move.action)
    around = setting()
    state = device.at_rest(around)
    actions = {action.name: action for action in device.ACTIONS}
    if opposite in actions:
        first = Move(device=device.name, action=opposite)
        state = device.lead(first, actions[opposite].lands[0], state, None, around).state
    return state


def test_the_kinds_that_the_job_names_are_there() -> None:
    assert set(WANTED) <= set(kind_names())


@pytest.mark.parametrize("text", ["no such kind", "", "_air_parts", "../book", "Lamp", "air__jet"])
def test_an_unknown_kind_is_a_key_error(text: str) -> None:
    with pytest.raises(KeyError):
        kind_named(text)


@each_kind
def test_file_and_kind_have_one_name(kind: type[Device]) -> None:
    assert kind.__module__.rpartition(".")[2] == kind.KIND.replace(" ", "_")
    assert kind_named(kind.KIND) is kind


@each_kind
def test_example_reads_and_plans_without_refusal(kind: type[Device]) -> None:
    book = example_book(kind)
    cues, findings = plan_cues(book)
    assert any(isinstance(device, kind) for device in book.devices)
    assert cues
    assert [finding for finding in findings if finding.grade == "refuse"] == []


@each_kind
def test_example_uses_the_kind_in_a_beat(kind: type[Device]) -> None:
    book, device = example_book(kind), example_device(kind)
    used = [move.device for beat in book.beats for move in beat.moves]
    met = [beat.meets for beat in book.beats]
    assert device.name in [*used, *met]


@each_kind
def test_symbol_is_well_formed_and_draws_in_the_pen_s_colour(kind: type[Device]) -> None:
    root = ElementTree.fromstring(f'<svg viewBox="0 0 24 24">{kind.SYMBOL}</svg>')
    assert len(list(root.iter())) > 1
    assert "currentColor" in kind.SYMBOL
    assert {child.tag for child in root.iter()} <= {"svg", "g", "path", "circle"}


def test_no_two_kinds_share_a_symbol() -> None:
    assert len({kind.SYMBOL for kind in KINDS}) == len(KINDS)


@each_kind
def test_lead_is_a_sum_of_parts_none_of_which_is_negative(kind: type[Device]) -> None:
    device = example_device(kind)
    for action, move in moves_of(device):
        for lead in leads_of(device, move, action.lands).values():
            assert lead.parts, str(move)
            assert all(part.span >= Span(0) for part in lead.parts), str(move)
            assert lead.total == Span(sum(part.span.ns for part in lead.parts))
            assert lead.early >= Span(0), str(move)
            assert lead.late >= Span(0), str(move)
            assert lead.never == "", str(move)
            assert lead.total <= lead.rest or lead.rest == Span(0), str(move)


@each_kind
def test_starts_come_before_half_way_before_the_end(kind: type[Device]) -> None:
    device = example_device(kind)
    for action, move in moves_of(device):
        leads = leads_of(device, move, action.lands)
        ordered = [leads[land].total for land in LANDINGS if land in leads]
        assert ordered == sorted(ordered), str(move)


@each_kind
def test_curve_begins_at_the_command_and_goes_forward_in_time(kind: type[Device]) -> None:
    device = example_device(kind)
    for action, move in moves_of(device):
        lead = leads_of(device, move, action.lands)[action.lands[0]]
        times = [t for t, _ in lead.curve]
        assert times, str(move)
        assert times[0] == 0.0, str(move)
        assert all(a < b or (a == b and times.count(a) == 2) for a, b in pairwise(times)), move
        assert all(-1e-9 <= share <= 1.0 + 1e-9 for _, share in lead.curve), str(move)


@each_kind
def test_lead_of_a_landing_is_where_the_curve_gets_there(kind: type[Device]) -> None:
    device = example_device(kind)
    for action, move in moves_of(device):
        for land, lead in leads_of(device, move, action.lands).items():
            if land not in ("arrives", "full") or kind.KIND in ("media player", "relay"):
                continue
            first = lead.curve[0][1]
            goal = max((share for _, share in lead.curve), key=lambda share: abs(share - first))
            there = next(t for t, share in lead.curve if abs(share - goal) < 1e-6)
            assert lead.total.s == pytest.approx(there, abs=2e-3), str(move)


@each_kind
def test_bands_are_named_largest_first_and_make_up_the_band(kind: type[Device]) -> None:
    device = example_device(kind)
    for action, move in moves_of(device):
        lead = leads_of(device, move, action.lands)[action.lands[0]]
        shares = list(lead.bands.values())
        assert shares == sorted(shares, reverse=True), str(move)
        together = sum(share.s**2 for share in shares) ** 0.5
        assert lead.late.s == pytest.approx(together, abs=1e-6), str(move)


@each_kind
def test_a_state_carries_to_the_next_move_and_can_be_a_key(kind: type[Device]) -> None:
    device, around = example_device(kind), setting()
    state = device.at_rest(around)
    for action, move in moves_of(device):
        lead = device.lead(move, action.lands[0], state, Span.ms(700), around)
        hash(lead.state)
        again = device.lead(move, action.lands[0], lead.state, Span.ms(700), around)
        assert again.total >= Span(0)
        state = lead.state


@each_kind
def test_same_question_same_answer(kind: type[Device]) -> None:
    device, around = example_device(kind), setting()
    for action, move in moves_of(device):
        one, two = (
            device.lead(move, action.lands[0], device.at_rest(around), None, around)
            for _ in range(2)
        )
        assert one == two, str(move)


@each_kind
def test_commands_go_to_declared_outputs_only(kind: type[Device]) -> None:
    device = example_device(kind)
    outputs = {out.terminal or f"{device.name}.{out.name}" for out in device.outputs()}
    for _, move in moves_of(device):
        for command in device.commands(move):
            assert command.output in outputs, str(move)
            assert command.hold is None or command.hold > Span(0), str(move)


@each_kind
def test_every_output_has_a_safe_value_and_its_own_name(kind: type[Device]) -> None:
    outputs = example_device(kind).outputs()
    assert all(0.0 <= out.safe <= 1.0 for out in outputs)
    assert len({out.name for out in outputs}) == len(outputs)
    assert all(out.terminal for out in outputs), "the example wires it"


@each_kind
def test_loads_are_not_negative_and_end_after_they_begin(kind: type[Device]) -> None:
    device = example_device(kind)
    for _, move in moves_of(device):
        for load in device.loads(move):
            assert load.amps >= 0.0
            assert load.volts > 0.0
            assert load.stop is None or load.stop >= load.start


@each_kind
def test_light_steps_forward_within_its_brightness(kind: type[Device]) -> None:
    device = example_device(kind)
    for _, move in moves_of(device):
        light = device.light(move)
        if light is None:
            continue
        times = [span for span, _ in light.levels]
        assert times == sorted(times), str(move)
        assert all(0.0 <= level <= 1.0 for _, level in light.levels), str(move)
        assert light.every is None or light.every >= times[-1], str(move)


@each_kind
def test_least_gaps_are_not_negative(kind: type[Device]) -> None:
    device = example_device(kind)
    moves = [move for _, move in moves_of(device)]
    assert all(device.least_gap(a, b) >= Span(0) for a in moves for b in moves)


@each_kind
def test_example_has_nothing_to_complain_of(kind: type[Device]) -> None:
    assert example_device(kind).checks(setting()) == ()


@each_kind
def test_a_device_on_no_terminal_is_noted(kind: type[Device]) -> None:
    from dataclasses import replace

    device = replace(example_device(kind), on="")
    if device.outputs():
        assert "WIRE-01" in [finding.code for finding in device.checks(setting())]


@each_kind
def test_every_field_says_what_it_is_and_gives_an_example(kind: type[Device]) -> None:
    for record in _records(kind):
        for spec in specs(record):
            assert spec.doc.endswith((".", ")")), (record, spec.name)
            if spec.form in ("quantity", "span", "number", "numbers"):
                assert spec.example, (record, spec.name)
            if spec.form == "quantity":
                assert spec.low is not None, (record, spec.name)
                assert spec.high is not None, (record, spec.name)


@each_kind
def test_a_default_that_nobody_can_know_says_where_it_comes_from(kind: type[Device]) -> None:
    known = ("rest", "lit_share", "moves_kg", "against_n", "torque_n_m", "lag", "discharge")
    for record in _records(kind):
        for spec in specs(record):
            if spec.form in ("quantity", "span") and spec.default and spec.name not in known:
                assert spec.estimated or spec.name in _CHOSEN, (record, spec.name)


_CHOSEN = ("out_rad",)
"""Not found out but chosen by the builder."""


def _records(kind: type[Record]) -> list[type[Record]]:
    inner = [spec.of for spec in specs(kind) if spec.of is not None]
    return [kind, *inner]


def test_keys_of_a_record_are_unique() -> None:
    for kind in KINDS:
        for record in _records(kind):
            keys = [spec.key for spec in specs(record)]
            assert len(set(keys)) == len(keys), record


def test_each_code_is_explained_beside_its_checks_and_used() -> None:
    import pkgutil
    from pathlib import Path

    for found in pkgutil.walk_packages(thundersheet.devices.__path__, "thundersheet.devices."):
        module = importlib.import_module(found.name)
        text = Path(module.__file__ or "").read_text()
        for code in vars(module).get("EXPLAINS", {}):
            assert code in text.replace(f'"{code}": ', "") or code in _said_elsewhere(code)


def _said_elsewhere(code: str) -> str:
    from pathlib import Path

    folder = Path(thundersheet.devices.__path__[0])
    return " ".join(p.read_text().replace(f'"{code}": ', "") for p in folder.rglob("*.py"))


def test_no_kind_reaches_for_compiled_numerics() -> None:
    import subprocess
    import sys

    code = (
        "import sys; from thundersheet.devices import all_kinds; all_kinds();"
        "sys.exit('numpy' in sys.modules or 'numba' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_only_the_kind_that_is_asked_for_is_imported() -> None:
    import subprocess
    import sys

    code = (
        "import sys; from thundersheet.devices import kind_named, kind_names;"
        "kind_names(); kind_named('lamp');"
        "sys.exit(any(m.endswith('air_cylinder') or 'physics' in m for m in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_records_are_frozen_data() -> None:
    for kind in KINDS:
        assert is_dataclass(kind)
        assert kind.__dataclass_params__.frozen  # type: ignore[attr-defined]
        assert fields(kind)
