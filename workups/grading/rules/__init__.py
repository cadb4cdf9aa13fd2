"""All rules of grading. Importing this package registers them."""

from . import bookkeeping, drying, gas, layers, sequence, washing

__all__ = ["bookkeeping", "drying", "gas", "layers", "sequence", "washing"]
