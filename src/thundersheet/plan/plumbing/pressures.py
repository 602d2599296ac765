"""What pressure stands where, as long as the air lasts: by regulators, tank and height."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

from thundersheet.model.air import Air, AirPart
from thundersheet.model.book import Book
from thundersheet.model.device import Device
from thundersheet.plan.plumbing.graph import Plumbing, plumbing_of


def atmosphere(air: Air) -> float:
    """Pressure of the air outside by height: ISO 2533 standard atmosphere, to 11 km."""
    return float(101_325.0 * (1.0 - 2.25577e-5 * air.altitude_m) ** 5.25588)


def set_of(air: Air, part: AirPart) -> float:
    """Gauge pressure behind a part: what a regulator is set to, inf for any other part.

    A regulator that does not say has the book's `set`; inf where there is none either.
    """
    if part.kind != "regulator":
        return inf
    if part.set_pa is not None:
        return part.set_pa
    return inf if air.set_pa is None else air.set_pa


def behind(air: Air, way: Iterable[AirPart], first_pa: float) -> float:
    """Gauge pressure at the end of a way whose first part stands at ``first_pa``, nothing flowing.

    Behind a regulator: its set pressure, or what comes less what the regulator needs.
    """
    pressure = first_pa
    for part in way:
        if part.kind == "regulator":
            pressure = min(set_of(air, part), max(pressure - part.drop_pa, 0.0))
    return pressure


def lowest_pa(air: Air, root: AirPart) -> float | None:
    """Gauge pressure of the first tank at which the compressor starts; None: nobody says."""
    return root.filled_pa if air.compressor is None else air.compressor.cut_in_pa


def highest_pa(air: Air, root: AirPart) -> float | None:
    """Gauge pressure of the first tank when it is full; None: nobody says."""
    return root.filled_pa if air.compressor is None else air.compressor.cut_out_pa


def nominal_pa(book: Book, device: Device, tree: Plumbing | None = None) -> float | None:
    """Gauge pressure at a device's valve with nothing flowing; None: the book has no air for it.

    Without `parts`: its own `pressure`, or the book's `set`. With them: the lowest of its own and
    of the regulators on its way; where there are none, what the tank has when the compressor
    starts.
    """
    own: float | None = getattr(device, "pressure_pa", None)
    if tree is None:
        tree, _ = plumbing_of(book)
    if tree is None or device.name not in tree.hangs:
        return book.air.set_pa if own is None else own
    way = tree.way_to(tree.hangs[device.name])
    least = min((set_of(book.air, part) for part in way), default=inf)
    if own is not None:
        least = min(least, own)
    if least < inf:
        return least
    low = lowest_pa(book.air, tree.root)
    return book.air.set_pa if low is None else low
