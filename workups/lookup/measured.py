"""Measured constants of a substance from the data files of ``chemicals``, each table named.

The library chooses a table itself when asked without a method, and may answer with an estimate
(Joback's groups) without saying so. Here every table is asked by name, estimates are refused and
the refusal is reported.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from statistics import median

from workups.chemistry.constants import KELVIN_AT_0_C
from workups.chemistry.quantity import Quantity
from workups.chemistry.substances import Antoine

ROOM_C = 20.0
# Method name of the library: source key of ours. Wikidata has no editor: grade B.
TABLES = {
    "CRC_ORG": "chemicals_crc_organic",
    "CRC_INORG": "chemicals_crc_inorganic",
    "COMMON_CHEMISTRY": "chemicals_common_chemistry",
    "WEBBOOK": "chemicals_webbook",
    "OPEN_NTBKM": "chemicals_open_notebook",
    "YAWS": "chemicals_yaws",
    "SYRRES": "chemicals_syrres",
    "CRC": "chemicals_crc_logp",
    "IEC 60079-20-1 (2010)": "iec_60079",
    "NFPA 497 (2008)": "nfpa_497",
    "WIKIDATA": "chemicals_wikidata",
}
UNCHECKED = frozenset({"chemicals_wikidata"})
ESTIMATES = {"JOBACK": "Joback's groups", "HEOS": ""}


@dataclass
class Readings:
    """What the tables say of one substance, and what was refused."""

    values: dict[str, Quantity] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)
    antoine: Antoine | None = None


def _asked(look: Callable[..., float | None], methods: list[str], cas: str) -> dict[str, float]:
    """Readings by our source key."""
    found = {TABLES[m]: look(cas, method=m) for m in methods if m in TABLES}
    return {source: float(value) for source, value in found.items() if value is not None}


def _checked(found: Mapping[str, float]) -> dict[str, float]:
    """Edited tables where there are any, else what there is."""
    good = {s: v for s, v in found.items() if s not in UNCHECKED}
    return good or dict(found)


def _middle(found: Mapping[str, float], unit: str, least: float) -> Quantity | None:
    """The reading nearest to the median, uncertain by half the spread but at least ``least``."""
    if not found:
        return None
    found = _checked(found)
    centre = median(found.values())
    source, value = min(found.items(), key=lambda item: abs(item[1] - centre))
    spread = (max(found.values()) - min(found.values())) / 2
    others = f"; {len(found)} tables span {2 * spread:.3g} {unit}" if len(found) > 1 else ""
    grade = "B" if source in UNCHECKED else "A"
    return Quantity(round(value, 3), unit, round(max(least, spread), 2), source, grade,
                    f"nearest the middle of what tables say{others}")


def _temperature(
    name: str, look: Callable[..., float | None], methods: Callable[[str], list[str]],
    cas: str, least: float, readings: Readings,
) -> None:
    available = methods(cas)
    kelvin = _asked(look, available, cas)
    quantity = _middle({s: v - KELVIN_AT_0_C for s, v in kelvin.items()}, "C", least)
    if quantity is not None:
        readings.values[name] = quantity
        return
    for method in available:
        if ESTIMATES.get(method):
            readings.refused.append(
                f"{name.replace('_', ' ')}: only an estimate by {ESTIMATES[method]} exists")


def _log_kow(cas: str, readings: Readings) -> None:
    from chemicals.environment import logP, logP_methods

    found = _middle(_asked(logP, logP_methods(cas), cas), "1", 0.1)
    if found is not None:
        readings.values["log_kow"] = found


def _density(cas: str, readings: Readings) -> None:
    """Of the liquid at 20 C, by Perry's equation 105 or else the VDI one; none for solids."""
    import chemicals
    from chemicals import volume

    melts = readings.values.get("melting_point")
    if melts is not None and melts.value > ROOM_C:
        return
    kelvin = KELVIN_AT_0_C + ROOM_C
    perry, vdi = volume.rho_data_Perry_8E_105_l, volume.rho_data_VDI_PPDS_2
    if cas in perry.index and perry.loc[cas, "Tmin"] <= kelvin:
        row = perry.loc[cas]
        c1, c2, c3, c4 = (float(row[name]) for name in ("C1", "C2", "C3", "C4"))
        molar = c1 / c2 ** (1 + (1 - kelvin / c3) ** c4)
        value, source = molar * chemicals.MW(cas) * 1e-6, "chemicals_perry"
    elif cas in vdi.index:
        row = vdi.loc[cas]
        tau = 1 - kelvin / row["Tc"]
        powers = zip("ABCD", (0.35, 2 / 3, 1.0, 4 / 3), strict=True)
        value = (row["rhoc"] + sum(row[n] * tau**p for n, p in powers)) * 1e-3
        source = "chemicals_vdi"
    else:
        return
    readings.values["density"] = Quantity(
        round(float(value), 4), "g/mL", round(float(value) * 0.003, 4), source, "A",
        "at 20 C from the tabulated equation; uncertainty estimated")


def _vapour_pressure(cas: str, readings: Readings) -> None:
    """Antoine constants as the core wants them (decadic, Pa, K), where a table covers 25 C."""
    import math

    from chemicals import vapor_pressure

    room_K = KELVIN_AT_0_C + 25
    poling = vapor_pressure.Psat_data_AntoinePoling
    landolt = vapor_pressure.Psat_data_Landolt_Antoine
    if cas in poling.index and poling.loc[cas, "Tmin"] <= room_K:
        row, per, source = poling.loc[cas], 1.0, "chemicals_poling"
    elif cas in landolt.index and landolt.loc[cas, "Tmin"] <= room_K:
        # Natural logarithm there.
        row, per, source = landolt.loc[cas], math.log(10.0), "chemicals_landolt"
    else:
        return
    readings.antoine = Antoine(
        float(row["A"]) / per, float(row["B"]) / per, float(row["C"]),
        float(row["Tmin"]), float(row["Tmax"]), 3.0, source, "A")


def measured_values(cas: str) -> Readings:
    """Constants of a substance by CAS number, by the property names of ``values.csv``.

    Boiling and melting point, flash point [C], density [g/mL, liquid, 20 C], log Kow, Antoine
    constants. Each names its table as source; half the spread of the tables is the uncertainty.

    >>> boiling = measured_values("100-66-3").values["boiling_point"]
    >>> round(boiling.value), boiling.unit, boiling.grade
    (154, 'C', 'A')
    """
    from chemicals.phase_change import Tb, Tb_methods, Tm, Tm_methods
    from chemicals.safety import T_flash, T_flash_methods

    readings = Readings()
    _temperature("boiling_point", Tb, Tb_methods, cas, 0.5, readings)
    _temperature("melting_point", Tm, Tm_methods, cas, 1.0, readings)
    _temperature("flash_point", T_flash, T_flash_methods, cas, 2.0, readings)
    _density(cas, readings)
    _log_kow(cas, readings)
    _vapour_pressure(cas, readings)
    return readings
