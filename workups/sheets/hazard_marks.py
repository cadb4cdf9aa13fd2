"""What a printed label shows of hazards: signal word, pictograms and a few words, in black."""

from collections.abc import Iterable
from dataclasses import dataclass

from workups.sheets.pictograms import BLACK, pictogram_svg
from workups.stock.hazards import pictograms_of, signal_word
from workups.words.material_facts import hazard_words

# Pictograms of 12 mm stand two by two beside the lines to write on; more are made smaller.
_FIT_LARGE = 4


@dataclass(frozen=True)
class HazardMarks:
    """All empty where nothing is known to be hazardous."""

    signal: str
    words: tuple[str, ...]
    pictograms: tuple[str, ...]

    @property
    def are_many(self) -> bool:
        """Whether the pictograms have to be smaller to fit on a label."""
        return len(self.pictograms) > _FIT_LARGE


def hazard_marks(codes: Iterable[str], key: object) -> HazardMarks:
    """Hazard statements as marks of a label; ``key`` makes the drawings' ids unique."""
    codes = tuple(codes)
    drawn = (pictogram_svg(name, str(key), BLACK) for name in pictograms_of(codes))
    return HazardMarks(signal_word(codes), hazard_words(codes), tuple(drawn))
