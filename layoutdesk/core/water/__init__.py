"""Water in the rows: emitters, the tube that feeds them, and how evenly vines are served.

Inside, pressures are heads of water, `head_m` [m], lengths and diameters are in metres, and friction
takes `flow_m3_s`. Flows of emitters and laterals are told in litres an hour, `flow_l_h`, as the
trade does. Pressures in kPa belong to the edge: `head_of_kpa` and `kpa_of_head` pass between them.
"""

from .emitters import Emitter, head_of_kpa, kpa_of_head
from .friction import Friction
from .lateral_flow import LateralFlow, solve_laterals
from .laterals import Laterals, even_laterals

__all__ = [
    "Emitter",
    "Friction",
    "LateralFlow",
    "Laterals",
    "even_laterals",
    "head_of_kpa",
    "kpa_of_head",
    "solve_laterals",
]
