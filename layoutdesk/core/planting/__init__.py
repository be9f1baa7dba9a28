"""Planting: which plant and lot stands where, days and crews, checks, what stands, and the first years."""
