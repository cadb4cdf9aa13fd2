"""GHS pictograms, drawn here: a red diamond (black on labels), a plain black symbol of our own.

Shapes and colours of the frame follow the open UN standard (GHS); the symbols are simplified.
"""

import math
from functools import lru_cache

from workups.sheets.svg import Drawing
from workups.stock.hazards import PICTOGRAMS

RED, BLACK, WHITE = "#c8102e", "#000000", "#ffffff"
_SIZE = 100
_FLAME = (
    "M51,20 C55,33 68,40 68,55 C68,66 60,72 50,72 C40,72 32,66 32,55 C32,47 37,42 40,35 "
    "C42,40 43,43 46,45 C50,38 52,30 51,20 Z M50,68 C56,68 59,64 59,59 C59,54 54,51 53,46 "
    "C50,52 42,53 42,60 C42,65 45,68 50,68 Z"
)


@lru_cache(maxsize=128)
def pictogram_svg(name: str, key: str = "", frame: str = RED) -> str:
    """One pictogram as SVG; ``key`` makes its ids unique on a page. KeyError: there is none.

    A black frame is for what is printed in black and stays in the house.
    """
    word = PICTOGRAMS[name]
    drawing = Drawing(f"ghs-{name}-{key}", _SIZE, _SIZE, word, f"GHS pictogram: {word}")
    drawing.shape("path", d="M50,4 L96,50 L50,96 L4,50 Z", fill=WHITE, stroke=frame, stroke_width=6)
    _SYMBOLS[name](drawing)
    return drawing.to_string()


def _black(drawing: Drawing, d: str, **more: object) -> None:
    drawing.shape("path", d=d, fill=BLACK, stroke="none", fill_rule="evenodd", **more)


def _stroke(drawing: Drawing, d: str, width: float = 4, ink: str = BLACK) -> None:
    drawing.shape("path", d=d, stroke=ink, stroke_width=width, stroke_linecap="round")


def _flame(drawing: Drawing) -> None:
    _black(drawing, _FLAME)
    _stroke(drawing, "M38,78 H62")


def _flame_over_circle(drawing: Drawing) -> None:
    drawing.shape("circle", cx=50, cy=64, r=12, stroke=BLACK, stroke_width=5)
    _black(drawing, _FLAME, transform="translate(22,8) scale(0.56)")
    _stroke(drawing, "M41,81 H59")


def _exploding_bomb(drawing: Drawing) -> None:
    drawing.shape("circle", cx=50, cy=56, r=13, fill=BLACK, stroke="none")
    for degrees in range(0, 360, 30):
        angle = math.radians(degrees + 15)
        near, far = (17.0, 23.0) if degrees % 60 else (17.0, 29.0)
        ends = [
            (50 + radius * math.cos(angle), 56 + radius * math.sin(angle)) for radius in (near, far)
        ]
        (x1, y1), (x2, y2) = ends
        drawing.line(x1, y1, x2, y2, stroke=BLACK, stroke_width=3)
    _stroke(drawing, "M56,45 C58,36 62,34 66,34", 3)


def _gas_cylinder(drawing: Drawing) -> None:
    turned = "rotate(-35 50 50)"
    drawing.shape(
        "rect", x=24, y=42, width=42, height=16, rx=7, fill=BLACK, stroke="none", transform=turned
    )
    drawing.shape(
        "rect", x=65, y=46, width=6, height=8, fill=BLACK, stroke="none", transform=turned
    )
    drawing.shape(
        "rect", x=72, y=43, width=5, height=14, fill=BLACK, stroke="none", transform=turned
    )


def _corrosion(drawing: Drawing) -> None:
    for mirrored in ("", "translate(100,0) scale(-1,1)"):
        drawing.shape(
            "rect",
            x=25,
            y=33,
            width=21,
            height=8,
            stroke=BLACK,
            stroke_width=3,
            transform=f"{mirrored} rotate(18 35 37)".strip(),
        )
        drop = "M44,47 C47,52 46,55 44,55 C42,55 41,52 44,47 Z"
        _black(drawing, drop, transform=mirrored or None)
    _black(drawing, "M28,62 H38 C39,66 45,66 46,62 H48 V69 H35 Z")
    _black(drawing, "M52,66 C56,61 64,60 73,63 L66,70 C61,73 56,73 52,70 L57,68 Z")


def _skull(drawing: Drawing) -> None:
    _stroke(drawing, "M35,63 L65,76 M65,63 L35,76", 5)
    _black(
        drawing,
        "M50,22 C62,22 68,30 68,40 C68,47 65,50 61,52 V60 H39 V52 C35,50 32,47 32,40 "
        "C32,30 38,22 50,22 Z M42,36 A5,5 0 1 0 42,46 A5,5 0 1 0 42,36 Z "
        "M58,36 A5,5 0 1 0 58,46 A5,5 0 1 0 58,36 Z M50,45 L47,52 H53 Z",
    )
    _stroke(drawing, "M45,55 V60 M50,55 V60 M55,55 V60", 1.5, WHITE)


def _health(drawing: Drawing) -> None:
    drawing.shape("circle", cx=50, cy=28, r=9, fill=BLACK, stroke="none")
    points = []
    for at in range(16):
        angle = math.pi * at / 8
        radius = 13.0 if at % 4 == 0 else (8.5 if at % 2 == 0 else 4.5)
        points.append(f"{50 + radius * math.sin(angle):.2f},{56 - radius * math.cos(angle):.2f}")
    _black(drawing, "M28,66 C28,48 36,39 50,39 C64,39 72,48 72,66 L58,80 H42 Z")
    drawing.shape("polygon", points=" ".join(points), fill=WHITE, stroke="none")


def _exclamation(drawing: Drawing) -> None:
    _black(drawing, "M50,22 C56,22 58,25 57,32 L54,58 H46 L43,32 C42,25 44,22 50,22 Z")
    drawing.shape("circle", cx=50, cy=69, r=6, fill=BLACK, stroke="none")


def _environment(drawing: Drawing) -> None:
    _stroke(drawing, "M24,60 H46", 3)
    _stroke(drawing, "M39,60 V34 M39,50 L31,42 M39,44 L47,36 M39,38 L35,31", 4)
    _black(
        drawing,
        "M42,67 C50,58 60,58 67,65 L73,60 V73 L67,69 C60,75 50,75 42,67 Z "
        "M49,64 A2,2 0 1 0 49,68 A2,2 0 1 0 49,64 Z",
    )


_SYMBOLS = {
    "exploding-bomb": _exploding_bomb,
    "flame": _flame,
    "flame-over-circle": _flame_over_circle,
    "gas-cylinder": _gas_cylinder,
    "corrosion": _corrosion,
    "skull": _skull,
    "health": _health,
    "exclamation": _exclamation,
    "environment": _environment,
}
