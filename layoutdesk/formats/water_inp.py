"""network.inp: the whole drip system as an input file of EPANET 2.2, for the engineer who approves it."""

from __future__ import annotations

import itertools
import textwrap
import unicodedata
from collections.abc import Iterator

import numpy as np

from ..core.water.design import WaterSet
from ..core.water.drips import friction_of
from .digits import Chosen, Decimal, Records, Whole
from .water_network import (
    BlockOutlets,
    block_names,
    block_outlets,
    network_codes,
    network_emitters,
    network_notes,
    outlet_places,
)
from .waterset import WaterFiles

EPANET_VISCOSITY_M2_S = 1.1e-5 * 0.3048**2
"""At a relative viscosity of 1: EPANET 2.2's source, VISCOS in types.h. [m²/s]"""
EPANET_GRAVITY_M_S2 = 32.2 * 0.3048
"""EPANET 2.2's source, GRAV in types.h, 0.08 % more than standard gravity. [m/s²]"""
_L_MIN = 1 / 60
_FALL_M = 1e-4
"""A pump's heads must fall from flow to flow. [m]"""
_POINTS_AT_LEAST = 4
"""EPANET joins four points or more by straight lines; through three it lays a power curve."""
_INDEX_DIGITS = 3
_COMMENT_WIDE = 96
_PLAIN = str.maketrans(
    {"³": "3", "²": "2", "–": "-", "—": "-", "−": "-", "×": "x", "·": " ", "’": "'", "°": " deg"}
)


def write_network_inp(path, water: WaterFiles) -> None:
    """Write the network; every vine's node is called as its stake.

    Sets run one after another, so each has the source to itself here, and one solution shows all of them as
    they run: a reservoir and a pump with the source's curve, what filter and control head take (TCV), its
    main, and the valve that holds the head behind it (PRV). Flows are in litres a minute, lengths and heads
    in metres, coordinates in the survey grid.
    """
    writer = _Network(water)
    with open(path, "wb") as file:
        for piece in writer.pieces():
            file.write(piece)


def ascii_text(text: str) -> str:
    """A text in plain letters, in one line.

    >>> ascii_text("Größe: 2 m³/h")
    'Grosse: 2 m3/h'
    """
    folded = text.replace("ß", "ss").translate(_PLAIN)
    folded = unicodedata.normalize("NFKD", folded).encode("ascii", "ignore").decode()
    return " ".join(folded.split())


class _Network:
    """The sections of the file, one after another as bytes."""

    def __init__(self, water: WaterFiles):
        self.water, self.design = water, water.design
        self.codes = network_codes(water)
        self.emitters = network_emitters(water)
        self.blocks: list[BlockOutlets] = [
            block_outlets(water, b, self.codes) for b in range(len(water.plans))
        ]
        self.friction = f = friction_of(self._drip())
        self.longer = EPANET_GRAVITY_M_S2 / f.gravity_m_s2
        self.by_darcy = f.law == "darcy-weisbach"

    def _length(self, length_m):
        """Of a pipe as it is written. [m]"""
        return length_m * self.longer if self.by_darcy else length_m

    def _made_up(self) -> str:
        what = "pipes are 0.08 % longer here than in the design, and" if self.by_darcy else ""
        return f"{what} minor losses are 0.08 % greater".strip()

    def _drip(self):
        design = self.design
        drips = [design.water.drip_of(n) for n in design.blocks]
        by_darcy = [d for d in drips if d.law == "darcy-weisbach"]
        return (by_darcy or drips)[0]

    def pieces(self) -> Iterator[bytes]:
        yield self._head().encode()
        yield b"[JUNCTIONS]\n;ID\tElevation\n"
        yield self._few_junctions().encode()
        yield from self._outlets(b"\t", "height", b"\n", {"height": self._heights()})
        yield self._sources().encode()
        yield b"[PIPES]\n;ID\tNode1\tNode2\tLength\tDiameter\tRoughness\tMinorLoss\tStatus\n"
        yield self._few_pipes().encode()
        yield from self._tubes()
        yield self._valves().encode()
        yield b"[EMITTERS]\n;Junction\tCoefficient\n"
        yield from self._fed_outlets()
        yield self._options().encode()
        yield b"[COORDINATES]\n;Node\tX-Coord\tY-Coord\n"
        yield self._few_places().encode()
        if len(self._heights()):
            xy = self.water.to_survey(outlet_places(self.water))
            values = {"x": xy[:, 0], "y": xy[:, 1]}
            yield from self._outlets(b"\t", "x", b"\t", "y", b"\n", values)
        yield b"\n[END]\n"

    # what is said

    def _head(self) -> str:
        water = self.water
        title = [
            f"{water.project.name}: drip system",
            f"{water.said_of}",
            "A proposal to be checked, not a certified design",
        ]
        text = "[TITLE]\n" + "".join(f"{ascii_text(t)[:78]}\n" for t in title) + "\n"
        _, renamed = block_names(water)
        said = [
            water.statement,
            f"Coordinates: {water.survey.statement}.",
            "Lengths, elevations and pressures in m, flows in L/min, diameters in mm inside.",
            "Sets are watered one after another. So each has a source, a pump, a filter and a main of its own here, "
            "at the same places, and one solution shows every set as it runs alone. Laid is one pipe where mains "
            "share a trench, as wide as the widest here.",
            "A source is a reservoir at the level its heads count from, with a pump that has the source's curve; "
            "heads in the curve fall by 0.1 mm where they stay the same, as EPANET asks for. A filter (TCV) takes "
            "what filter, meter and control head lose, at the set's flow. A set's valve (PRV) holds its setting behind it.",
            "A vine's node is called as its stake; a piece of pipe is called as the node it feeds; -I is a drip line's inlet, "
            "-D an emitter in the line, SET1-M0 the beginning of set 1's main.",
            "EPANET reckons with a gravity of 32.2 ft/s2, 0.08 % more than there is, and so with smaller losses. "
            f"To make up for it {self._made_up()}.",
            *renamed,
            *network_notes(water),
            *water.assumed,
            *water.cautions,
        ]
        lines = [
            line
            for t in said
            for line in textwrap.wrap(ascii_text(t), _COMMENT_WIDE, initial_indent="- ")
        ]
        return text + "".join(f"; {line}\n" for line in lines) + "\n"

    # nodes

    def _few_junctions(self) -> str:
        rows, level = self.design.lines.laterals, self.design.source_height_m
        lines = []
        for one in self.design.sets:
            lines.append((f"SET{one.number}-PUMPED", level))
            heights = zip(_main_nodes(one), one.main.height_m.tolist(), strict=True)
            lines += [*heights, (f"SET{one.number}-OUT", one.valve_height_m)]
        lines += [(f"{self.codes[i]}-I", rows.inlet_height_m[i]) for i in self._served()]
        return "".join(f"{name}\t{z:.4f}\n" for name, z in lines)

    def _served(self) -> list[int]:
        return np.flatnonzero(self.design.set_of_lateral >= 0).tolist()

    def _heights(self) -> np.ndarray:
        return self.design.lines.laterals.outlet_height_m

    def _sources(self) -> str:
        level = self.design.source_height_m
        lines = "".join(f"SOURCE-{one.number}\t{level:.4f}\n" for one in self.design.sets)
        return f"\n[RESERVOIRS]\n;ID\tHead\n{lines}\n"

    def _few_places(self) -> str:
        design = self.design
        names: list[str] = []
        places = [np.empty((0, 2))]
        for one in design.sets:
            n, source = one.number, np.array([design.source_xy_m])
            names += [f"SOURCE-{n}", f"SET{n}-PUMPED", *_main_nodes(one), f"SET{n}-OUT"]
            places += [source, source, one.main.xy_m, np.array([one.valve_xy_m])]
        names += [f"{self.codes[i]}-I" for i in self._served()]
        places.append(design.lines.inlet_xy_m[self._served()])
        if not names:
            return ""
        xy = self.water.to_survey(np.concatenate(places)).tolist()
        return "".join(f"{n}\t{x:.4f}\t{y:.4f}\n" for n, (x, y) in zip(names, xy, strict=True))

    # pipes

    def _few_pipes(self) -> str:
        """Mains and submains."""
        codes, rough = self.codes, self._rough()
        lines = []

        def pipe(start, end, length_m, inner_mm):
            size = f"{max(self._length(length_m), 1e-4):.4f}\t{inner_mm:.4f}"
            lines.append(f"{end}\t{start}\t{end}\t{size}\t{rough}\t0\tOpen\n")

        for one in self.design.sets:
            nodes, main = _main_nodes(one), one.main
            for j, (start, end) in enumerate(itertools.pairwise(nodes)):
                pipe(start, end, main.length_m[j], main.inner_mm[j])
            for branch in one.branches:
                start = f"SET{one.number}-OUT"
                for j, i in enumerate(branch.lateral.tolist()):
                    end = f"{codes[i]}-I"
                    pipe(start, end, branch.length_m[j], branch.inner_mm[j])
                    start = end
        return "".join(lines)

    def _rough(self) -> str:
        f = self.friction
        return f"{1e3 * f.roughness_m:.6g}" if self.by_darcy else f"{f.hazen_williams_c:g}"

    def _tubes(self) -> Iterator[bytes]:
        """The piece of tube to every outlet, from its inlet or its neighbour."""
        rows = self.design.lines.laterals
        before = np.where(rows.onward, -1, 1)
        tail = (
            b"\t",
            "length",
            b"\t",
            "inner",
            f"\t{self._rough()}\t".encode(),
            "barb",
            b"\tOpen\n",
        )
        for block in self.blocks:
            some = np.arange(block.outlets.start, block.outlets.stop)
            some = some[self._in_sets()[some]]
            for first in (True, False):
                which = some[rows.at_inlet[some] == first]
                if not len(which):
                    continue
                here = which - block.outlets.start
                values = {
                    **self._names(block, here),
                    "length": np.maximum(self._length(rows.piece_m[which]), 1e-4),
                    "inner": 1e3 * rows.diameter_m[rows.lateral[which]],
                    "barb": self.longer * rows.barb_loss[which],
                }
                columns = {"length": Decimal(5), "inner": Decimal(4), "barb": Decimal(6)}
                name = ("code", block.infix, "index")
                if first:
                    columns["inlet"] = Chosen([c.encode() for c in self.codes])
                    values["inlet"] = rows.lateral[which]
                    start = ("inlet", b"-I")
                else:
                    there = self._names(block, here + before[which])
                    values |= {f"{k}0": v for k, v in there.items()}
                    columns |= {"code0": Chosen(block.codes), "index0": Whole(_INDEX_DIGITS)}
                    start = ("code0", block.infix, "index0")
                records = Records(
                    (*name, b"\t", *start, b"\t", *name, *tail),
                    {**self._named(block), **columns},
                )
                yield from records.encoded(values)

    def _in_sets(self) -> np.ndarray:
        """Which outlets are on laterals that a set waters."""
        design = self.design
        return (design.set_of_lateral >= 0)[design.lines.laterals.lateral]

    @staticmethod
    def _named(block: BlockOutlets) -> dict:
        return {"code": Chosen(block.codes), "index": Whole(_INDEX_DIGITS)}

    @staticmethod
    def _names(block: BlockOutlets, which) -> dict:
        return {"code": block.code[which], "index": block.index[which]}

    def _outlets(self, *parts, only: np.ndarray | None = None) -> Iterator[bytes]:
        """A line an outlet that a set waters: its name, then the parts; the last of them is the values."""
        *parts, values = parts
        wanted = self._in_sets() if only is None else self._in_sets() & only
        for block in self.blocks:
            some = np.flatnonzero(wanted[block.outlets])
            if not len(some):
                continue
            decimals = 9 if "k" in values else 4
            records = Records(
                ("code", block.infix, "index", *parts),
                {**self._named(block), **{n: Decimal(decimals) for n in values}},
            )
            chosen = {n: v[block.outlets][some] for n, v in values.items()}
            yield from records.encoded({**self._names(block, some), **chosen})

    def _fed_outlets(self) -> Iterator[bytes]:
        coefficient = self.emitters.coefficient_l_h * _L_MIN
        fed = coefficient > 0
        yield from self._outlets(b"\t", "k", b"\n", {"k": coefficient}, only=fed)

    # source, valves, options

    def _valves(self) -> str:
        source, sets = self.design.water.source, self.design.sets
        pumps, valves = [], []
        for one in sets:
            n, inner = one.number, float(one.main.inner_mm[-1])
            first, last = _main_nodes(one)[0], _main_nodes(one)[-1]
            pumps.append(f"PUMP-{n}\tSOURCE-{n}\tSET{n}-PUMPED\tHEAD SOURCE-CURVE\n")
            k = velocity_heads(source.losses_m, one.source_flow_m3_h, inner)
            valves.append(f"FILTER-{n}\tSET{n}-PUMPED\t{first}\t{inner:.4f}\tTCV\t{k:.6f}\t0\n")
            valves.append(f"SET{n}\t{last}\tSET{n}-OUT\t{inner:.4f}\tPRV\t{one.head_m:.6f}\t0\n")
        curve = [f"SOURCE-CURVE\t{q:.6f}\t{h:.6f}\n" for q, h in pump_curve(source.curve)]
        sections = (
            ("[PUMPS]\n;ID\tNode1\tNode2\tParameters", pumps),
            ("[VALVES]\n;ID\tNode1\tNode2\tDiameter\tType\tSetting\tMinorLoss", valves),
            ("[CURVES]\n;ID\tFlow\tHead", curve),
        )
        return "".join(f"\n{head}\n{''.join(lines)}" for head, lines in sections) + "\n"

    def _options(self) -> str:
        f = self.friction
        law = "D-W" if self.by_darcy else "H-W"
        options = (
            ("UNITS", "LPM"),
            ("HEADLOSS", law),
            ("SPECIFIC GRAVITY", "1"),
            ("VISCOSITY", f"{f.viscosity_m2_s / EPANET_VISCOSITY_M2_S:.9g}"),
            # Nearly compensating emitters take some 10 divided by the exponent.
            ("TRIALS", "2000"),
            ("ACCURACY", "0.00001"),
            ("UNBALANCED", "STOP"),
            ("EMITTER EXPONENT", f"{self.emitters.exponent:g}"),
        )
        text = "\n[OPTIONS]\n" + "".join(f"{name}\t{value}\n" for name, value in options)
        return text + "\n[TIMES]\nDURATION\t0\n\n[REPORT]\nSTATUS\tNO\nSUMMARY\tNO\n\n"


def _main_nodes(one: WaterSet) -> list[str]:
    """Names of the places along a set's main, from behind the filter to before the valve."""
    return [f"SET{one.number}-M{j}" for j in range(len(one.main.xy_m))]


def velocity_heads(loss_m: float, flow_m3_h: float, inner_mm: float) -> float:
    """Loss at a flow in velocity heads of a pipe, by EPANET's gravity.

    >>> round(velocity_heads(1.0, 3.6, 50.0), 2)
    75.68
    """
    velocity = flow_m3_h / 3600 / (np.pi / 4 * (inner_mm / 1000) ** 2)
    return float(loss_m * 2 * EPANET_GRAVITY_M_S2 / velocity**2) if velocity > 0 else 0.0


def pump_curve(curve) -> list[tuple[float, float]]:
    """A source's curve as EPANET takes it: litres a minute, heads that fall, four points or more.

    >>> [(round(q, 1), round(h, 4)) for q, h in pump_curve(((0.0, 30.0), (6.0, 30.0)))]
    [(0.0, 30.0), (33.3, 29.9999), (66.7, 29.9998), (100.0, 29.9997)]
    """
    flow = np.array([q for q, _ in curve], dtype=float)
    head = np.array([h for _, h in curve], dtype=float)
    while len(flow) < _POINTS_AT_LEAST:
        more = np.linspace(
            0, len(flow) - 1, _POINTS_AT_LEAST if len(flow) == 2 else 2 * len(flow) - 1
        )
        at = np.arange(len(flow))
        flow, head = np.interp(more, at, flow), np.interp(more, at, head)
    head = head - _FALL_M * np.arange(len(head))
    return list(zip((flow * 1000 / 60).tolist(), np.maximum(head, 1e-6).tolist(), strict=True))
