"""The separatory funnel at a shake, before it and after: layers to scale, what is in each, pH, gas,
where to cut and where each layer goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workups.chemistry.kinds import charge_of
from workups.chemistry.plan import WASTE, Parting, Plan
from workups.chemistry.substances import Tables
from workups.exercise.exercise import Exercise
from workups.grading.assessment import GasReport, PhaseReport, StepReport
from workups.sheets.funnel_drawn import Glass, Level, draw_glasses
from workups.sheets.layers import shaken_phases
from workups.sheets.svg import Figure
from workups.sheets.unshaken import MIXTURE, Unshaken, unshaken
from workups.words.material_facts import is_bulk, substance_name, substance_word
from workups.words.numbers import NBSP, fixed, percent, rounded, significant
from workups.words.sentences import step_heading

_MOST_CONTENTS = 3
# A substance is named where this share of it is there, and this share of what is most there.
_LEAST_SHARE, _LEAST_OF_MOST = 0.005, 0.005
_CHARGED, _LEAST_OF_PRODUCTS = 0.5, 0.01
_PRODUCT = "● "
_LEAST_GAS_ML, _LEAST_PRESSURE_KPA = 0.5, 0.5


@dataclass(frozen=True)
class Layer:
    """One layer in the funnel, with the share of each dissolved substance that is in it."""

    position: str
    phase: PhaseReport
    shares: tuple[tuple[str, float, float], ...]
    known: Tables
    targets: tuple[str, ...] = ()

    @property
    def most_product_mmol(self) -> float:
        """Of the product of which there is most in the funnel [mmol], both layers together."""
        return max((mmol / share for key, share, mmol in self.shares
                    if key in self.targets and share > 0), default=0.0)

    @property
    def title(self) -> str:
        return f"{self.position.capitalize()} layer: {self.phase.phase}"


def funnel_figure(
    exercise: Exercise,
    plan: Plan,
    reports: Sequence[StepReport],
    step_id: str,
    *,
    shares_only: bool,
) -> Figure:
    """The funnel before a step and after it; ``shares_only``, for students before release, leaves
    the share of every substance and the most gas there may be.

    Raises ValueError for a step that shakes nothing.
    """
    at = plan.index(step_id)
    step = plan.steps[at]
    layers = layers_of(exercise, plan, reports, step_id)
    report = next(r for r in reports if r.step == step_id)
    assert isinstance(step, Parting)
    title = f"Funnel at step {at + 1}: {step_heading(step, exercise)}"
    notes = [*_portion_notes(step), *funnel_notes(report, at_most=shares_only)]
    poured = unshaken(exercise, plan, reports, step_id)
    text = " ".join([
        *_poured_sentences(poured), *(_layer_sentence(layer, shares_only) for layer in layers),
        *_way_sentences(step, layers), *notes])
    glasses = (
        Glass("Before the shake", tuple(_poured_level(u) for u in poured)),
        Glass("Settled", tuple(_level(layer, step, shares_only) for layer in layers),
              above=_vent_words(report), bubbles=_has_gas(report), cut=len(layers) == 2))
    legend = "● product. Per cent: how much of a substance is in this layer."
    drawing = draw_glasses(
        f"funnel-{step_id}", title, text, glasses, [legend, *notes],
        exercise.setup.glassware.funnel_mL)
    header = ("Layer", "Phase", "Volume", "pH", "Substance", "Share of it in this layer")
    return Figure(
        drawing.to_string(),
        title,
        text,
        header if shares_only else (*header, "Amount"),
        tuple(_rows(layers, shares_only)),
    )


def layers_of(
    exercise: Exercise, plan: Plan, reports: Sequence[StepReport], step_id: str
) -> tuple[Layer, ...]:
    """The layers after a step, from the top down. Raises ValueError as ``shaken_phases`` does."""
    phases = shaken_phases(plan, reports, step_id, exercise.setup.glassware.funnel_mL)
    report = next(r for r in reports if r.step == step_id)
    targets = tuple(target.substance for target in exercise.setup.targets)
    return stacked(phases, report.top, exercise.setup.tables, targets)


def stacked(
    phases: Sequence[PhaseReport], top: str, known: Tables, targets: tuple[str, ...] = ()
) -> tuple[Layer, ...]:
    """Layers from the top down, with the share of each substance that is in each."""
    ordered = sorted(phases, key=lambda p: p.phase != top)
    positions = ("upper", "lower") if len(ordered) > 1 else ("only",)
    return tuple(
        Layer(position, phase, _shares(phase, ordered, known), known, targets)
        for position, phase in zip(positions, ordered, strict=False)
    )


def _poured_sentences(poured: Sequence[Unshaken]) -> list[str]:
    parts = [f"{_poured_words(u)} ({', '.join(u.parts)})" for u in poured]
    return [f"Before the shake, from the top: {'; '.join(parts)}."] if parts else []


def _poured_words(liquid: Unshaken) -> str:
    name = "reaction mixture" if liquid.phase == MIXTURE else liquid.phase
    return f"{name}, {rounded(liquid.volume_mL, 'mL', 2)}"


def _poured_level(liquid: Unshaken) -> Level:
    is_mixture = liquid.phase == MIXTURE
    density = f"{fixed(liquid.density_g_mL, 2)} g/mL" if liquid.density_g_mL > 0 else ""
    words = _poured_words(liquid)
    told = (f"{words[0].upper()}{words[1:]}", *filter(None, (density,)), *liquid.parts)
    return Level("other" if is_mixture else liquid.phase, liquid.volume_mL,
                 "mixture" if is_mixture else liquid.phase, told)


def _level(layer: Layer, step: Parting, shares_only: bool) -> Level:
    contents = (words.replace(": ", ", ").replace(" of it", "")
                for words in _contents(layer, shares_only, _PRODUCT))
    told = (f"{layer.position.capitalize()}: {layer.phase.phase}", _measures(layer, shares_only),
            *contents, *_way(layer, step))
    return Level(layer.phase.phase, layer.phase.volume_mL, layer.phase.phase, told)


def _way(layer: Layer, step: Parting) -> list[str]:
    """Where a layer goes, as the plan has it."""
    goes = dict(step.layers()).get(layer.position)
    if goes is None:
        return []
    kept = ", kept" if layer.position == step.keep else ""
    return [f"→ {goes if goes == WASTE else f'‘{goes}’'}{kept}"]


def _way_sentences(step: Parting, layers: Sequence[Layer]) -> list[str]:
    if len(layers) < 2:
        return []
    ways = {layer.position: _way(layer, step)[0].removeprefix("→ ") for layer in layers}
    return [f"Cut between the layers: the lower goes to {ways['lower']}; "
            f"the upper to {ways['upper']}."]


def _has_gas(report: StepReport) -> bool:
    return report.gas is not None and (
        report.gas.dry_mL_high >= _LEAST_GAS_ML
        or report.gas.stoppered_gauge_kPa >= _LEAST_PRESSURE_KPA)


def _vent_words(report: StepReport) -> str:
    if not _has_gas(report):
        return ""
    assert report.gas is not None
    return "vent: gas" if report.gas.dry_mL_high >= _LEAST_GAS_ML else "vapour"


def _portion_notes(step: Parting) -> list[str]:
    if step.shakes == 1:
        return []
    return [f"Drawn for one portion; the shares are those of all {step.shakes} together."]


def _shares(
    phase: PhaseReport, phases: list[PhaseReport], known: Tables
) -> tuple[tuple[str, float, float], ...]:
    """Substance, share of it in this layer and mmol; most first, solvents and water left out.

    Nothing where the contents of a layer are not known.
    """
    if not all(p.amounts_mmol for p in phases):
        return ()
    shares = []
    for key, amount in phase.amounts_mmol:
        total = sum(dict(p.amounts_mmol).get(key, 0.0) for p in phases)
        if total > 0 and not is_bulk(key, known):
            shares.append((key, amount / total, amount))
    return tuple(sorted(shares, key=lambda s: (-s[2], s[0])))


def _content(layer: Layer, key: str, share: float, amount_mmol: float, shares_only: bool) -> str:
    form = _form(layer, key)
    name = f"{substance_word(key, layer.known)}{form}: {percent(share)} of it"
    return name if shares_only else f"{name}, {rounded(amount_mmol, 'mmol')}"


def _form(layer: Layer, key: str) -> str:
    """Whether a substance is charged in the water of its layer."""
    substance = layer.known.substances.get(key)
    if layer.phase.pH is None or substance is None or not substance.pKa:
        return ""
    charge = charge_of(substance, layer.phase.pH)
    return " as cation" if charge > _CHARGED else " as anion" if charge < -_CHARGED else ""


def _contents(layer: Layer, shares_only: bool, mark: str = "") -> list[str]:
    """What dominates in a layer, products first and with a mark; traces, what is all in the other
    layer and CO2 are left out."""
    shares = [s for s in layer.shares if s[0] != "carbon_dioxide" and s[1] >= _LEAST_SHARE]
    most = max((mmol for _, _, mmol in shares), default=0.0)
    products = [s for s in shares if s[0] in layer.targets and not _is_trace(s, layer)]
    others = [s for s in shares if s[0] not in layer.targets and s[2] >= _LEAST_OF_MOST * most]
    room = max(0, _MOST_CONTENTS - len(products))
    return [
        *(f"{mark}{_content(layer, *s, shares_only)}" for s in products),
        *(_content(layer, *s, shares_only) for s in others[:room])]


def _is_trace(told: tuple[str, float, float], layer: Layer) -> bool:
    """Whether next to nothing of a product is in the funnel: its share in a layer says nothing."""
    _, share, mmol = told
    return mmol / share < _LEAST_OF_PRODUCTS * layer.most_product_mmol


def _volume(layer: Layer, shares_only: bool) -> str:
    """The volume; to two figures for students, whose reaction went as far as is public."""
    return rounded(layer.phase.volume_mL, "mL", 2 if shares_only else 3)


def _measures(layer: Layer, shares_only: bool) -> str:
    parts = [_volume(layer, shares_only), f"{fixed(layer.phase.density_g_mL, 2)} g/mL"]
    if layer.phase.pH is not None:
        parts.append(f"pH{NBSP}{fixed(layer.phase.pH, 1)}")
    return ", ".join(parts)


def _layer_sentence(layer: Layer, shares_only: bool) -> str:
    contents = _contents(layer, shares_only)
    held = f" In it: {'; '.join(contents)}." if contents else ""
    return f"{layer.title}, {_measures(layer, shares_only)}.{held}"


def funnel_notes(report: StepReport, *, at_most: bool = False) -> list[str]:
    """Sentences on gas, pressure, filling and layers that may not part well, or not form.

    ``at_most``: of the gas only the cautious end.
    """
    notes = [*_gas_notes(report.gas, at_most)]
    if report.funnel_fill is not None:
        notes.append(f"The funnel is {percent(report.funnel_fill)} full.")
        notes += [f"{note[0].upper()}{note[1:]}." for note in report.notes]
    difference = report.density_difference_g_mL
    if report.may_invert and difference is not None:
        close = f"only {significant(abs(difference), 1)} g/mL apart in density"
        notes.append(f"The layers are {close}: they may invert or part badly.")
    return notes


def _gas_notes(gas: GasReport | None, at_most: bool) -> list[str]:
    if gas is None:
        return []
    notes = []
    if gas.dry_mL_high >= _LEAST_GAS_ML and at_most:
        notes.append(f"Gas: up to {rounded(gas.dry_mL_high, 'mL', 2)}, more with vapour in it.")
    elif gas.dry_mL_high >= _LEAST_GAS_ML:
        volume = f"Gas: about {rounded(gas.with_vapour_mL, 'mL', 2)} with vapour"
        dry = f"{rounded(gas.dry_mL, 'mL', 2)} dry"
        most = f"{rounded(gas.dry_mL_high, 'mL', 2)} at the cautious end"
        notes.append(f"{volume} ({dry}, {most}).")
    if gas.stoppered_gauge_kPa >= _LEAST_PRESSURE_KPA:
        pressure = rounded(gas.stoppered_gauge_kPa, "kPa", 2)
        cause = "gas and vapour" if notes else "solvent vapour"
        notes.append(f"Stoppered at once, {cause} would raise the pressure by up to {pressure}.")
    return notes


def _rows(layers: tuple[Layer, ...], shares_only: bool) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for layer in layers:
        pH = "" if layer.phase.pH is None else fixed(layer.phase.pH, 1)
        head = (layer.position, layer.phase.phase, _volume(layer, shares_only), pH)
        for key, share, amount in layer.shares:
            row = (*head, substance_name(key, layer.known), percent(share))
            rows.append(row if shares_only else (*row, rounded(amount, "mmol")))
        if not layer.shares:
            rows.append((*head, "", "") if shares_only else (*head, "", "", ""))
    return rows
