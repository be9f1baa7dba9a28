"""Orientations compared: measures of a plan, the sun on its rows, sweeps over all bearings."""
