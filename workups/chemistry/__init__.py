"""The simulation of a workup: standard library and numpy only."""

ENGINE_VERSION = "12"
