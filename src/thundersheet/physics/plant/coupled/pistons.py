"""A cylinder's record of one instant to its rows, and back."""

from __future__ import annotations

from thundersheet.physics import kernel
from thundersheet.physics.gas import R
from thundersheet.physics.plant.coupled import columns as at
from thundersheet.physics.plant.coupled.columns import Fill, Net, Row, device_at
from thundersheet.physics.plant.coupled.flows import spread
from thundersheet.physics.plant.coupled.happen import cushion_due, meet_cushion
from thundersheet.physics.plant.coupled.valves import begin_motion, put
from thundersheet.physics.plant.records import Piston, Way
from thundersheet.physics.stroke import Air


def put_piston(
    net: Net, x: Fill, i: int, ways: dict[str, list[float]], piston: Piston, fed: bool
) -> None:
    """Write a cylinder's first state into its rows; its valve has long switched.

    ``fed`` False: its valve's middle opens both sides.
    """
    par = net[1][i]
    stroke = "back" if piston.way == "back" else "out"
    for c, value in enumerate(ways[f"middle {stroke}" if piston.way == "middle" else stroke]):
        par[c] = value
    par[kernel.SWITCH] = par[kernel.OPEN_AT] = -1e9
    par[at.D_OUT], par[at.D_FED] = float(stroke == "out"), float(fed or piston.way != "middle")
    air = piston.air if stroke == "out" else piston.air.swapped()
    y = piston.out_m if stroke == "out" else par[kernel.S_END] - piston.out_m
    z = [min(max(y, 0.0), par[kernel.S_END]), piston.v_m_s if stroke == "out" else -piston.v_m_s]
    for pa, kelvin in (
        (air.drive_pa, air.drive_k),
        (air.exhaust_pa, air.exhaust_k),
        (air.drive_tube_pa, air.drive_tube_k),
        (air.exhaust_tube_pa, air.exhaust_tube_k),
    ):
        rt = par[kernel.RT_A] if par[kernel.ISO] else R * kelvin
        z += [pa, pa / rt]
    par[at.D_GOING] = float((z[kernel.V] > 0.0) - (z[kernel.V] < 0.0))
    put(par, z, (True, True), x, device_at(net, i))
    if cushion_due(par, z[kernel.Y]):
        cut_off(net, x, i)
    for e in range(2):
        if par[kernel.HAS_D + e] == 0.0:
            z[2 + 2 * e], z[3 + 2 * e] = par[kernel.P_A], par[kernel.RHO_A]
    begin_motion(par, z)


def cut_off(net: Net, x: Fill, i: int) -> None:
    """A run that begins in a cushion begins without the tube: nothing to book."""
    tail = at.counters_at(net)
    booked = list(x[tail : tail + at.COUNTERS])
    meet_cushion(net, x, i)
    for c, value in enumerate(booked):
        x[tail + c] = value


def piston_of(net: Net, x: Row, i: int, way: Way) -> Piston:
    """A cylinder as its rows have it."""
    par = net[1][i]
    z = [0.0] * 10
    spread(par, int(par[at.D_GOING]), x, device_at(net, i), z)
    gases = [(float(z[c]), float(z[c] / z[c + 1] / R)) for c in (kernel.PD, kernel.PE)]
    for e in range(2):
        n = kernel.PDN + 2 * e
        has = par[kernel.HAS_D + e] != 0.0 and par[kernel.HAS_DN + e] != 0.0
        gases.append((float(z[n]), float(z[n] / z[n + 1] / R)) if has else gases[e])
    (drive, exhaust, drive_tube, exhaust_tube) = gases
    air = Air(
        drive_pa=drive[0],
        drive_k=drive[1],
        exhaust_pa=exhaust[0],
        exhaust_k=exhaust[1],
        drive_tube_pa=drive_tube[0],
        drive_tube_k=drive_tube[1],
        exhaust_tube_pa=exhaust_tube[0],
        exhaust_tube_k=exhaust_tube[1],
    )
    y, v = float(z[kernel.Y]), float(z[kernel.V])
    if par[at.D_OUT] == 0.0:
        return Piston(out_m=float(par[kernel.S_END]) - y, v_m_s=-v, air=air.swapped(), way=way)
    return Piston(out_m=y, v_m_s=v, air=air, way=way)
