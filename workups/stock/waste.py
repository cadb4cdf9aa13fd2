"""What goes into which waste container when the model plan is carried out.

Volumes in mL, masses in g, for one student. The filling of containers is common practice.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from workups.chemistry.kinds import Contents
from workups.chemistry.plan import WASTE
from workups.chemistry.run import Run
from workups.chemistry.state import Array, Flask
from workups.exercise.exercise import Exercise
from workups.words.sentences import STREAM_TITLES

from .mixture_hazards import mixture_hazards

CONTAINER_SIZES_mL = (250, 500, 1000, 2500, 4000, 10000)
CONTAINER_FILL = 0.8


@dataclass(frozen=True)
class Waste:
    """What goes to one stream; ``holds`` says what is in it, ``hazards`` its statements."""

    stream: str
    volume_mL: float
    solid_g: float
    holds: tuple[str, ...]
    hazards: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        return STREAM_TITLES[self.stream]

    @property
    def container_mL(self) -> float:
        """The least container that is then at most 80 % full."""
        return self.volume_mL / CONTAINER_FILL

    @property
    def containers(self) -> tuple[int, float]:
        """How many containers of which common size [mL], each at most 80 % full."""
        if self.volume_mL <= 0:
            return 0, 0.0
        fitting = (size for size in CONTAINER_SIZES_mL if self.container_mL <= size)
        size = float(next(fitting, CONTAINER_SIZES_mL[-1]))
        return math.ceil(self.container_mL / size - 1e-9), size


def waste_streams(exercise: Exercise, run: Run) -> tuple[Waste, ...]:
    """Waste by stream: poured away, left in flasks at the end, and what was stripped off."""
    streams: dict[str, _Stream] = {}
    inv = run.inventory
    for at in range(len(run.outcomes)):
        for stream, name in _poured_away(run, at):
            found = streams.setdefault(stream, _Stream())
            found.holds.append(name)
            found.pHs.extend(_poured_pH(run, at))
    for stream, amounts in run.end.waste.items():
        found = streams.setdefault(stream, _Stream())
        found.volume_mL += float(inv.volume_mL(amounts)[0])
        found.count(run, amounts)
    for stream, amounts in _stripped_off(run):
        found = streams.setdefault(stream, _Stream())
        found.volume_mL += float(inv.volume_mL(amounts)[0])
        found.count(run, amounts)
        found.holds.append("what was stripped off")
    for name, flask in _left_over(exercise, run):
        _add_left_over(streams, run, name, flask)
    return tuple(
        Waste(
            key,
            s.volume_mL,
            s.solid_g,
            tuple(dict.fromkeys(s.holds)),
            mixture_hazards(s.grams, s.pHs, inv.tables),
        )
        for key, s in ((key, streams[key]) for key in STREAM_TITLES if key in streams)
    )


@dataclass
class _Stream:
    volume_mL: float = 0.0
    solid_g: float = 0.0
    holds: list[str] = field(default_factory=list)
    grams: dict[str, float] = field(default_factory=dict)
    pHs: list[float] = field(default_factory=list)

    def count(self, run: Run, amounts: Array) -> None:
        """Adds amounts (C, N) [mmol] to what is known of the mixture."""
        inv = run.inventory
        for key, row in inv.index.items():
            mass_g = float(amounts[row, 0] * inv.molar_mass[row]) * 1e-3
            self.grams[key] = self.grams.get(key, 0.0) + mass_g


def _poured_pH(run: Run, at: int) -> list[float]:
    """pH of the water layer that step ``at`` pours away; none where there is no water."""
    outcome = run.outcomes[at]
    if outcome.facts.shakes:
        return [float(outcome.facts.shakes[-1].pH[0])]
    flask = run.before(at).flasks.get(outcome.step.acts_on)
    return [float(flask.pH[0])] if flask is not None and flask.pH is not None else []


def _poured_away(run: Run, at: int) -> Iterator[tuple[str, str]]:
    """The streams that step ``at`` pours something into, and what it is."""
    step, before, after = run.outcomes[at].step, run.before(at).waste, run.outcomes[at].after.waste
    if WASTE not in step.fills():
        return
    parted = f"the layer of step “{step.id}”" if step.layers() else f"liquid of step “{step.id}”"
    for stream in after:
        if after[stream] is not before.get(stream):
            yield stream, step.acts_on if step.fills() == (WASTE,) else parted


def _stripped_off(run: Run) -> Iterator[tuple[str, Array]]:
    """Solvents [mmol] that went with the vapour of a stripping step, by their own streams."""
    inv, known = run.inventory, run.inventory.tables
    if not any(o.facts.strip for o in run.outcomes):
        return
    for key in inv.solvents:
        gone = np.zeros_like(run.end.air)
        gone[inv.index[key]] = run.end.air[inv.index[key]]
        if float(inv.volume_mL(gone)[0]) > 0.5:
            yield known.solvents[key].waste_stream, gone


def _left_over(exercise: Exercise, run: Run) -> Iterator[tuple[str, Flask]]:
    """Flasks with something in them at the end that is not a weighed product."""
    for name, flask in run.end.flasks.items():
        if name in run.end.weighed or name in {t.flask for t in exercise.setup.targets}:
            continue
        if float(run.inventory.mass_g(flask.total())[0]) > 0.05:
            yield name, flask


def _add_left_over(streams: dict[str, _Stream], run: Run, name: str, flask: Flask) -> None:
    inv = run.inventory
    solid_g = float(inv.mass_g(flask.solid)[0])
    if solid_g > 0.05:
        found = streams.setdefault("solid", _Stream())
        found.solid_g += float(inv.mass_g(flask.total())[0])
    else:
        found = streams.setdefault(_stream_of(run, flask), _Stream())
        found.volume_mL += float(inv.volume_mL(flask.total())[0])
    found.count(run, flask.total())
    if flask.pH is not None and solid_g <= 0.05:
        found.pHs.append(float(flask.pH[0]))
    found.holds.append(f"{name}, left at the end")


def _stream_of(run: Run, flask: Flask) -> str:
    """The stream of a liquid: aqueous, or by whether what is organic in it is halogenated."""
    inv = run.inventory
    if inv.volume_mL(flask.organic)[0] < inv.volume_mL(flask.aqueous)[0]:
        return "aqueous"
    return "halogenated" if Contents(inv, flask.liquid()).is_halogenated else "non_halogenated"
