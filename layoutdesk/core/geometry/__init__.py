"""Plane geometry with no vineyard words: axes, edges, scanlines, stationing."""
