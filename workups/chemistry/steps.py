"""What each of the other steps does to the bench, and which function carries out which verb."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import slow, solids
from .at_once import turned_over_at_once
from .components import WATER
from .drystep import dry
from .facts import Facts
from .inventory import Inventory
from .isolation import adjust, collect
from .limits import ICE_BATH_C
from .materials import is_solvent, poured
from .parting import part
from .plan import (
    FILTER_METHODS,
    RECEIVERS,
    WASTE,
    Add,
    Combine,
    Cool,
    Discard,
    Filter,
    Label,
    Quench,
    Rinse,
    Stand,
    Step,
    Tare,
    Transfer,
    Weigh,
)
from .pouring import pour_everything, pour_out, rinsed
from .state import Flask, State, empty_flask
from .stirring import stirred_together, triturate
from .stripstep import strip
from .sums import share_of

Array = NDArray[np.float64]
Action = Callable[[Inventory, State, Any], tuple[State, Facts]]


ADDED_MIN = 2.0
DECANTED = FILTER_METHODS[1]


class MissingFlask(LookupError):
    """A step acts on a flask that no earlier step has made."""


def cool(_inv: Inventory, state: State, step: Cool) -> tuple[State, Facts]:
    """Contents come to the stated temperature."""
    flask = replace(state.flasks[step.flask], celsius=step.to_C)
    return state.with_flask(step.flask, flask), Facts(minutes=10.0)


def add(inv: Inventory, state: State, step: Add | Quench) -> tuple[State, Facts]:
    """Pour a liquid in. Without an organic solvent present the water layer reacts at once."""
    fresh = poured(inv, step.material, step.volume_mL)
    state = state.with_input(fresh.total())
    there = state.flasks.get(step.flask, empty_flask(inv))
    mixed = there.plus(fresh)
    volume = inv.volume_mL(there.liquid())
    share = volume / np.maximum(volume + step.volume_mL, 1e-9)
    mean = share * there.celsius + (1.0 - share) * inv.room_C
    mixed = replace(mixed, celsius=ICE_BATH_C if step.is_on_ice else mean,
                    in_funnel=there.in_funnel)
    if is_solvent(inv, step.material):
        return state.with_flask(step.flask, mixed), Facts(minutes=1.0)
    return _stirred(inv, state, step.flask, mixed)


def _stirred(inv: Inventory, state: State, name: str, mixed: Flask) -> tuple[State, Facts]:
    """What was poured together in a flask stirred in the open."""
    state, stirred = stirred_together(inv, state, mixed, ADDED_MIN)
    return state.with_flask(name, stirred.flask), Facts(
        gas_mmol=stirred.gas_mmol, escaped_mmol=stirred.escaped_mmol, minutes=ADDED_MIN,
        reacted=stirred.reacted)


def _poured_together(
    inv: Inventory, state: State, name: str, sources: Iterable[Flask]
) -> tuple[State, Facts]:
    """A flask into which others were poured: it reacts as if its contents had been added.

    Only where at least two liquids meet with a water layer among them, and something that gives
    gas or reacts at once; two extracts lie in one flask as they were.
    """
    there = state.flasks[name]
    liquids = [s for s in sources if bool(np.any(s.liquid()[:, 0] > 0))]
    if len(liquids) < 2 or not bool(np.any(there.aqueous[inv.water] > 0)):
        return state, Facts(minutes=2.0)
    total = there.total()
    gas_givers = [*inv.insoluble_gases.tolist(), *([] if inv.co2 is None else [inv.co2])]
    if not (np.any(total[gas_givers] > 0) or np.any(turned_over_at_once(inv, total) != 0)):
        return state, Facts(minutes=2.0)
    return _stirred(inv, state, name, there)


def combine(inv: Inventory, state: State, step: Combine) -> tuple[State, Facts]:
    """Pour flasks together; each leaves a film."""
    gathered: Flask | None = None
    names = dict.fromkeys((*step.flasks, step.into))
    sources = [state.flasks[n] for n in names if n in state.flasks]
    for name in step.flasks:
        if name == step.into:
            continue
        state, liquid = pour_everything(inv, state, name)
        gathered = liquid if gathered is None else gathered.plus(liquid)
    if gathered is None:
        return state, Facts(minutes=1.0)
    return _poured_together(inv, state.pouring_into(step.into, gathered), step.into, sources)


def transfer(inv: Inventory, state: State, step: Transfer) -> tuple[State, Facts]:
    """Pour a flask over and rinse it in."""
    sources = [state.flasks[n] for n in (step.flask, step.into) if n in state.flasks]
    state, liquid = pour_everything(inv, state, step.flask)
    state = state.pouring_into(step.into, liquid)
    state, facts = _poured_together(inv, state, step.into, sources)
    if step.rinse_with:
        state, brought = rinsed(inv, state, step.flask, step.rinse_with, step.rinse_mL,
                                step.rinses)
        state = state.pouring_into(step.into, brought)
    return state, facts


def rinse(inv: Inventory, state: State, step: Rinse) -> tuple[State, Facts]:
    """Rinse an emptied vessel into another."""
    state, brought = rinsed(inv, state, step.flask, step.material, step.volume_mL, step.rinses)
    return state.pouring_into(step.into, brought), Facts(minutes=1.0)


def filter_off(inv: Inventory, state: State, step: Filter) -> tuple[State, Facts]:
    """Liquid through the paper or over the edge; the cake holds some, rinses bring it along.

    Water standing around an agent stays with it. A powder that is decanted partly comes over.
    """
    flask = state.flasks[step.flask]
    agents = {key: row for key, row in inv.agent_rows.items() if np.any(flask.solid[row] > 0)}
    state, liquid = pour_out(inv, state, step.flask)
    held = _held(inv, flask, liquid, agents, step)
    over = replace(liquid, organic=liquid.organic - held.organic,
                   droplets=liquid.droplets - held.droplets,
                   aqueous=liquid.aqueous - held.aqueous)
    cake, over = _rinse_cake(inv, replace(held, solid=flask.solid), over, step)
    if step.rinse_with and step.rinses:
        state = state.with_input(_fresh(inv, step.rinse_with, step.rinse_mL * step.rinses))
        state, brought = rinsed(inv, state, step.flask, step.rinse_with, 0.0, 0)
        over = over.plus(brought)
    fines = _fines(inv, cake, agents, step)
    over = replace(over, solid=over.solid + fines, in_funnel=False)
    cake = replace(cake, solid=cake.solid - fines, in_funnel=False)
    state = state.with_flask(step.flask, cake)
    if step.receiver != RECEIVERS[0]:
        left = _fresh(inv, WATER, 1.0) * inv.practice["wet_flask_mL"]
        state, over = state.with_input(left), replace(over, aqueous=over.aqueous + left)
    return state.pouring_into(step.into, over), Facts(minutes=5.0)


def _fresh(inv: Inventory, material: str, volume_mL: float) -> Array:
    return poured(inv, material, volume_mL).total()


def _held(
    inv: Inventory, flask: Flask, liquid: Flask, agents: Mapping[str, int], step: Filter
) -> Flask:
    """What the paper stays wet with, and the wet agent: organic liquid, and the water around it.
    Without an agent the paper and a solid on it take up whatever runs through."""
    volume = np.zeros(inv.count) if step.method == DECANTED else inv.practice["paper_mL"]
    if not agents:
        volume = volume + inv.practice["moist_cake_mL_per_g"] * inv.mass_g(flask.solid)
    for key, row in agents.items():
        agent = inv.agents[key]
        grams = flask.solid[row] * agent.molar_mass * 1e-3
        volume = volume + grams * agent.cake.value * inv.draws.factor(f"cake:{key}", 0.3)
    whole = inv.volume_mL(liquid.organic if agents else liquid.liquid())
    share = np.minimum(share_of(volume, whole), 0.95)
    held = replace(empty_flask(inv), organic=liquid.organic * share,
                   droplets=liquid.droplets * share)
    return replace(held, aqueous=liquid.aqueous * (1.0 if agents else share))


def _rinse_cake(inv: Inventory, cake: Flask, over: Flask, step: Filter) -> tuple[Flask, Flask]:
    """Each rinse mixes with the liquid the cake holds and drains, (h/(h + r))^n is left."""
    if not step.rinse_with or step.rinse_mL <= 0:
        return cake, over
    solvent = is_solvent(inv, step.rinse_with)
    fresh = _fresh(inv, step.rinse_with, step.rinse_mL)
    for _ in range(step.rinses):
        held_mL = inv.volume_mL(cake.organic)
        mixed = cake.organic + fresh if solvent else cake.organic
        stays = np.where(held_mL > 0, held_mL / np.maximum(held_mL + step.rinse_mL, 1e-9), 0.0)
        drained = mixed * (1.0 - stays)
        over = replace(over, organic=over.organic + drained,
                       aqueous=over.aqueous if solvent else over.aqueous + fresh)
        cake = replace(cake, organic=mixed * stays)
    return cake, over


def _fines(inv: Inventory, cake: Flask, agents: Mapping[str, int], step: Filter) -> Array:
    share = np.zeros(inv.count)
    if step.method == DECANTED and any(inv.agents[a].form == "powder" for a in agents):
        share = np.minimum(inv.practice["fines_share"], 0.5)
    return cake.solid * share


def tare(inv: Inventory, state: State, step: Tare) -> tuple[State, Facts]:
    """The empty flask's mass is on record from here."""
    if step.flask not in state.flasks:
        state = state.with_flask(step.flask, empty_flask(inv))
    return replace(state, tared=state.tared | {step.flask}), Facts(minutes=2.0)


def weigh(inv: Inventory, state: State, step: Weigh) -> tuple[State, Facts]:
    """Mass of what is in the flask [g], without the balance's own error."""
    mass = inv.mass_g(state.flasks[step.flask].total())
    state = replace(state, weighed={**state.weighed, step.flask: mass})
    return state, Facts(weighed_g=mass, minutes=2.0 * step.readings)


def discard(inv: Inventory, state: State, step: Discard) -> tuple[State, Facts]:
    """Everything in the flask goes to a waste container."""
    contents = state.flasks[step.flask].total()
    state = state.with_waste(step.stream, contents).with_flask(step.flask, empty_flask(inv))
    return replace(state, discarded=state.discarded | {step.flask}), Facts(minutes=1.0)


def label(_inv: Inventory, state: State, step: Label) -> tuple[State, Facts]:
    """The flask has a label."""
    return replace(state, labelled=state.labelled | {step.flask}), Facts(minutes=0.5)


def stand(inv: Inventory, state: State, step: Stand) -> tuple[State, Facts]:
    """Droplets settle out of the organic layer and join the water below it, which goes on
    reacting."""
    flask = state.flasks[step.flask]
    settled = 1.0 - np.exp(-step.minutes / inv.practice["droplet_settling_min"])
    settled = settled * (1.0 - inv.practice["droplet_floor"])
    state, flask, turned = slow.standing(inv, state, flask, step.minutes)
    flask = replace(flask, droplets=flask.droplets * (1.0 - settled),
                    aqueous=flask.aqueous + flask.droplets * settled, celsius=inv.room_C)
    return state.with_flask(step.flask, flask), Facts(minutes=step.minutes, reacted=turned)


def look(_inv: Inventory, state: State, _step: Step) -> tuple[State, Facts]:
    """A test uses nothing up."""
    return state, Facts(minutes=1.0)


ACTIONS: Mapping[str, Action] = {
    "cool": cool, "add": add, "quench": add, "adjust": adjust, "extract": part, "wash": part,
    "separate": part, "combine": combine, "transfer": transfer, "rinse": rinse, "dry": dry,
    "filter": filter_off, "collect": collect, "tare": tare, "strip": strip, "weigh": weigh,
    "discard": discard, "label": label, "test": look, "stand": stand, "triturate": triturate,
}


def carry_out(inv: Inventory, state: State, step: Step) -> tuple[State, Facts]:
    """Carry out one step; raises MissingFlask where it acts on a flask that is not there."""
    for name in step.needs():
        if name == WASTE:
            raise MissingFlask("what went to the waste cannot be used again")
        if name not in state.flasks:
            raise MissingFlask(f"there is no flask named {name!r} at this point")
    after, facts = ACTIONS[step.verb](inv, state, step)
    return solids.settled(inv, state, after), facts
