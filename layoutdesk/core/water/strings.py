"""One step of Newton's method on strings of nodes: drip lines from their inlets, submains from valves."""

from __future__ import annotations

import numpy as np


class Strings:
    """Nodes one after another, each fed by one piece of pipe from its neighbour or from a string's head.

    Parameters
    ----------
    joined : bool array, shape (t - 1,)
        Whether one piece joins a node and the next; where none does another string begins.
    onward : bool array, shape (t,)
        Whether water reaches a node from the one before it, else from the one behind.

    Notes
    -----
    A piece's flow is `still + open_to · fall of head` next to the flow it has, as
    Todini and Pilati have it (A gradient method for the analysis of pipe networks, 1987).
    """

    def __init__(self, joined: np.ndarray, onward: np.ndarray):
        self.joined, self.back = joined, ~onward[1:]
        # The piece that joins two nodes feeds the second, or the first where water comes from behind.
        self.joint = np.arange(len(joined)) + onward[1:]

    def heads_below(self, open_to, still, rise, given, also=None):
        """Total heads of all nodes, from that at their strings' heads, (t,). [m]

        Parameters
        ----------
        open_to, still : float array, shape (t,)
            Of the piece that feeds each node. [m²/s], [m³/s]
        rise, given : float array, shape (t,)
            What leaves each node is `given + rise · head below`. [m²/s], [m³/s]
        also : float array, shape (t,), optional
            Another `given`, for pipes where nothing is still; then (t, 2) comes back.
        """
        joint_open = np.where(self.joined, open_to[self.joint], 0.0)
        joint_still = np.where(self.joined, still[self.joint], 0.0)
        diagonal = rise + open_to
        # Each joint's piece is already in the node it feeds; here it enters the one it leaves.
        diagonal[:-1] += np.where(self.back, 0.0, joint_open)
        diagonal[1:] += np.where(self.back, joint_open, 0.0)
        right = np.empty((len(diagonal), 1 if also is None else 2), order="F")
        one = right[:, 0]
        np.subtract(still, given, out=one)
        one[:-1] -= np.where(self.back, 0.0, joint_still)
        one[1:] -= np.where(self.back, joint_still, 0.0)
        if also is not None:
            np.negative(also, out=right[:, 1])
        found = _solved(diagonal, -joint_open, right)
        return found[:, 0] if also is None else found

    def flows(self, open_to, still, below) -> np.ndarray:
        """Flow in the piece that feeds each node, at heads below, (t,). [m³/s]"""
        ahead = np.zeros_like(below)
        ahead[1:] = np.where(self.joined & ~self.back, below[:-1], ahead[1:])
        ahead[:-1] = np.where(self.joined & self.back, below[1:], ahead[:-1])
        return still + open_to * (ahead - below)


def _solved(diagonal, beside, right):
    """Solution of a symmetric tridiagonal system, positive definite; all arrays are written over."""
    from scipy.linalg.lapack import dptsv

    if len(diagonal) == 1:  # LAPACK's wrapper wants something beside the diagonal
        return right / diagonal[0]
    return dptsv(diagonal, beside, right, overwrite_d=1, overwrite_e=1, overwrite_b=1)[2]
