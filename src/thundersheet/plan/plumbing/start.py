"""How an evening begins: the tank full, everything behind it at its pressure, rods back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf

from thundersheet.model.book import Book
from thundersheet.physics.plant.records import Gas, Piston, Plant, State
from thundersheet.physics.stroke import Air as Chambers
from thundersheet.plan.plumbing.graph import plumbing_of
from thundersheet.plan.plumbing.plant import plant_of
from thundersheet.plan.plumbing.pressures import highest_pa


def first_state(book: Book, plant: Plant) -> State:
    """How an evening begins: the tank full, everything behind it at its pressure, rods back.

    A tank of which nobody says how full it is stands at what the devices ask for.
    """
    outside = plant.atmosphere_pa
    gas = {
        name: Gas(pa=pa, kelvin=_warm(plant, name)) for name, pa in _standing(book, plant).items()
    }
    pistons = {}
    for each in plant.cylinders:
        at = min(each.path.set_pa, gas[each.body].pa - each.path.drop_pa)
        empty = book.air.dumped or each.out.acting != "double" or each.middle == "exhausted"
        pistons[each.name] = Piston(
            air=Chambers.at(outside, outside if empty else max(at, outside), plant.ambient_k),
            way="middle" if each.middle else "back",
        )
    return State(bodies=gas, pistons=pistons)


def full_pa(book: Book) -> float:
    """Absolute pressure of the first tank when it is full, or of an endless supply."""
    plant = plant_of(book)
    return _standing(book, plant)[plant.bodies[0].name]


def _warm(plant: Plant, name: str) -> float:
    own = next(body.ambient_k for body in plant.bodies if body.name == name)
    return plant.ambient_k if own is None else own


def _standing(book: Book, plant: Plant) -> Mapping[str, float]:
    """Absolute pressure of every body, nothing flowing and the tank full."""
    tree, _ = plumbing_of(book)
    full = None if plant.endless or tree is None else highest_pa(book.air, tree.root)
    asked = max(_asked(plant), default=plant.atmosphere_pa)
    standing: dict[str, float] = {}
    for body in plant.bodies:
        if body.path is None:
            standing[body.name] = asked if full is None else full + plant.atmosphere_pa
        else:
            come = standing[body.fed_by] - body.path.drop_pa
            standing[body.name] = max(min(body.path.set_pa, come), plant.atmosphere_pa)
    return standing


def _asked(plant: Plant) -> Iterable[float]:
    """What regulators are set to, with what they need before them."""
    paths = [each.path for each in plant.cylinders] + [each.path for each in plant.jets]
    paths += [body.path for body in plant.bodies if body.path is not None]
    return (path.set_pa + path.drop_pa for path in paths if path.set_pa < inf)
