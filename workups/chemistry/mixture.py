"""What compiled code is told of the components: in all draws, and of those that are there in one.

Shapes: C components, N draws, S extraction solvents, A acids and bases, P ion pairs. Rows and
numbers that do not exist are -1.
"""

from __future__ import annotations

from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .compiled import Cube, Flags, Table, Vector, inner

# Of a component: what ``Inventory`` calls by the same names; ``row`` among all components, the
# number of the extraction ``solvent`` and of the ``acid`` or base that it is; ``saturation_Pa`` at
# room temperature. Of the present layers: partition coefficient ``K``, distribution ratio ``D``,
# ``pressure`` of its vapour [Pa], how much is ``dissolved`` [mmol].
COMPONENT = np.dtype([
    ("row", "i8"), ("solvent", "i8"), ("acid", "i8"), ("molar_volume", "f8"),
    ("strong_charge", "f8"), ("base_charge", "f8"), ("saturation_Pa", "f8"),
    ("setschenow", "f8"), ("cosolvency", "f8"), ("solubility", "f8"), ("K", "f8"), ("D", "f8"),
    ("pressure", "f8"), ("dissolved", "f8"), ("takes_proton", "?"), ("cosolvent", "?"),
    ("dimerises", "?")], align=True)
# Of an extraction solvent: its row; water at saturation [mmol/mL], constant of dimers [L/mol],
# volume ``fraction`` of the solvents of the present layer.
SOLVENT = np.dtype([
    ("row", "i8"), ("water_in_solvent", "f8"), ("dimerisation", "f8"), ("fraction", "f8")],
    align=True)
# Of an acid or base: its row, charge when fully protonated, how many ``levels`` it has; and in the
# present water layer what ``speciation.balanced`` and ``titration`` say.
ACID = np.dtype([
    ("row", "i8"), ("top", "i8"), ("levels", "i8"), ("amount", "f8"), ("pull", "f8"),
    ("pairs", "f8"), ("limit", "f8"), ("elsewhere", "f8"), ("per_mL", "f8"), ("charge", "f8"),
    ("outside", "f8")], align=True)
# Of an ion pair: rows of both ions, number of the solvent, K_ip [L/mol], and ``pull`` K_ip [X-].
PAIR = np.dtype([
    ("cation", "i8"), ("anion", "i8"), ("solvent", "i8"), ("K", "f8"), ("pull", "f8")],
    align=True)
Components = Annotated[NDArray[np.void], COMPONENT, 1]
Solvents = Annotated[NDArray[np.void], SOLVENT, 1]
Acids = Annotated[NDArray[np.void], ACID, 1]
Pairs = Annotated[NDArray[np.void], PAIR, 1]


class Constants(NamedTuple):
    """The constants of an ``Inventory`` in all draws; units as there.

    ``acid_constants`` (A, levels, N) mol/L, ``log10_K`` (S+1, C, N), the last for octanol.
    """

    water: int
    co2: int
    magnesium: int
    room_C: float
    components: Components
    solvents: Solvents
    acids: Acids
    pairs: Pairs
    acid_constants: Cube
    log10_K: Cube
    setschenow: Table
    cosolvency: Table
    solubility: Table
    water_in_solvent: Table
    dimerisation: Table
    pair_K: Table
    co2_henry: Vector
    gel_product: Vector


class Mixture(NamedTuple):
    """The components that are there in one draw, and their constants; rows count those alone.

    ``acid_constants`` (A, levels) mol/L, ``log10_K`` (S+1, C).
    """

    water: int
    co2: int
    magnesium: int
    room_C: float
    components: Components
    solvents: Solvents
    acids: Acids
    pairs: Pairs
    acid_constants: Table
    log10_K: Table
    co2_henry: float
    gel_product: float


@inner
def room_for(c: Constants) -> Mixture:
    """Room for the constants of one draw, all components in it."""
    return Mixture(
        c.water, c.co2, c.magnesium, c.room_C, c.components.copy(), c.solvents.copy(),
        c.acids.copy(), c.pairs.copy(), c.acid_constants[:, :, 0].copy(),
        c.log10_K[:, :, 0].copy(), c.co2_henry[0], c.gel_product[0])


@inner
def in_draw(c: Constants, room: Mixture, there: Flags, n: int) -> Mixture:
    """The constants of draw ``n`` for the components that are ``there``, (C,); water always is."""
    count, solvents, acids, water, co2, magnesium = 0, 0, 0, -1, -1, -1
    for i in range(len(there)):
        if not there[i]:
            continue
        row = count
        count += 1
        water = row if i == c.water else water
        co2 = row if i == c.co2 else co2
        magnesium = row if i == c.magnesium else magnesium
        room.components[row] = c.components[i]
        component = room.components[row]
        component.row = i
        component.setschenow = c.setschenow[i, n]
        component.cosolvency = c.cosolvency[i, n]
        component.solubility = c.solubility[i, n]
        if component.solvent >= 0:
            solvent = room.solvents[solvents]
            solvent.row = row
            solvent.water_in_solvent = c.water_in_solvent[component.solvent, n]
            solvent.dimerisation = c.dimerisation[component.solvent, n]
            solvents += 1
        if component.acid >= 0:
            room.acids[acids] = c.acids[component.acid]
            room.acids[acids].row = row
            for j in range(room.acids[acids].levels):
                room.acid_constants[acids, j] = c.acid_constants[component.acid, j, n]
            acids += 1
    for row in range(count):
        i = room.components[row].row
        for s in range(solvents):
            number = room.components[room.solvents[s].row].solvent
            room.log10_K[s, row] = c.log10_K[number, i, n]
        room.log10_K[solvents, row] = c.log10_K[len(c.log10_K) - 1, i, n]
    pairs = _pairs_in_draw(c, room, count, solvents, n)
    return Mixture(
        water, co2, magnesium, c.room_C, room.components[:count], room.solvents[:solvents],
        room.acids[:acids], room.pairs[:pairs], room.acid_constants[:acids],
        room.log10_K[:solvents + 1], c.co2_henry[n], c.gel_product[n])


@inner
def _pairs_in_draw(c: Constants, room: Mixture, count: int, solvents: int, n: int) -> int:
    """Keep the ion pairs whose cation, anion and solvent are there: how many those are."""
    kept = 0
    for p in range(len(c.pairs)):
        cation, anion, solvent = -1, -1, -1
        for row in range(count):
            cation = row if room.components[row].row == c.pairs[p].cation else cation
            anion = row if room.components[row].row == c.pairs[p].anion else anion
        for s in range(solvents):
            number = room.components[room.solvents[s].row].solvent
            solvent = s if number == c.pairs[p].solvent else solvent
        if cation >= 0 and anion >= 0 and solvent >= 0:
            pair = room.pairs[kept]
            pair.cation, pair.anion, pair.solvent, pair.K = cation, anion, solvent, c.pair_K[p, n]
            kept += 1
    return kept
