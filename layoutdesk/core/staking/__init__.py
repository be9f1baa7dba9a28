"""Points to be staked, and what was staked: which, in which order, how they fit, what went wrong."""
