"""Measure the chemistry core: ``python -m tests.bench.chemistry --help``.

Everything is a ratio within one run. The scalar side is plain Python floats: a charge balance by
``scipy.optimize.brentq`` written here, and for whole shakes and plans the independent simulation
of ``tests/chemistry/scalar``, brought to the tolerance of the program.
"""

from __future__ import annotations

import argparse
import math
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np
from scipy.optimize import brentq

from tests.chemistry.blocks import in_blocks
from tests.chemistry.comparison import practice
from tests.chemistry.scalar import equilibrium as scalar_equilibrium
from tests.chemistry.scalar.constants import Constants
from tests.chemistry.scalar.simulate import simulate as simulate_scalar
from workups.chemistry.contact import contact
from workups.chemistry.draws import Draws
from workups.chemistry.equilibrium import Surroundings, split_layers
from workups.chemistry.inventory import Inventory, build_inventory
from workups.chemistry.layers import partition_coefficients
from workups.chemistry.materials import charged, components_per_mL
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Setup
from workups.chemistry.speciation import KW, balance_charge
from workups.chemistry.tables import tables

from .timing import Figure, growth, printed, seconds, turns
from .workloads import EIGHT, exercise_of, so_many_steps, twelve_steps

DRAWS, SOME, MANY = 2000, 500, 100_000
SCALAR_SOLVES, SCALAR_SHAKES = 60, 8
TOLERANCE = 1e-12
PASSES = 6
SAME_PH = 1e-8


@dataclass(frozen=True)
class Layers:
    """Eight substances between ether and a carbonate solution, at given volumes."""

    inv: Inventory
    totals: np.ndarray
    water_mL: np.ndarray
    pulls: np.ndarray
    ln_h: np.ndarray

    def solve(self) -> np.ndarray:
        """ln [H+] of every draw, from pH 7."""
        return balance_charge(self.inv.acids, self.totals[rows_of(self.inv)], self.pulls,
                              self.inv.strong_mmol(self.totals), self.water_mL)

    def solve_scalar(self, draw: int) -> float:
        """ln [H+] of one draw by brentq on plain floats."""
        volume = float(self.water_mL[draw])
        strong = float(self.inv.strong_mmol(self.totals)[draw]) / volume
        substances = [
            (acid.top, [float(k[draw]) for k in acid.constants],
             float(self.totals[row, draw]) / volume, float(pull[draw]))
            for acid, row, pull in zip(
                self.inv.acids, rows_of(self.inv), self.pulls, strict=True)]

        def charge(x: float) -> float:
            h = math.exp(x)
            q = h - KW / h + strong
            for top, constants, concentration, pull in substances:
                weight, mean = 1.0, float(top)
                whole = 1.0 + pull if top == 0 else 1.0
                z = top
                for constant in constants:
                    weight *= constant / h
                    z -= 1
                    whole += weight * (1.0 + pull) if z == 0 else weight
                    mean += z * weight
                q += concentration * mean / whole
            return q

        return float(brentq(charge, -16.0 * math.log(10.0), 2.0 * math.log(10.0),
                            xtol=TOLERANCE, rtol=4 * np.finfo(float).eps))


def rows_of(inv: Inventory) -> list[int]:
    """Rows of the acids and bases."""
    return [acid.row for acid in inv.acids]


def layers(draws: int) -> Layers:
    """The layers after a shake, as the last round of the solver finds them."""
    inv, totals = _mixture(draws)
    split = split_layers(inv, totals, Surroundings(open_air=True))
    water_mL = inv.volume_mL(split.aqueous)
    K = partition_coefficients(inv, split.aqueous, split.organic)[rows_of(inv)]
    return Layers(inv, totals, water_mL, K * (inv.volume_mL(split.organic) / water_mL), split.ln_h)


def _mixture(draws: int) -> tuple[Inventory, np.ndarray]:
    setup = exercise_of(len(EIGHT))
    inv = build_inventory(setup, tables(), Draws(1, draws))
    return inv, (charged(inv, setup) + components_per_mL(inv, "nahco3_5pct")[:, None] * 50.0
                 + components_per_mL(inv, "diethyl_ether")[:, None] * 60.0)


def solving() -> Iterator[Figure]:
    """The charge balance and the whole shake: per draw against plain floats, and against exp."""
    shaken = layers(DRAWS)
    found = shaken.solve()
    some = range(0, DRAWS, DRAWS // SCALAR_SOLVES)
    worst = max(abs(shaken.solve_scalar(i) - float(found[i])) for i in some)
    if worst > SAME_PH:
        raise ArithmeticError(f"the two solutions differ by {worst:.1e} in ln [H+]")
    array = shaken.totals[rows_of(shaken.inv)]
    ours, passes = turns(shaken.solve, lambda: [np.exp(array) for _ in range(PASSES)],
                         repeats=200)
    theirs = seconds(lambda: [shaken.solve_scalar(i) for i in some]) / len(some)
    inv, totals = shaken.inv, shaken.totals
    shake = seconds(lambda: contact(inv, totals), 5)
    yield Figure("(a) charge balance per draw: brentq over ours", theirs / (ours / DRAWS), 60.0,
                 at_least=True, details=f"they agree within {worst:.0e} in ln [H+]")
    yield Figure("(a) whole shake per draw, layers and gas: scalar over ours",
                 _scalar_shake() / (shake / DRAWS), 60.0, at_least=True)
    yield Figure(f"(b) charge balance over {PASSES} passes of exp", ours / passes, 3.0,
                 details=f"{array.shape[0]} substances, {DRAWS} draws; the whole shake, which "
                 f"repeats it until volumes and K agree too: {shake / passes:.0f}")


def _scalar_shake() -> float:
    """Seconds of one shake of the same mixture on plain floats."""
    setup = exercise_of(len(EIGHT))
    c = Constants(setup, practice(setup))
    inv, totals = _mixture(1)
    amounts = {key: float(totals[row, 0]) for key, row in inv.index.items()}
    return seconds(lambda: scalar_equilibrium.shake(c, amounts), SCALAR_SHAKES)


def plans() -> Iterator[Figure]:
    """The nominal run of twelve steps with eight substances, against the same on plain floats."""
    plan, setup = twelve_steps(), exercise_of(len(EIGHT))
    ours, theirs = turns(lambda: simulate(plan, setup, Draws(0, 1)),
                         lambda: list(simulate_scalar(plan, setup, practice(setup))))
    yield Figure("(c) nominal run of 12 steps, 8 substances, over scalar", ours / theirs, 10.0,
                 details=f"{ours * 1e3:.0f} ms and {theirs * 1e3:.0f} ms")


def _yield_of(run: Run) -> np.ndarray:
    row = run.inventory.index[run.inventory.setup.targets[0].substance]
    return run.end.flasks["C"].total()[row]


def growing(most_draws: int) -> Iterator[Figure]:
    """Time against the number of draws, steps and substances."""
    plan, eight = twelve_steps(), exercise_of(len(EIGHT))
    draws = [n for n in (100, 1000, 10_000, 100_000) if n <= most_draws]

    def times(sizes: Sequence[int], work: Callable[[int], object]) -> list[float]:
        return [seconds(lambda n=n: work(n), 3 if i < len(sizes) - 1 else 1)  # type: ignore[misc]
                for i, n in enumerate(sizes)]

    yield growth("(d) exponent over draws, in blocks", draws, times(
        draws, lambda n: in_blocks(plan, eight, 1, n, _yield_of)))
    steps = (4, 8, 16, 32, 64)
    longer = {n: so_many_steps(n) for n in steps}
    yield growth(f"(d) exponent over steps, {SOME} draws", steps, times(
        steps, lambda n: simulate(longer[n], eight, Draws(1, SOME))))
    substances = (2, 4, 8, 16, 32, 64)
    mixtures: dict[int, Setup] = {n: exercise_of(n) for n in substances}
    yield growth(f"(d) exponent over substances, {SOME} draws", substances, times(
        substances, lambda n: simulate(plan, mixtures[n], Draws(1, SOME))))


def memory(draws: int) -> Iterator[Figure]:
    """Peak memory of a process that does nothing else, and whether blocks change a bit."""
    # The number of draws is ours; nothing else goes into the command.
    answer = subprocess.run(
        [sys.executable, "-m", "tests.bench.chemistry", "--only-blocks", str(draws)],
        capture_output=True, text=True, check=True)
    yield Figure(f"(e) peak memory for {draws} draws, MB", float(answer.stdout), 600.0)
    plan, setup = twelve_steps(), exercise_of(len(EIGHT))
    different = [b for b in (1, 7, 100, 333) if in_blocks(
        plan, setup, 1, 500, _yield_of, block=b).tobytes() != in_blocks(
        plan, setup, 1, 500, _yield_of, block=500).tobytes()]
    yield Figure("(e) of 4 block sizes, those that change a bit", len(different), 0.0)


def peak_MB(draws: int) -> float:
    """Run so many draws in blocks, and say what the process needed at most [MB]."""
    import resource

    in_blocks(twelve_steps(), exercise_of(len(EIGHT)), 1, draws, _yield_of)
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main() -> None:
    """Print every figure beside what is asked; the exit status says whether all hold."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.chemistry")
    parser.add_argument("--draws", type=int, default=MANY, help="the most draws of one run")
    parser.add_argument("--only-blocks", type=int, metavar="DRAWS",
                        help="run in blocks and print the peak memory")
    asked = parser.parse_args()
    if asked.only_blocks:
        print(f"{peak_MB(asked.only_blocks):.1f}")  # noqa: T201
        return
    scalar_equilibrium.STILL = 1e-11
    sys.exit(printed(chain(solving(), plans(), growing(asked.draws), memory(asked.draws))))


if __name__ == "__main__":
    main()
