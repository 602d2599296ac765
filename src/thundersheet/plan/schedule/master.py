"""The integer programme behind the allotment of symbols; loads the solver only when it is made.

In: command sets, how far each split of the symbols reaches, and clauses. Out: a number of tones
for each chosen set, or None when the clauses can't all hold. It knows nothing of time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from thundersheet.plan.schedule.jobs import Inexact

MOST_NODES = 500


class Master:
    """Clauses over "this set has a word of at most so many tones", and the symbols' reach.

    Binary x[k, m] = set k has a word of at most m tones (m = 1, 2, 3), so x[k, 1] <= x[k, 2] <=
    x[k, 3]; z[r] = the symbols are split as r. Sum over k of x[k, m] <= sum over r of
    reach[r][m] z[r]; sum of z = 1. All coefficients are small whole numbers, so rounding of the
    solver's floats to the nearest integer is exact; `propose` checks the rounded answer again.
    """

    def __init__(self, keys: Iterable[int], reaches: Sequence[tuple[int, int, int]]) -> None:
        self._keys = sorted(keys)
        self._reaches = list(reaches)
        self._clauses: dict[frozenset[tuple[int, int]], dict[int, int]] = {}
        self._at = {key: 3 * index for index, key in enumerate(self._keys)}

    def one_of(self, clause: Mapping[int, int]) -> None:
        """At least one of these sets has a word of at most so many tones."""
        self._clauses[frozenset(clause.items())] = dict(sorted(clause.items()))

    def propose(self) -> dict[int, int] | None:
        """An allotment that holds every clause, with few and long words; None: there is none."""
        if any(not clause for clause in self._clauses.values()):
            return None
        values = self._solve()
        if values is None:
            return None
        tones = {}
        for key, at in self._at.items():
            fits = [m + 1 for m in range(3) if values[at + m]]
            if fits:
                tones[key] = fits[0]
        self._check(tones)
        return tones

    def _check(self, tones: Mapping[int, int]) -> None:
        """Hold the rounded answer against every clause and the reach."""
        counts = [sum(m <= length for m in tones.values()) for length in (1, 2, 3)]
        reached = any(
            all(have >= need for have, need in zip(reach, counts, strict=True))
            for reach in self._reaches
        )
        held = all(
            any(tones.get(key, 9) <= limit for key, limit in clause.items())
            for clause in self._clauses.values()
        )
        if not (reached and held):
            raise Inexact

    def _solve(self) -> list[int] | None:
        import highspy

        class Silent(highspy.Highs):
            """HiGHS 1.16 prints its banner when callbacks are installed, whatever its options."""

            def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
                """Install none: we use none."""

        solver = Silent()  # type: ignore[no-untyped-call]
        solver.setOptionValue("output_flag", False)
        solver.setOptionValue("threads", 1)
        # Any allotment will do; a near cheapest one gets fewer objections.
        solver.setOptionValue("mip_rel_gap", 0.2)
        # A count and not a clock: the same book gives the same answer on every machine.
        solver.setOptionValue("mip_max_nodes", MOST_NODES)
        inf = highspy.kHighsInf
        count = 3 * len(self._keys) + len(self._reaches)
        # Few sets and long words first: what is given away freely must be taken back by clauses.
        cost = [3.0, 2.0, 1.0] * len(self._keys) + [0.0] * len(self._reaches)
        for column in range(count):
            solver.addVar(0.0, 1.0)
            solver.changeColCost(column, cost[column])
            solver.changeColIntegrality(column, highspy.HighsVarType.kInteger)
        for lower, upper, terms in self._rows():
            low = -inf if lower is None else float(lower)
            high = inf if upper is None else float(upper)
            solver.addRow(
                low, high, len(terms), [t[0] for t in terms], [float(t[1]) for t in terms]
            )
        solver.run()
        status = solver.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            return None
        if status != highspy.HighsModelStatus.kOptimal:
            raise Inexact
        return [round(value) for value in solver.getSolution().col_value]

    def _rows(self) -> list[tuple[int | None, int | None, list[tuple[int, int]]]]:
        """Lower, upper, and columns with coefficients."""
        splits = 3 * len(self._keys)
        rows: list[tuple[int | None, int | None, list[tuple[int, int]]]] = [
            (1, 1, [(splits + r, 1) for r in range(len(self._reaches))])
        ]
        for m in range(3):
            uses = [(at + m, 1) for at in self._at.values()]
            offers = [(splits + r, -reach[m]) for r, reach in enumerate(self._reaches)]
            rows.append((None, 0, uses + offers))
        for at in self._at.values():
            rows.append((None, 0, [(at, 1), (at + 1, -1)]))
            rows.append((None, 0, [(at + 1, 1), (at + 2, -1)]))
        rows += [
            (1, None, [(self._at[key] + m - 1, 1) for key, m in clause.items()])
            for clause in self._clauses.values()
        ]
        return rows
