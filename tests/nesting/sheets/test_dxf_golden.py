"""The whole of a small cut sheet against a kept record of it.

Renew with ``RENEW_GOLDEN=yes pytest tests/nesting/sheets/test_dxf_golden.py``, and read the diff.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from sheet_nests import sheet_of

from nesting.sheets import write_dxf
from nesting.sheets.dxf_terms import Version
from nesting.units import Unit

GOLDEN = Path(__file__).parents[2] / "golden"

CASES: list[tuple[str, Version, Unit]] = [
    ("cut_sheet_two_parts_r2010", "R2010", Unit.MM),
    ("cut_sheet_two_parts_r12_inches", "R12", Unit.INCH),
]


def summary(path: Path) -> dict[str, Any]:
    """Return entities per layer, length of cut, extents and texts of a written sheet."""
    document = ezdxf.readfile(path)
    entities = list(document.modelspace())
    layers = Counter(f"{entity.dxf.layer} {entity.dxftype()}" for entity in entities)
    texts = sorted((e.dxf.layer, e.plain_text()) for e in entities if e.dxftype() == "TEXT")
    low, high = document.header["$EXTMIN"], document.header["$EXTMAX"]
    return {
        "entities": dict(sorted(layers.items())),
        "cut_length_mm": round(sum(length(e) for e in entities if is_cut(e)), 3),
        "extents": [round(float(value), 3) for value in (*low[:2], *high[:2])],
        "texts": [list(text) for text in texts],
        "paper": on_paper(document),
    }


def on_paper(document: Any) -> dict[str, Any]:
    """Return the paper layout: what it is called, its viewports' scales, its texts."""
    if document.dxfversion == "AC1009":
        return {}
    (name,) = [name for name in document.layout_names() if name != "Model"]
    space = list(document.layout(name))
    ports = [port for port in space if port.dxftype() == "VIEWPORT" and port.dxf.id != 1]
    return {
        "layout": name,
        "scales": [round(port.dxf.view_height / port.dxf.height, 6) for port in ports],
        "texts": [entity.plain_text() for entity in space if entity.dxftype() == "TEXT"],
    }


def is_cut(entity: Any) -> bool:
    return bool(entity.dxf.layer in ("SAW_OPENING", "SAW_OUTLINE"))


def length(entity: Any) -> float:
    from ezdxf.path import make_path

    points = list(make_path(entity).flattening(0.01))
    return float(sum(a.distance(b) for a, b in pairwise(points)))


@pytest.mark.parametrize(("name", "version", "unit"), CASES, ids=[case[0] for case in CASES])
def test_cut_sheet_matches_golden(name: str, version: Version, unit: Unit, tmp_path: Path) -> None:
    path = write_dxf(sheet_of("two parts", unit), tmp_path / "a.dxf", version=version)
    got, kept = summary(path), GOLDEN / f"{name}.json"
    if os.environ.get("RENEW_GOLDEN"):
        kept.write_text(json.dumps(got, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    wanted = json.loads(kept.read_text(encoding="utf-8"))
    assert got["entities"] == wanted["entities"]
    assert got["cut_length_mm"] == pytest.approx(wanted["cut_length_mm"])
    assert got["extents"] == pytest.approx(wanted["extents"])
    assert got["texts"] == wanted["texts"]
    assert got["paper"] == wanted["paper"]


def test_golden_cut_length_is_the_parts_own() -> None:
    """Carlin 1500 x 45, beam 180 x 110 with a cut-out of 40 x 30: reckoned by hand."""
    kept = json.loads((GOLDEN / "cut_sheet_two_parts_r2010.json").read_text(encoding="utf-8"))
    assert kept["cut_length_mm"] == pytest.approx(2 * (1500 + 45) + 2 * (180 + 110) + 2 * (40 + 30))
