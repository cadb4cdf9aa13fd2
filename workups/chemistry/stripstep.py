"""The stripping step: solvent off a flask, by rotary evaporator, in the open, or distilled.

Dissolved carbon dioxide has left before anything boils, and has no say in whether it does. After
the solvent has stopped coming, holding on takes more off with a half-life (practice): under the
pump of a rotary evaporator a short one, in an open dish a long one. In a distillation set at one
atmosphere the pot is only as hot as it boils until it comes near the bath (followed in stages of
``_STAGE_K``); what does not boil runs back, and holding on takes nothing.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .constants import ATMOSPHERE_PA, MBAR_PA
from .facts import Facts, StripFacts
from .inventory import Inventory
from .layers import solvent_fractions, water_capacity_mmol
from .plan import STRIP_METHODS, Strip
from .state import Flask, State
from .stripping import boil_down, evaporate_droplets, sweep
from .sums import over_rows, share_of

Array = NDArray[np.float64]

_ROTARY, OPEN, DISTILLED = STRIP_METHODS
_LEAST_SOLVENT_SHARE = 1e-4
_STAGE_K, _LEAST_C = 10.0, 20.0


def strip(inv: Inventory, state: State, step: Strip) -> tuple[State, Facts]:
    """Take the solvent off a flask; a little is lost to splashing up."""
    flask = replace(state.flasks[step.flask], in_funnel=False)
    until = step.pressure_mbar * MBAR_PA if step.method == _ROTARY else ATMOSPHERE_PA
    left, boiled = _evaporated(inv, flask, step, until)
    gone = flask.liquid() - left.liquid() - (left.solid - flask.solid)
    state = state.with_air(gone)
    splash = np.minimum(inv.practice["bump_loss"] * boiled, 0.2)
    splashed = left.liquid() * splash
    state = state.with_film("condenser", splashed)
    left = replace(left, organic=left.organic * (1 - splash), aqueous=left.aqueous * (1 - splash))
    state = state.with_flask(step.flask, left)
    state = replace(state, stripped=state.stripped | {step.flask})
    facts = _facts(inv, flask, left, gone, boiled)
    return state, Facts(strip=facts, minutes=float(facts.minutes[0]) + step.hold_min)


def _evaporated(
    inv: Inventory, flask: Flask, step: Strip, until_Pa: float
) -> tuple[Flask, Array]:
    """The flask after stripping, and in which draws the solvent boiled."""
    saturation = inv.saturation_Pa(step.bath_C)
    organic, drops = _two_liquid_stage(inv, flask, saturation)
    factor = _water_factor(inv, flask.organic, drops)
    pot = organic.copy()
    pot[inv.water] = pot[inv.water] + drops
    if inv.co2 is not None:
        pot[inv.co2] = 0.0
    boiled = np.zeros(inv.count)
    for celsius in _stages_C(step):
        pressure = np.repeat(inv.saturation_Pa(celsius)[:, None], inv.count, axis=1)
        pressure[inv.water] = pressure[inv.water] * factor
        xi = boil_down(pot, pressure, until_Pa)
        boiled = np.where(xi > 0, 1.0, boiled)
        pot = pot * np.exp(-pressure * xi)
    solvent_Pa = _leading_Pa(inv, flask.liquid(), saturation)
    if step.method != DISTILLED:
        pumped = (boiled > 0) & (step.method != OPEN)
        half_life = np.where(pumped, inv.practice["sweep_half_life_min"],
                             inv.practice["open_half_life_min"])
        pot = pot * np.exp(-pressure * sweep(solvent_Pa, step.hold_min, half_life))
    salts = np.where((saturation > 0)[:, None], _as_ions(inv, flask),
                     flask.droplets + flask.aqueous)
    return replace(
        flask,
        organic=pot,
        droplets=inv.none(),
        aqueous=inv.none(),
        solid=flask.solid + salts,
    ), boiled


def _stages_C(step: Strip) -> list[float]:
    """How hot the pot is, one stage after the other [C]."""
    if step.method != DISTILLED:
        return [step.bath_C]
    below = np.arange(step.bath_C - _STAGE_K, _LEAST_C, -_STAGE_K)
    return [*below[::-1].tolist(), step.bath_C]


def _as_ions(inv: Inventory, flask: Flask) -> Array:
    """What of the acids and bases in a water layer is ionised and does not evaporate, (C, N)."""
    ions = inv.none()
    if flask.pH is None:
        return ions
    h = 10.0**-flask.pH
    for acid in inv.acids:
        if acid.row != inv.co2:
            ions[acid.row] = flask.aqueous[acid.row] * (1.0 - acid.neutral_share(h))
    return ions


def _two_liquid_stage(inv: Inventory, flask: Flask, saturation: Array) -> tuple[Array, Array]:
    """While water drops remain: solvent and water leave together. (organic, water drops)."""
    rows = inv.solvent_rows
    free = flask.droplets + flask.aqueous - _as_ions(inv, flask)
    organic = flask.organic.copy()
    volatile = (saturation > 0)[:, None]
    dissolved_volatiles = np.where(volatile, free, 0.0)
    dissolved_volatiles[inv.water] = 0.0
    organic = organic + dissolved_volatiles
    solvent = over_rows(organic[rows])
    # Drops dissolve as far as the solvent is not saturated yet.
    water = organic[inv.water] + free[inv.water]
    organic[inv.water] = np.minimum(water, water_capacity_mmol(inv, organic))
    drops = water - organic[inv.water]
    solvent_Pa = _solvent_Pa(inv, organic, saturation)
    ratio = np.where(solvent_Pa > 0, saturation[inv.water] / np.maximum(solvent_Pa, 1e-9), 0.0)
    per_solvent = _water_per_solvent(inv, organic)
    left, water = evaporate_droplets(solvent, drops, organic[inv.water], ratio, per_solvent)
    share = share_of(left, solvent, 1.0)
    share = np.where(drops > 0, np.maximum(share, _LEAST_SOLVENT_SHARE), 1.0)
    share = np.where(solvent > 0, share, 1.0)
    organic[rows] = organic[rows] * share
    dissolved = np.minimum(water, per_solvent * over_rows(organic[rows]))
    # Where the last drop went while there was solvent, none is left but for rounding.
    rest = np.where(left > 0, 0.0, np.maximum(water - dissolved, 0.0))
    organic[inv.water] = np.where(drops > 0, water - rest, organic[inv.water])
    return organic, np.where(drops > 0, rest, 0.0)


def _solvent_Pa(inv: Inventory, organic: Array, saturation: Array) -> Array:
    """Mean vapour pressure of the extraction solvents by amount [Pa], (N,); 0 if there are none."""
    return _mean_Pa(organic[inv.solvent_rows], saturation[inv.solvent_rows])


def _mean_Pa(amounts: Array, pressures: Array) -> Array:
    total = over_rows(amounts)
    mean = over_rows(amounts * pressures[:, None])
    return share_of(mean, total)


def _leading_Pa(inv: Inventory, liquid: Array, saturation: Array) -> Array:
    """Mean vapour pressure of everything taken off as solvent, co-solvents included [Pa], (N,).

    It sets the pace of sweeping; where there is no solvent at all, water does.
    """
    rows = np.concatenate([inv.solvent_rows, inv.cosolvent_rows])
    pace = _mean_Pa(liquid[rows], saturation[rows])
    return np.asarray(np.maximum(pace, saturation[inv.water]))


def _water_per_solvent(inv: Inventory, organic: Array) -> Array:
    """Water at saturation per solvent [mol/mol], (N,)."""
    fractions = solvent_fractions(inv, organic)
    per_mL = over_rows(fractions * inv.water_in_solvent)
    volume = over_rows(fractions * inv.molar_volume[inv.solvent_rows][:, None])
    return np.asarray(np.maximum(per_mL * volume, 1e-9))


def _water_factor(inv: Inventory, organic: Array, drops: Array) -> Array:
    """Activity coefficient of dissolved water, 1/x_sat; 1 where water drops remain, (N,)."""
    per_solvent = _water_per_solvent(inv, organic)
    return np.where(drops > 0, 1.0, (1.0 + per_solvent) / per_solvent)


def _facts(inv: Inventory, before: Flask, after: Flask, gone: Array, boiled: Array) -> StripFacts:
    rows = inv.solvent_rows
    lost = {key: gone[row] for key, row in inv.index.items()
            if row not in rows and row != inv.water and np.any(gone[row] > 0)}
    volume = inv.volume_mL(before.organic)
    return StripFacts(
        minutes=np.where(boiled > 0, volume / inv.practice["boil_off_mL_min"], 0.0),
        lost=lost,
        solid_present=bool(any(np.any(before.solid[r] > 0) for r in inv.agent_rows.values())),
        left_solvent_g=over_rows(after.total()[rows] * inv.molar_mass[rows][:, None]) * 1e-3)
