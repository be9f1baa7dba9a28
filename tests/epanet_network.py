"""Laterals as an EPANET network, solved by EPANET's C toolkit: a judge from outside."""

from __future__ import annotations

import ctypes
from pathlib import Path

import numpy as np

GRAVITY_M_S2 = 32.2 * 0.3048  # EPANET's own, Users Manual 2.2, appendix on its equations
VISCOSITY_M2_S = 1.1e-5 * 0.3048**2  # EPANET's at a relative viscosity of 1


def write_network(path: Path, laterals, emitter, friction, inlet_head_m, trials=2000) -> None:
    """An input file with a reservoir for each inlet and a junction for each outlet. Flows in L/s."""
    lateral, onward, at_inlet = laterals.lateral, laterals.onward, laterals.at_inlet
    inlet_total = laterals.inlet_height_m + np.broadcast_to(inlet_head_m, (len(laterals),))
    law = {"darcy-weisbach": "D-W", "hazen-williams": "H-W"}[friction.law]
    rough = friction.roughness_m * 1e3 if law == "D-W" else friction.hazen_williams_c
    lines = ["[JUNCTIONS]"]
    lines += [f"J{i} {z:.9f} 0" for i, z in enumerate(laterals.outlet_height_m)]
    lines += ["[RESERVOIRS]"] + [f"R{i} {e:.9f}" for i, e in enumerate(inlet_total)]
    lines += ["[PIPES]"]
    for i in range(len(lateral)):
        start = f"R{lateral[i]}" if at_inlet[i] else f"J{i - 1 if onward[i] else i + 1}"
        size = laterals.diameter_m[lateral[i]] * 1e3
        lines.append(
            f"P{i} {start} J{i} {laterals.piece_m[i]:.9f} {size:.9f} {rough:.9g}"
            f" {laterals.barb_loss[i]:.9g} OPEN"
        )
    lines += ["[EMITTERS]"]
    lines += [f"J{i} {e * emitter.k_l_h / 3600:.12g}" for i, e in enumerate(laterals.emitters)]
    lines += ["[OPTIONS]", "UNITS LPS", f"HEADLOSS {law}", f"EMITTER EXPONENT {emitter.exponent}"]
    lines += [f"VISCOSITY {friction.viscosity_m2_s / VISCOSITY_M2_S:.12g}", f"TRIALS {trials}"]
    lines += ["ACCURACY 0.00001", "UNBALANCED STOP", "[TIMES]", "DURATION 0"]
    lines += ["[REPORT]", "STATUS NO", "SUMMARY NO", "MESSAGES NO", "[END]", ""]
    path.write_text("\n".join(lines))


def solve_network(path: Path, n_outlets: int) -> tuple[np.ndarray, np.ndarray, float]:
    """Head and flow at each outlet, and the trials EPANET took. [m], [L/h]"""
    from epanet import toolkit

    project = toolkit.createproject()
    try:
        toolkit.open(project, str(path), str(path.with_suffix(".rpt")), "")
        toolkit.solveH(project)
        head = _values(toolkit, project, toolkit.PRESSURE)[:n_outlets]
        flow = _values(toolkit, project, toolkit.DEMAND)[:n_outlets] * 3600
        trials = toolkit.getstatistic(project, toolkit.ITERATIONS)
        toolkit.close(project)
    finally:
        toolkit.deleteproject(project)
    return head, flow, trials


def _values(toolkit, project, of_what) -> np.ndarray:
    n = toolkit.getcount(project, toolkit.NODECOUNT)
    held = toolkit.doubleArray(n)
    toolkit.getnodevalues(project, of_what, held.cast())
    # The toolkit's own array gives one number at a time; all at once costs EPANET nothing.
    return np.array((ctypes.c_double * n).from_address(int(held.cast())))
