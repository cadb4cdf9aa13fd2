"""The separatory funnel after a shake: two layers to scale, what is in each, pH and gas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workups.chemistry.plan import Plan, Step
from workups.chemistry.substances import Tables
from workups.exercise.exercise import Exercise
from workups.grading.assessment import GasReport, PhaseReport, StepReport
from workups.sheets.layers import shaken_phases
from workups.sheets.svg import Area, Drawing, Figure, wrapped
from workups.words.material_facts import is_bulk, substance_name, substance_word
from workups.words.numbers import NBSP, fixed, percent, rounded, significant
from workups.words.sentences import step_heading

_WIDTH = 340.0
_BODY = Area(6, 34, 120, 200)
_TEXT_X = 146.0
_MOST_CONTENTS = 3
# A substance is named where this share of it is there, and this share of what is most there.
_LEAST_SHARE, _LEAST_OF_MOST = 0.005, 0.005
_LEAST_GAS_ML, _LEAST_PRESSURE_KPA = 0.5, 0.5


@dataclass(frozen=True)
class Layer:
    """One layer in the funnel, with the share of each dissolved substance that is in it."""

    position: str
    phase: PhaseReport
    shares: tuple[tuple[str, float, float], ...]
    known: Tables

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
    """The funnel after a step; ``shares_only``, for students before release, leaves the share of
    every substance and the most gas there may be.

    Raises ValueError for a step that shakes nothing.
    """
    at = plan.index(step_id)
    step = plan.steps[at]
    capacity_mL = exercise.setup.glassware.funnel_mL
    phases = shaken_phases(plan, reports, step_id, capacity_mL)
    report = next(r for r in reports if r.step == step_id)
    layers = stacked(phases, report.top, exercise.setup.tables)
    title = f"Funnel after step {at + 1}: {step_heading(step, exercise)}"
    notes = [*_portion_notes(step), *funnel_notes(report, at_most=shares_only)]
    text = " ".join([*(_layer_sentence(layer, shares_only) for layer in layers), *notes])
    drawing = _draw(f"funnel-{step_id}", title, text, layers, notes, capacity_mL, shares_only)
    header = ("Layer", "Phase", "Volume", "pH", "Substance", "Share of it in this layer")
    return Figure(
        drawing.to_string(),
        title,
        text,
        header if shares_only else (*header, "Amount"),
        tuple(_rows(layers, shares_only)),
    )


def stacked(phases: Sequence[PhaseReport], top: str, known: Tables) -> tuple[Layer, ...]:
    """Layers from the top down, with the share of each substance that is in each."""
    ordered = sorted(phases, key=lambda p: p.phase != top)
    positions = ("upper", "lower") if len(ordered) > 1 else ("only",)
    return tuple(
        Layer(position, phase, _shares(phase, ordered, known), known)
        for position, phase in zip(positions, ordered, strict=False)
    )


def _portion_notes(step: Step) -> list[str]:
    portions = getattr(step, "portions", 1)
    if portions == 1:
        return []
    return [f"Drawn for one portion; the shares are those of all {portions} together."]


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


def _content(
    known: Tables, key: str, share: float, amount_mmol: float, shares_only: bool
) -> str:
    name = f"{substance_word(key, known)}: {percent(share)} of it"
    return name if shares_only else f"{name}, {rounded(amount_mmol, 'mmol')}"


def _contents(layer: Layer, shares_only: bool) -> list[str]:
    """What dominates in a layer; traces, what is all in the other layer and CO2 are left out."""
    shares = [s for s in layer.shares if s[0] != "carbon_dioxide" and s[1] >= _LEAST_SHARE]
    most = max((mmol for _, _, mmol in shares), default=0.0)
    dominant = [s for s in shares if s[2] >= _LEAST_OF_MOST * most][:_MOST_CONTENTS]
    return [_content(layer.known, *s, shares_only) for s in dominant]


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
    """Sentences on gas, pressure, filling and layers that may not part well.

    ``at_most``: of the gas only the cautious end.
    """
    notes = [*_gas_notes(report.gas, at_most)]
    if report.funnel_fill is not None:
        notes.append(f"The funnel is {percent(report.funnel_fill)} full.")
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
        notes.append(f"Gas: up to about {rounded(_most_gas_mL(gas), 'mL', 2)} with vapour.")
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


def _most_gas_mL(gas: GasReport) -> float:
    """The cautious end of the gas, filled up with as much vapour as its middle is."""
    return gas.dry_mL_high * (gas.with_vapour_mL / gas.dry_mL if gas.dry_mL > 0 else 1.0)


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


def _draw(
    key: str,
    title: str,
    text: str,
    layers: tuple[Layer, ...],
    notes: list[str],
    capacity_mL: float,
    shares_only: bool,
) -> Drawing:
    heading = wrapped(title, _WIDTH - 16, 14)
    note_lines = [line for note in notes for line in wrapped(note, _WIDTH - 16, 13)]
    blocks = [_block(layer, shares_only) for layer in layers]
    shift = 18.0 * (len(heading) - 1)
    body = Area(_BODY.x, _BODY.y + shift, _BODY.width, _BODY.height)
    text_height = sum(17.0 * len(block) + 12 for block in blocks)
    notes_y = max(body.bottom + 40, body.y + 20 + text_height) + 18
    drawing = Drawing(key, _WIDTH, notes_y + 17 * len(note_lines), title, text)
    drawing.paragraph(8, 18, heading, font_size=14, font_weight="bold")
    middles = _draw_funnel(drawing, body, layers, capacity_mL)
    _draw_blocks(drawing, body, blocks, middles)
    drawing.paragraph(8, notes_y, note_lines)
    return drawing


def _block(layer: Layer, shares_only: bool) -> list[str]:
    width = _WIDTH - _TEXT_X - 4
    lines = [layer.title, *wrapped(_measures(layer, shares_only), width)]
    for content in _contents(layer, shares_only):
        lines.extend(wrapped(content, width))
    return lines


def _draw_blocks(
    drawing: Drawing, body: Area, blocks: list[list[str]], middles: list[tuple[float, float]]
) -> None:
    """The words beside the funnel, each block led to the middle of its layer by a line."""
    y = body.y + 14
    for block, (edge_x, middle_y) in zip(blocks, middles, strict=True):
        drawing.shape(
            "polyline",
            stroke_width=0.8,
            points=(
                f"{edge_x:.1f},{middle_y:.1f} {_TEXT_X - 16:.1f},{middle_y:.1f} "
                f"{_TEXT_X - 10:.1f},{y - 4:.1f} {_TEXT_X - 4:.1f},{y - 4:.1f}"
            ),
        )
        drawing.text(_TEXT_X, y, block[0], font_weight="bold")
        y = drawing.paragraph(_TEXT_X, y + 17, block[1:]) + 12


def _radius(height: np.ndarray) -> np.ndarray:
    """Inner radius of the funnel at heights 0 (tap) to 1 (neck), in units of its height."""
    cone = 0.035 + 0.265 * np.minimum(height, 0.68) / 0.68
    dome = 0.300 * np.sqrt(np.clip(1 - ((height - 0.68) / 0.335) ** 2, 0, 1))
    return np.where(height <= 0.68, cone, np.maximum(dome, 0.06))


def level_of_volume(share_of_capacity: float) -> float:
    """Height (0..1) at which a share of the funnel's capacity stands in it."""
    heights = np.linspace(0.0, 1.0, 401)
    volume = np.concatenate([[0.0], np.cumsum(_radius((heights[1:] + heights[:-1]) / 2) ** 2)])
    return float(np.interp(share_of_capacity * volume[-1], volume, heights))


def _outline(body: Area, low: float, high: float) -> str:
    """The inside of the funnel between two heights as the points of a polygon."""
    heights = np.linspace(low, high, 41)
    radii = _radius(heights) * body.height
    middle = body.x + body.width / 2
    ys = body.bottom - heights * body.height
    right = [f"{middle + r:.1f},{y:.1f}" for r, y in zip(radii, ys, strict=True)]
    left = [f"{middle - r:.1f},{y:.1f}" for r, y in zip(radii[::-1], ys[::-1], strict=True)]
    return " ".join(right + left)


def _draw_funnel(
    drawing: Drawing, body: Area, layers: tuple[Layer, ...], capacity_mL: float
) -> list[tuple[float, float]]:
    """Draw glass and layers; returns per layer, top first, the point on its right edge."""
    points: list[tuple[float, float]] = []
    filled_mL = 0.0
    for layer in reversed(layers):
        low = level_of_volume(min(1.0, filled_mL / capacity_mL))
        filled_mL += layer.phase.volume_mL
        high = level_of_volume(min(1.0, filled_mL / capacity_mL))
        drawing.hatched(layer.phase.phase, "polygon", points=_outline(body, low, high))
        middle = (low + high) / 2
        radius = float(_radius(np.array(middle))) * body.height
        points.append((body.x + body.width / 2 + radius, body.bottom - middle * body.height))
    _draw_glass(drawing, body)
    return points[::-1]


def _draw_glass(drawing: Drawing, body: Area) -> None:
    middle = body.x + body.width / 2
    drawing.shape("polygon", points=_outline(body, 0.0, 1.0), stroke_width=2)
    drawing.shape("rect", x=middle - 9, y=body.y - 9, width=18, height=9, rx=2, stroke_width=2)
    drawing.shape("rect", x=middle - 18, y=body.bottom, width=36, height=8, rx=3, stroke_width=2)
    drawing.shape("path", d=f"M{middle - 5:.1f},{body.bottom + 8:.1f} v26 h10 v-26", stroke_width=2)
