"""Measured points from DXF drawings: points, symbols with attributes, and the words beside them.

Text drawings are read by their group codes, some megabytes at a time; ezdxf mends what is binary or damaged.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from layoutdesk.core.model import InputProblem

from .drawing import HEADER_BYTES, INSUNITS_M, drawing_document, quiet_drawing
from .measured import Draft
from .measured_layers import layers_read
from .shapes import Source

_WANTED = {"POINT": 0, "INSERT": 1, "TEXT": 2, "MTEXT": 2}
_NAMES = ("POINT", "NUMBER", "PT", "PTNO", "POINTNO", "POINT_NUMBER", "NO", "NR", "NAME", "ID", "PUNKT", "PNR")  # fmt: skip
_DESCRIPTIONS = ("CODE", "DESC", "DESCRIPTION", "FEATURE", "RAW_DESC", "FULL_DESC", "TEXT", "NOTE")
_HEIGHTS = ("ELEV", "ELEVATION", "Z", "HEIGHT", "H", "LEVEL")
_REACH = 4.0
"""Words belong to a point that is no farther than so many heights of their letters."""
_CHUNK_BYTES = 16_000_000
_UNIT = re.compile(rb"\$INSUNITS\s+70\s+(\d+)")
_CODE_PAGE = re.compile(rb"\$DWGCODEPAGE\s+3\s+ANSI_(\d+)")
_ESCAPED = re.compile(r"\\U\+([0-9A-Fa-f]{4})")
_FORMATTING = re.compile(r"\\[A-Za-z][^;\\]*;|[{}]|\\P")


@dataclass
class _Drawn:
    """What was found, entity by entity."""

    layer: list[str] = field(default_factory=list)
    xyz: list[tuple[float, float, float]] = field(default_factory=list)
    tags: list[dict[str, str]] = field(default_factory=list)
    is_insert: list[bool] = field(default_factory=list)
    words: list[tuple[str, float, float, float, str]] = field(default_factory=list)


def read_measured_drawing(path: Path, shown: str, layer: str = "") -> Draft:
    """Points and symbols of the model space; with its attributes, or the words beside it, as name and description.

    Parameters
    ----------
    path : Path
    shown : str
    layer : str
        Of this layer alone; empty for all.

    Raises
    ------
    InputProblem
        When it is no drawing, or has no points on the layer.
    """
    draft = Draft("DXF")
    drawn = _Drawn()
    with path.open("rb") as file:
        head = file.read(HEADER_BYTES)
        file.seek(0)
        try:
            if head.startswith(b"AutoCAD Binary DXF"):
                raise ValueError("binary")
            page = _CODE_PAGE.search(head)
            _scan(io.TextIOWrapper(file, _encoding(head, page), "replace"), drawn)
        except ValueError:
            drawn = _Drawn()
            head = _mended(path, shown, draft, drawn)
    unit = _UNIT.search(head)
    draft.unit_m = INSUNITS_M.get(int(unit[1])) if unit else None
    _of_points(drawn)
    _on_layer(drawn, layer, shown)
    if not drawn.xyz:
        raise InputProblem(
            f"{shown} draws no points and no symbols with words in its model space: export the measured points as "
            "points."
        )
    _fill(draft, drawn)
    counts = {}
    for name in drawn.layer:
        counts[name] = counts.get(name, 0) + 1
    if len(counts) > 1:
        draft.findings.append(layers_read(sorted(counts.items(), key=lambda c: -c[1]), shown))
    else:
        draft.said.append(f"layer {next(iter(counts))}")
    return draft


def _encoding(head: bytes, page) -> str:
    """UTF-8 from release 2007 on, before that the code page that is said."""
    version = re.search(rb"\$ACADVER\s+1\s+AC(\d{4})", head)
    if version and int(version[1]) >= 1021:
        return "utf-8"
    if page:
        try:
            "".encode(f"cp{page[1].decode()}")
            return f"cp{page[1].decode()}"
        except LookupError:
            pass
    return "cp1252" if version else "utf-8"


def _mended(path: Path, shown: str, draft: Draft, drawn: _Drawn) -> bytes:
    """A drawing that cannot be read as it stands, as ezdxf understands it."""
    source = Source("DXF")
    with quiet_drawing():
        document = drawing_document(path, shown, source)
        stream = io.StringIO()
        document.write(stream)
    draft.findings += source.findings
    stream.seek(0)
    try:
        _scan(stream, drawn)
    except ValueError:
        raise InputProblem(
            f"{shown} cannot be read as DXF; save it again as DXF 2007 or later."
        ) from None
    return stream.getvalue()[:HEADER_BYTES].encode("utf-8", "replace")


def _scan(stream, drawn: _Drawn) -> None:
    """Collect from the entities section.

    Raises
    ------
    ValueError
        Where lines are no pairs of group code and value.
    """
    rest: list[str] = []
    inside = False
    owner: dict[str, str] | None = None
    seen = False
    while True:
        text = stream.read(_CHUNK_BYTES)
        if text:
            text += stream.readline()
            lines = [*rest, *text.removesuffix("\n").split("\n")]
        else:
            lines, rest = rest, []
        if len(lines) % 2 and text:
            lines.append(stream.readline().rstrip("\r\n"))
        elif len(lines) % 2:
            lines.pop()
        codes = np.array(list(map(int, lines[0::2])), dtype=np.int32)
        values = lines[1::2]
        starts = np.flatnonzero(codes == 0)
        if text and len(starts):  # the last entity may go on in the next chunk
            rest = lines[2 * int(starts[-1]) :]
            codes = codes[: starts[-1]]
            starts = starts[:-1]
        elif text:
            rest = lines
            continue
        ends = np.append(starts, len(codes))[1:]
        for a, b in zip(starts.tolist(), ends.tolist(), strict=True):
            kind = values[a].strip()
            if kind == "SECTION":
                inside = values[a + 1].strip() == "ENTITIES" if a + 1 < len(values) else False
                seen |= inside
            elif kind == "ENDSEC":
                inside = False
            elif not inside:
                continue
            elif kind == "ATTRIB" and owner is not None:
                said = dict(zip(codes[a:b].tolist(), values[a:b], strict=True))
                owner[said.get(2, "").strip().upper()] = _plain(said.get(1, ""))
            elif kind in _WANTED:
                owner = _take(kind, codes[a:b].tolist(), values[a:b], drawn)
            elif kind != "SEQEND":
                owner = None
        if not text:
            break
    if not seen:
        raise ValueError("no section of entities")


def _take(kind: str, codes: list[int], values: list[str], drawn: _Drawn):
    """One point, symbol or text; gives where its attributes go."""
    said: dict[int, str] = {}
    for code, value in zip(codes, values, strict=True):
        said.setdefault(code, value)
    if said.get(67, "").strip() == "1":  # paper space
        return None
    layer = said.get(8, "0").strip()
    at_x, at_y = (11, 21) if kind == "TEXT" and 11 in said else (10, 20)
    x, y, z = float(said[at_x]), float(said[at_y]), float(said.get(30, 0) or 0)
    if said.get(230, "").strip().startswith("-1") and kind != "POINT":
        x, z = -x, -z  # seen from below
    if _WANTED[kind] == 2:
        text = "".join(v for c, v in zip(codes, values, strict=True) if c in (1, 3))
        drawn.words.append((_plain(text), x, y, float(said.get(40, 1) or 1), layer))
        return None
    tags: dict[str, str] = {}
    drawn.layer.append(layer)
    drawn.xyz.append((x, y, z))
    drawn.tags.append(tags)
    drawn.is_insert.append(kind == "INSERT")
    return tags


def _plain(text: str) -> str:
    text = _ESCAPED.sub(lambda m: chr(int(m[1], 16)), text.strip())
    return " ".join(_FORMATTING.sub(" ", text).split()) if "\\" in text or "{" in text else text


def _of_points(drawn: _Drawn) -> None:
    """Symbols without words are passed over where there is anything else."""
    plain = [s and not t for s, t in zip(drawn.is_insert, drawn.tags, strict=True)]
    if any(plain) and not all(plain):
        _keep(drawn, [not p for p in plain])


def _on_layer(drawn: _Drawn, layer: str, shown: str) -> None:
    wanted = layer.strip().casefold()
    if not wanted:
        return
    kept = [name.casefold() == wanted for name in drawn.layer]
    if not any(kept):
        there = ", ".join(sorted(set(drawn.layer))[:8]) or "none"
        raise InputProblem(
            f"{shown} has no points on a layer {layer!r}: there are some on {there}."
        )
    _keep(drawn, kept)


def _keep(drawn: _Drawn, kept: list[bool]) -> None:
    for name in ("layer", "xyz", "tags", "is_insert"):
        values = getattr(drawn, name)
        setattr(drawn, name, [v for v, k in zip(values, kept, strict=True) if k])


def _fill(draft: Draft, drawn: _Drawn) -> None:
    xyz = np.array(drawn.xyz, dtype=float)
    draft.en = xyz[:, :2]
    draft.height = xyz[:, 2] if xyz[:, 2].any() else np.full(len(xyz), np.nan)
    draft.line = np.arange(1, len(xyz) + 1)
    draft.name, draft.description, heights = _named(drawn.tags)
    if np.isnan(draft.height).all() and np.isfinite(heights).any():
        draft.height = heights
    if any(drawn.tags):
        draft.said.append("names from attributes")
    bare = np.array([not tags for tags in drawn.tags])
    if drawn.words and bare.any():
        _beside(draft, drawn, np.flatnonzero(bare))


def _named(tags: list[dict[str, str]]):
    """Names, descriptions and heights from attributes; all their words where none is known here."""
    names, descriptions, heights = [], [], np.full(len(tags), np.nan)
    for i, said in enumerate(tags):
        name = next((said[t] for t in _NAMES if said.get(t)), "")
        words = list(dict.fromkeys(said[t] for t in _DESCRIPTIONS if said.get(t)))
        if not name and not words:
            words = [text for text in said.values() if text]
        for tag in _HEIGHTS:
            if said.get(tag):
                try:
                    heights[i] = float(said[tag].replace(",", "."))
                    break
                except ValueError:
                    continue
        names.append(name)
        descriptions.append(" ".join(words))
    return names, descriptions, heights


def _beside(draft: Draft, drawn: _Drawn, bare: np.ndarray) -> None:
    """Words near a point without attributes: a whole number is its name, the rest its description."""
    from scipy.spatial import cKDTree

    at = np.array([(x, y) for _, x, y, _, _ in drawn.words])
    high = np.array([h for _, _, _, h, _ in drawn.words])
    distance, nearest = cKDTree(draft.en[bare]).query(at)
    hits = np.flatnonzero(distance <= _REACH * high)
    for i in hits.tolist():
        point, text = int(bare[nearest[i]]), drawn.words[i][0]
        if not text or re.fullmatch(r"[-+]?\d+[.,]\d+", text):  # a height written beside it
            continue
        if text.isdigit() and not draft.name[point]:
            draft.name[point] = text
        else:
            draft.description[point] = f"{draft.description[point]} {text}".strip()
    if len(hits):
        draft.said.append("names from the words beside them")
