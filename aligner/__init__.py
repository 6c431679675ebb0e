"""Alignment of superheterodyne receivers, led step by step and computed from a model of the circuits."""

__version__ = "0.1.0"
