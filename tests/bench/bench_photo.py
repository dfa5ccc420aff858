"""How well boards are read from photographs: rendered ones with known truth.

    python tests/bench/bench_photo.py [--seeds 101 131] [--pixels 4000x3000] [--textures FOLDER]

Each seed is one board, ground, light and camera drawn by lot (the renderer of the tests). With a
folder of real textures (its subfolders wood and ground) three boards in ten and six grounds in
ten are made of those. Seeds up to 100 were looked at while limits were set; figures are told of
others. ``--amiss KIND`` changes each scene by what happens in a yard (``odd_scenes``): a tape on
the board, a second board, a twisted one and so on.
"""

import argparse
import pickle
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import shapely
from shapely.geometry import LinearRing

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "nesting" / "photo")]

from odd_scenes import AMISS  # noqa: E402
from photograph_renderer import photographed, random_case  # noqa: E402

from nesting.errors import PhotographError  # noqa: E402
from nesting.photo.photographed import Asked, measured  # noqa: E402

NEAR_MM = 4.0
SURE, LISTED = 0.8, 0.3


def case(seed, pixels, textures, kept, amiss=None):
    """Return scene, camera and picture, from a folder where they are kept if they are there."""
    name = f"{pixels[0]}-{seed}.pkl" if amiss is None else f"{amiss}-{pixels[0]}-{seed}.pkl"
    path = kept / name if kept else None
    if path and path.exists():
        scene, camera, coded = pickle.loads(path.read_bytes())
        return scene, camera, cv2.imdecode(coded, cv2.IMREAD_COLOR)
    scene, camera = random_case(seed, pixels=pixels, samples=textures)
    if amiss is not None:
        scene, camera = AMISS[amiss](scene, camera, np.random.default_rng([seed, 11]))
    picture = photographed(scene, camera)
    if path:
        from dataclasses import replace

        bare = replace(scene, face=None, cover=None, ground=None, paper=None, paper_cover=None)
        coded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 95])[1]
        path.write_bytes(pickle.dumps((bare, camera, coded)))
        picture = cv2.imdecode(coded, cv2.IMREAD_COLOR)
    return scene, camera, picture


def to_truth(scene, board):
    """Return what carries the board's frame onto the scene's: turn and shift, found by the
    outline.
    """
    true = np.array(shapely.segmentize(LinearRing(scene.outline), 4.0).coords)
    mine = np.array(shapely.segmentize(board.outline.exterior, 4.0).coords)
    found = []
    for start in (0.0, np.pi):
        turn, shift = spin(start), true.mean(0) - mine.mean(0) @ spin(start).T
        tree = shapely.STRtree(shapely.points(true))
        for turn_number in range(60):
            moved = mine @ turn.T + shift
            near = true[tree.nearest(shapely.points(moved))]
            off = np.hypot(*(moved - near).T)
            # At last an end that was lost pulls nothing.
            use = off <= (200.0 if turn_number < 40 else max(4.0, 3 * np.median(off)))
            a, b = mine[use] - mine[use].mean(0), near[use] - near[use].mean(0)
            u, _, v = np.linalg.svd(a.T @ b)
            turn = v.T @ np.diag([1, np.sign(np.linalg.det(v.T @ u.T))]) @ u.T
            shift = near[use].mean(0) - mine[use].mean(0) @ turn.T
        moved = mine @ turn.T + shift
        off = float(np.median(np.hypot(*(moved - true[tree.nearest(shapely.points(moved))]).T)))
        found.append((off, turn, shift))
    if max(f[0] for f in found) > 2.0 + 2 * min(f[0] for f in found):
        return min(found, key=lambda f: f[0])[1:]
    # A board that is the same turned half round: its holes say which way it lies.
    holes = np.array([h[:2] for h in (*scene.holes, *scene.recesses)])
    mine = np.array([(f.x, f.y) for f in board.finds if f.confidence >= SURE]).reshape(-1, 2)

    def apart(one):
        moved = mine @ one[1].T + one[2]
        off = np.linalg.norm(holes[:, None] - moved[None], axis=2).min(axis=1, initial=99.0)
        return float(np.minimum(off, 12.0).sum())

    return min(found, key=apart)[1:]


def spin(angle):
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def edge_misses(scene, board, turn, shift):
    """Return distances of the found edge from the true one, and of the true one from the found."""
    mine = np.array(shapely.segmentize(board.outline.exterior, 3.0).coords) @ turn.T + shift
    true = shapely.segmentize(LinearRing(scene.outline), 3.0)
    there = shapely.distance(shapely.points(mine), true)
    back = shapely.distance(shapely.points(np.array(true.coords)), LinearRing(mine))
    return there, back


TOLD_MM = 15.0
"""A place so near a stretch or a bite that is told as doubtful is no wrong edge in silence."""


def silent_miss(scene, board, turn, shift):
    """Return how far the edge is off at most where nothing is told as doubtful.

    A place of the true edge is told where the found one nearest to it is, however far that lies.
    """
    rim = LinearRing(np.array(board.outline.exterior.coords) @ turn.T + shift)
    true = LinearRing(scene.outline)
    told = [one.line for one in board.stretches]
    told += [np.array(bite.exterior.coords) for bite in board.bites]
    near = [shapely.LineString(line @ turn.T + shift).buffer(TOLD_MM) for line in told]
    zone = shapely.union_all(near)
    worst = 0.0
    for one, other in ((rim, true), (true, rim)):
        places = shapely.points(np.array(shapely.segmentize(one, 3.0).coords))
        found = rim.interpolate(rim.project(places))
        open_ = ~shapely.intersects(zone, places) & ~shapely.intersects(zone, found)
        worst = max(worst, float(shapely.distance(places, other)[open_].max(initial=0.0)))
    return worst


RIGHT_MM = 2.0
"""A stretch that is told is told for nothing if the edge is off by no more anywhere along it."""


def told_for_nothing(scene, board, turn, shift):
    """Return how many stretches and bites are told, and how many of them for nothing."""
    rim = np.array(shapely.segmentize(board.outline.exterior, 3.0).coords) @ turn.T + shift
    true = LinearRing(scene.outline)
    off = shapely.distance(shapely.points(rim), true)
    told = [one.line for one in board.stretches]
    told += [np.array(bite.exterior.coords) for bite in board.bites]
    wrong = 0
    for line in told:
        zone = shapely.LineString(line @ turn.T + shift).buffer(5.0)
        along = shapely.intersects(zone, shapely.points(rim))
        back = shapely.intersection(true, zone.buffer(TOLD_MM))
        places = shapely.points(shapely.get_coordinates(shapely.segmentize(back, 3.0)))
        most = float(shapely.distance(places, LinearRing(rim)).max(initial=0.0))
        wrong += max(float(off[along].max(initial=0.0)), most) > RIGHT_MM
    return len(told), len(told) - wrong


def tell_finds(scene, board, turn, shift, tally):
    """Count finds against truth, kind by kind."""
    finds = [(f, np.array([f.x, f.y]) @ turn.T + shift) for f in board.finds]
    used = set()
    blind = shapely.union_all([one.shape for one in board.blind])
    for kind in ("hole", "recess", "bung", "knot"):
        name = {"recess": "recesses"}.get(kind, kind + "s")
        for x, y, d in getattr(scene, name):
            near = [(float(np.hypot(*(at - (x, y)))), i) for i, (_, at) in enumerate(finds)]
            off, i = min(near, default=(99.0, -1))
            found = finds[i][0] if off < max(NEAR_MM, d / 3) else None
            is_told = shapely.intersects_xy(blind, *((np.array([x, y]) - shift) @ turn))
            is_missed = found is None or found.confidence < LISTED
            kept = f"{kind} in a patch told to hide holes" if is_told and is_missed else kind
            tally.setdefault(kept, []).append((d, off, found))
            if found is not None:
                used.add(i)
    for i, (f, _) in enumerate(finds):
        if i not in used:
            tally.setdefault("nothing", []).append((f.diameter, 0.0, f))


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", nargs=2, type=int, default=(101, 131))
    parser.add_argument("--pixels", default="4000x3000")
    parser.add_argument("--textures", type=Path)
    parser.add_argument("--amiss", choices=AMISS)
    parser.add_argument("--kept", type=Path, help="folder to keep pictures in, and take them from")
    parser.add_argument("--seen", type=Path, help="folder for overlays")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    pixels = tuple(map(int, given.pixels.split("x")))
    tally, medians, worsts, scales, seconds, refused, silents = {}, [], [], [], [], [], []
    tells = []
    for seed in range(*given.seeds):
        scene, _, picture = case(seed, pixels, given.textures, given.kept, given.amiss)
        begun = time.process_time()
        try:
            board = measured(f"seed-{seed}", ["x"], [picture], [None], Asked(scene.thickness))
        except PhotographError as error:
            refused.append(seed)
            print(f"{seed}: no board: {error}", flush=True)
            continue
        seconds.append(time.process_time() - begun)
        turn, shift = to_truth(scene, board)
        there, back = edge_misses(scene, board, turn, shift)
        medians.append(float(np.median(there)))
        worsts.append(float(max(there.max(), back.max())))
        silents.append(silent_miss(scene, board, turn, shift))
        tells.append(told_for_nothing(scene, board, turn, shift))
        scales.append(board.outline.bounds[2] - np.ptp(scene.outline[:, 0]))
        own = {}
        tell_finds(scene, board, turn, shift, own)
        for kind, rows in own.items():
            tally.setdefault(kind, []).extend(rows)
        missed = [r for r in own.get("hole", []) if r[2] is None or r[2].confidence < SURE]
        false = [
            r
            for r in own.get("nothing", [])
            if r[2].kind == "hole" and r[2].confidence >= SURE and r[0] >= 6
        ]
        print(
            f"{seed}: edge {medians[-1]:.2f} median {worsts[-1]:.1f} worst ({silents[-1]:.1f} "
            f"where nothing is told), length {scales[-1]:+.1f}"
            f" (doubt {board.doubt_mm:.1f}), holes {len(own.get('hole', []))} less {len(missed)} "
            f"and {len(false)} false, told {tells[-1][0]} and {tells[-1][1]} of them for nothing, "
            f"{seconds[-1]:.2f} s {board.notes}",
            flush=True,
        )
        if given.seen:
            from nesting.photo.photo_overlay import overlay_png
            from nesting.units import Unit

            (given.seen / f"seen-{seed}.png").write_bytes(overlay_png(board, Unit.MM))
    summary(tally, medians, worsts, silents, tells, seconds, refused)


def summary(tally, medians, worsts, silents, tells, seconds, refused):
    """Print the figures over all pictures."""
    if not medians:
        print("no board at all")
        return
    print(
        f"boards {len(medians)}, refused {refused}; edge: median of medians "
        f"{np.median(medians):.2f}, worst median {max(medians):.2f}, worst of all {max(worsts):.1f} mm, "  # noqa: E501
        f"{sum(w > 5 for w in worsts)} boards over 5 mm, {sum(s > 5 for s in silents)} of them "
        f"where nothing is told; seconds median {np.median(seconds):.2f} "
        f"most {max(seconds):.2f}"
    )
    good = [told for (told, _), worst in zip(tells, worsts, strict=True) if worst <= 5]
    print(
        f"stretches told {sum(t for t, _ in tells)}, for nothing {sum(n for _, n in tells)}; of "
        f"{len(good)} boards right within 5 mm something is told of {sum(t > 0 for t in good)}"
    )
    every = [r for rows in tally.values() for r in rows]
    sure = [
        r
        for r in every
        if r[2] and r[2].kind == "hole" and r[2].confidence >= SURE and r[2].diameter >= 6
    ]
    holes = [r for r in tally.get("hole", []) if r[0] >= 6]
    right = [r for r in holes if r[2] and r[2].confidence >= SURE]
    seen = [r for r in holes if r[2] and r[2].confidence >= LISTED]
    true = [
        r for r in sure if any(r is h for kind in ("hole", "recess") for h in tally.get(kind, []))
    ]
    offs = [r[1] for r in holes if r[2]]
    sizes = [abs(r[2].diameter - r[0]) for r in right]
    print(
        f"holes of 6 mm and more: {len(holes)}; sure {len(right) / max(1, len(holes)):.3f}, listed "
        f"{len(seen) / max(1, len(holes)):.3f}; precision of sure ones "
        f"{len(true) / max(1, len(sure)):.3f} ({len(sure) - len(true)} false); middle off {np.median(offs):.2f} median, {max(offs):.2f} "  # noqa: E501
        f"most; diameter off {np.median(sizes):.2f} median"
    )
    hidden = sum(len(rows) for kind, rows in tally.items() if "told to hide" in kind)
    print(f"not found, but in a patch told to hide holes: {hidden}")
    for kind in ("recess", "bung", "knot"):
        rows = tally.get(kind, [])
        named = sum(bool(r[2]) and r[2].kind == kind and r[2].confidence >= SURE for r in rows)
        listed = sum(bool(r[2]) and r[2].confidence >= LISTED for r in rows)
        print(f"{kind}: {len(rows)}, named so and sure {named}, listed {listed}")
    nothing = [r[2] for r in tally.get("nothing", [])]
    for kind in ("hole", "recess", "bung"):
        these = [f.confidence for f in nothing if f.kind == kind]
        print(
            f"{kind} where nothing is: sure {sum(c >= SURE for c in these)}, doubtful "
            f"{sum(LISTED <= c < SURE for c in these)}, remarks {sum(c < LISTED for c in these)}"
        )


if __name__ == "__main__":
    main()
