"""Photographs of boards that never were: rendered with known truth.

Nothing here comes from the code that reads photographs but the pattern of the mark sheets. Each
pixel's ray is followed to the board's face, its sides, or the ground (mm; x right, y up, z toward
the camera; the board's face is z = 0, the ground z = -thickness).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from nesting.photo.mark_sheet import CENTRES_MM, MARK_MM, MARKS_A_SHEET, dictionary

GRID = 0.7
"""mm a cell of the scene's plans."""

WOODS = (
    (112, 122, 128),
    (70, 105, 150),
    (60, 88, 120),
    (110, 160, 200),
    (45, 60, 95),
    (90, 130, 165),
)
GROUNDS = (
    (150, 152, 150),
    (70, 95, 75),
    (95, 90, 85),
    (60, 60, 62),
    (185, 190, 190),
    (100, 70, 50),
)


@dataclass(frozen=True)
class Scene:
    """What lies there; truth."""

    outline: np.ndarray
    thickness: float
    holes: tuple[tuple[float, float, float], ...] = ()
    recesses: tuple[tuple[float, float, float], ...] = ()
    bungs: tuple[tuple[float, float, float], ...] = ()
    knots: tuple[tuple[float, float, float], ...] = ()
    sheets: tuple[tuple[int, float, float, float], ...] = ()
    """Number, x, y and turn (radians) of each; at the height of the face."""
    low: tuple[float, float] = (0.0, 0.0)
    high: tuple[float, float] = (0.0, 0.0)
    face: np.ndarray | None = None
    cover: np.ndarray | None = None
    ground: np.ndarray | None = None
    paper: np.ndarray | None = None
    paper_cover: np.ndarray | None = None
    sheets_drop: float = 0.0
    light: tuple[float, float] = (0.5, 0.3)
    side_shade: float = 0.6
    others: tuple[np.ndarray, ...] = ()
    tilt: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Of the face: how much it rises for each mm to the right and up, and its height at 0, 0."""


@dataclass(frozen=True)
class Camera:
    width: int
    height: int
    focal: float
    k1: float
    k2: float
    eye: tuple[float, float, float]
    aim: tuple[float, float]
    roll: float = 0.0
    blur: float = 0.8
    noise: float = 3.0
    light_fall: float = 0.25
    glare: tuple[float, float, float] | None = None
    """x, y and radius, mm, of a burnt-out place."""
    shadow: bool = False
    seed: int = 0
    jpeg: int = 90
    extra: dict = field(default_factory=dict)

    def pose(self):
        eye, aim = np.array(self.eye, float), np.array([*self.aim, 0.0])
        ahead = (aim - eye) / np.linalg.norm(aim - eye)
        up = np.array([-np.sin(self.roll), np.cos(self.roll), 0.0])
        right = np.cross(ahead, up)
        right /= np.linalg.norm(right)
        down = np.cross(ahead, right)
        turn = np.stack([right, down, ahead])
        return turn, -turn @ eye

    def matrix(self):
        middle = (self.width - 1) / 2, (self.height - 1) / 2
        return np.array([[self.focal, 0, middle[0]], [0, self.focal, middle[1]], [0, 0, 1.0]])


def fractal(rng, shape, cells, octaves=4, rough=0.55):
    """Return noise of about unit spread: cells = (along y, along x) of the coarsest octave."""
    total, weight = np.zeros(shape, np.float32), 1.0
    ny, nx = cells
    for _ in range(octaves):
        small = rng.standard_normal((max(2, int(ny)), max(2, int(nx)))).astype(np.float32)
        total += weight * cv2.resize(small, shape[::-1], interpolation=cv2.INTER_CUBIC)
        weight *= rough
        ny, nx = min(ny * 2, shape[0]), min(nx * 2, shape[1])
    return total / max(1e-6, float(total.std()))


def wood_texture(rng, shape, colour, *, paint=0.0, saw=False, real=None):
    """Return a (h, w, 3) face of wood, grain along x, from figures or from a real picture."""
    h, w = shape
    if real is not None:
        picture = cv2.imread(str(real))
        times = rng.uniform(0.6, 1.4) * 1200 / max(picture.shape)
        picture = cv2.resize(picture, None, fx=times, fy=times)
        if rng.random() < 0.5:
            picture = np.ascontiguousarray(picture.transpose(1, 0, 2))
        tile = np.concatenate([picture, picture[:, ::-1]], 1)
        tile = np.concatenate([tile, tile[::-1]], 0)
        return np.tile(tile, (h // tile.shape[0] + 1, w // tile.shape[1] + 1, 1))[:h, :w].astype(
            np.float32
        )
    half = (h // 2 + 1, w // 2 + 1)
    grain = fractal(rng, half, (half[0] * 0.12, half[1] / 900), 4, 0.7)
    bend = fractal(rng, half, (3, 4), 2) * rng.uniform(4, 20)
    rows = np.arange(half[0], dtype=np.float32)[:, None] + bend
    rings = np.sin(rows * rng.uniform(0.08, 0.35) + fractal(rng, half, (4, 3), 2))
    patch = fractal(rng, half, (4, 8), 3)
    fine = fractal(rng, half, (half[0], half[1] / 60), 1)
    shade = 1 + 0.06 * grain + rng.uniform(0.02, 0.08) * rings + 0.06 * patch + 0.03 * fine
    if saw:
        columns = np.arange(half[1], dtype=np.float32)[None, :] + rows * rng.uniform(-0.3, 0.3)
        shade += (
            0.04 * np.sin(columns * rng.uniform(0.3, 0.9)) * (fractal(rng, half, (3, 5), 2) > -0.3)
        )
    cracks = cv2.resize(
        (fractal(rng, (half[0] // 2, half[1] // 2), (half[0] / 4, 6), 2) > 3.1).astype(np.float32),
        half[::-1],
    )
    shade -= 0.35 * np.clip(cracks, 0, 1)
    face = np.array(colour, np.float32) * np.clip(shade, 0.25, 1.6)[..., None]
    if paint:
        flakes = fractal(rng, half, (half[0] / 60, half[1] / 60), 5, 0.65) > -np.sqrt(2) * 1.2 * (
            paint - 0.75
        )
        tint = np.array(
            rng.choice(np.array([(235, 238, 240), (120, 80, 50), (70, 110, 60), (60, 60, 170)])),
            np.float32,
        )
        flakes = cv2.GaussianBlur(flakes.astype(np.float32), (3, 3), 0)[..., None]
        worn = tint * (0.9 + 0.05 * patch[..., None])
        face = face * (1 - flakes) + worn * flakes
    return cv2.resize(face, (w, h))


def ground_texture(rng, shape, colour, real=None, much=None):
    h, w = shape
    if real is not None:
        return wood_texture(rng, shape, colour, real=real)
    third = (h // 3 + 1, w // 3 + 1)
    rough = fractal(rng, third, (h / 120, w / 120), 6, rng.uniform(0.5, 0.95))
    shade = 1 + (rng.uniform(0.04, 0.2) if much is None else much) * rough
    tint = fractal(rng, third, (5, 9), 3)[..., None] * rng.uniform(0, 8, 3)
    made = np.array(colour, np.float32) * np.clip(shade, 0.2, 1.8)[..., None] + tint
    return cv2.resize(made.astype(np.float32), (w, h))


def grid_of(scene_low, point):
    return (np.asarray(point, float) - np.asarray(scene_low)) / GRID


def laid_out(
    rng,
    outline,
    thickness,
    *,
    sheets,
    holes=(),
    recesses=(),
    bungs=(),
    knots=(),
    margin=420.0,
    wood=None,
    ground=None,
    paint=0.0,
    saw=False,
    real_wood=None,
    real_ground=None,
    ground_rough=None,
    light=None,
    side_shade=None,
    sheets_drop=0.0,
    curl=0.0,
    others=(),
):
    """Return a scene with its plans painted."""
    points = np.concatenate([outline, *others, *[[(x, y)] for _, x, y, _ in sheets]])
    low, high = points.min(0) - margin, points.max(0) + margin
    shape = tuple(int(n) for n in np.ceil((high - low) / GRID))[::-1]
    face = np.zeros((*shape, 3), np.float32)
    ends = grid_of(low, [f(np.concatenate([outline, *others]), axis=0) for f in (np.min, np.max)])
    (x0, y0), (x1, y1) = ends[0].astype(int) - 40, ends[1].astype(int) + 40
    tint = wood if wood is not None else WOODS[rng.integers(len(WOODS))]
    face[y0:y1, x0:x1] = wood_texture(
        rng, (y1 - y0, x1 - x0), tint, paint=paint, saw=saw, real=real_wood
    )
    cover = np.zeros(shape, np.uint8)
    for ring in (outline, *others):
        fill(cover, low, ring, 255)
    for x, y, d in knots:
        paint_knot(rng, face, low, x, y, d)
    for x, y, d in bungs:
        paint_bung(rng, face, low, x, y, d)
    for x, y, d in recesses:
        paint_recess(rng, face, low, x, y, d)
    for x, y, d in holes:
        paint_hole(rng, face, low, x, y, d)
    paper, paper_cover = paint_sheets(rng, shape, low, sheets, curl)
    return Scene(
        np.asarray(outline, float),
        thickness,
        tuple(holes),
        tuple(recesses),
        tuple(bungs),
        tuple(knots),
        tuple(sheets),
        tuple(low),
        tuple(high),
        np.clip(face, 0, 255).astype(np.uint8),
        cover,
        np.clip(
            ground_texture(
                rng,
                shape,
                ground if ground is not None else GROUNDS[rng.integers(len(GROUNDS))],
                real_ground,
                ground_rough,
            ),
            0,
            255,
        ).astype(np.uint8),
        paper,
        paper_cover,
        sheets_drop,
        light if light is not None else tuple(rng.uniform(-0.9, 0.9, 2)),
        side_shade if side_shade is not None else float(rng.choice([0.45, 0.6, 0.75, 1.2])),
        tuple(others),
    )


SHIFT = 6


def fill(plan, low, ring, value):
    # The filler covers half a cell more than the ring on every side.
    inner = Polygon(ring).buffer(-GRID / 2, join_style="mitre").exterior.coords[:-1]
    cells = np.round(grid_of(low, inner) * (1 << SHIFT)).astype(np.int32)
    cv2.fillPoly(plan, [cells], value, cv2.LINE_AA, SHIFT)


def patch_of(face, low, x, y, radius):
    """Return a view of a plan around a place, and distance and direction of its cells, mm."""
    cx, cy = grid_of(low, (x, y))
    reach = int(radius / GRID) + 3
    x0, y0 = int(cx) - reach, int(cy) - reach
    x1, y1 = x0 + 2 * reach + 1, y0 + 2 * reach + 1
    x0, y0 = max(0, x0), max(0, y0)
    cells = face[y0:y1, x0:x1]
    yy, xx = np.mgrid[y0 : y0 + cells.shape[0], x0 : x0 + cells.shape[1]]
    dx, dy = (xx - cx) * GRID, (yy - cy) * GRID
    return cells, dx, dy


def soft(distance, radius, width=0.35):
    return np.clip((radius - distance) / width + 0.5, 0, 1)[..., None]


def paint_hole(rng, face, low, x, y, d):
    cells, dx, dy = patch_of(face, low, x, y, 2 * d)
    r = np.hypot(dx, dy)
    if rng.random() < 0.5:  # rust
        halo = np.exp(-((r / (d * rng.uniform(0.6, 0.9))) ** 2))[..., None] * rng.uniform(0.1, 0.35)
        cells *= 1 - halo
    turn = rng.uniform(0, 2 * np.pi)
    lit = np.clip((dx * np.cos(turn) + dy * np.sin(turn)) / (d / 2), -1, 1)
    ragged = d / 2 + 0.25 * np.sin(3 * np.arctan2(dy, dx) + turn)
    dark = np.array([22, 24, 28], np.float32) * rng.uniform(0.5, 1.3) * (1 + 0.5 * lit[..., None])
    alpha = soft(r, ragged)
    cells[:] = cells * (1 - alpha) + dark * alpha


def paint_recess(rng, face, low, x, y, d):
    cells, dx, dy = patch_of(face, low, x, y, d)
    r = np.hypot(dx, dy)
    turn = rng.uniform(0, 2 * np.pi)
    lit = np.clip((dx * np.cos(turn) + dy * np.sin(turn)) / (d / 2), -1, 1)
    floor = cells.mean((0, 1)) * rng.uniform(0.5, 0.62) * (1 + 0.25 * lit[..., None])
    alpha = soft(r, d / 2)
    cells[:] = cells * (1 - alpha) + floor * alpha
    inner = soft(r, rng.uniform(2.0, 3.0))
    cells[:] = cells * (1 - inner) + 20 * inner


def paint_bung(rng, face, low, x, y, d):
    cells, dx, dy = patch_of(face, low, x, y, d)
    r = np.hypot(dx, dy)
    turn = rng.uniform(0, np.pi)
    across = dx * np.cos(turn) + dy * np.sin(turn)
    shade = rng.choice([rng.uniform(0.66, 0.8), rng.uniform(1.2, 1.35)])
    own = cells.mean((0, 1)) * shade * (1 + 0.05 * np.sin(across * 3)[..., None])
    alpha = soft(r, d / 2)
    cells[:] = cells * (1 - alpha) + own * alpha
    ring = np.exp(-(((r - d / 2) / 0.4) ** 2))[..., None] * 0.3
    cells *= 1 - ring


def paint_knot(rng, face, low, x, y, d):
    cells, dx, dy = patch_of(face, low, x, y, 2 * d)
    turn, long = rng.uniform(-0.4, 0.4), rng.uniform(1.3, 1.9)
    u = (dx * np.cos(turn) + dy * np.sin(turn)) / long
    v = -dx * np.sin(turn) + dy * np.cos(turn)
    r = np.hypot(u, v)
    depth = np.clip(1.3 - r / (d / 2), 0, 1) * (0.8 + 0.2 * np.sin(r * 2.5))
    cells *= 1 - np.clip(depth, 0, 1)[..., None] * rng.uniform(0.35, 0.55)


DOTS = 4
"""Pixels a mm in which a sheet is drawn before it is laid down."""


def sheet_picture(rng, number, curl=0.0):
    """Return a sheet as printed, A4, upper edge first."""
    picture = np.full((297 * DOTS, 210 * DOTS), 245, np.uint8)
    cell = int(MARK_MM * DOTS) // 8
    for place, (x, y) in enumerate(CENTRES_MM):
        code = cv2.aruco.generateImageMarker(dictionary(), MARKS_A_SHEET * (number - 1) + place, 8)
        black = np.kron(code, np.ones((cell, cell), np.uint8))
        top, left = int((148.5 - y - MARK_MM / 2) * DOTS), int((105 + x - MARK_MM / 2) * DOTS)
        picture[top : top + 8 * cell, left : left + 8 * cell] = np.where(black, 245, 28)
    for _ in range(12):  # words
        top, left = rng.integers(400, 700), rng.integers(60, 400)
        picture[top : top + 5, left : left + 200] = 120
    if curl:  # bent paper: its far part is seen shortened
        rows = np.arange(picture.shape[0], dtype=np.float32)
        share = rows / rows[-1]
        source = rows - curl * DOTS * (1 - share) ** 2
        where = np.meshgrid(np.arange(picture.shape[1], dtype=np.float32), source)
        picture = cv2.remap(picture, *where, cv2.INTER_LINEAR, borderValue=245)
    return picture


def paint_sheets(rng, shape, low, sheets, curl=0.0):
    """Return plans of the paper and of where it lies."""
    paper = np.full(shape, 245, np.uint8)
    cover = np.zeros(shape, np.uint8)
    for number, x, y, turn in sheets:
        picture = cv2.GaussianBlur(sheet_picture(rng, number, curl), (0, 0), 0.6)
        cos, sin = np.cos(turn), np.sin(turn)
        # A pixel's middle (p + 0.5) / DOTS on the sheet, to the cell of the plan that holds it.
        to_mm = np.array(
            [[1 / DOTS, 0, 0.5 / DOTS - 105], [0, -1 / DOTS, 148.5 - 0.5 / DOTS], [0, 0, 1]]
        )
        lay = np.array([[cos, -sin, x - low[0]], [sin, cos, y - low[1]], [0, 0, GRID]]) / GRID
        matrix = (lay @ to_mm)[:2]
        size = shape[::-1]
        laid = cv2.warpAffine(picture, matrix, size, flags=cv2.INTER_LINEAR, borderValue=245)
        there = cv2.warpAffine(np.full_like(picture, 255), matrix, size, flags=cv2.INTER_LINEAR)
        paper = np.where(there > 127, laid, paper)
        cover = np.maximum(cover, there)
    return paper, cover


def photographed(scene, camera):
    """Return the picture (h, w, 3) that a camera takes of a scene."""
    rng = np.random.default_rng([camera.seed, 77])
    turn, _ = camera.pose()
    eye = np.array(camera.eye, float)
    step = 8
    gw, gh = camera.width // step + 2, camera.height // step + 2
    grid = np.stack(np.meshgrid(np.arange(gw) * step, np.arange(gh) * step), -1).astype(np.float64)
    bend = np.array([camera.k1, camera.k2, 0, 0, 0])
    flat = (
        cv2.undistortPoints(
            grid.reshape(-1, 1, 2),
            camera.matrix(),
            bend,
            None,
            None,
            None,
            (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 50, 1e-10),
        )
        if camera.k1 or camera.k2
        else cv2.undistortPoints(grid.reshape(-1, 1, 2), camera.matrix(), bend)
    )
    rays = np.column_stack([flat.reshape(-1, 2), np.ones(gw * gh)]) @ turn

    def plan(height, tilt=(0.0, 0.0)):
        slope = np.array([*tilt, -1.0])
        far = -(height + slope @ eye) / (rays @ slope)
        met = (eye[:2] + far[:, None] * rays[:, :2] - np.asarray(scene.low)) / GRID
        coarse = met.reshape(gh, gw, 2).astype(np.float32)
        rows, columns = (
            np.arange(camera.height, dtype=np.float32) / step,
            np.arange(camera.width, dtype=np.float32) / step,
        )
        mx, my = np.meshgrid(columns, rows)
        return cv2.remap(coarse, mx, my, cv2.INTER_LINEAR)

    top, bottom = plan(scene.tilt[2], scene.tilt[:2]), plan(-scene.thickness)

    def looked(what, where, border=0):
        where = np.asarray(where, np.float32)
        return cv2.remap(
            what,
            where[..., 0],
            where[..., 1],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT if border is not None else cv2.BORDER_REFLECT,
            borderValue=border or 0,
        )

    sun = np.asarray(scene.light) * scene.thickness / GRID
    shade = cv2.GaussianBlur(scene.cover, (0, 0), 6)
    shade = np.maximum(looked(shade, bottom - sun), looked(scene.cover, bottom))
    picture = looked(scene.ground, bottom, None).astype(np.float32)
    picture *= 1 - 0.45 * (shade.astype(np.float32) / 255)[..., None]
    if scene.thickness > 0:
        parts = 5
        side = np.zeros(picture.shape[:2], np.uint8)
        for i in range(1, parts + 1):
            side = np.maximum(side, looked(scene.cover, top + (bottom - top) * (i / parts)))
        edge = looked(scene.face, bottom, None).astype(np.float32) * scene.side_shade
        alpha = (side.astype(np.float32) / 255)[..., None]
        picture = picture * (1 - alpha) + edge * alpha
    alpha = (looked(scene.cover, top).astype(np.float32) / 255)[..., None]
    picture = picture * (1 - alpha) + looked(scene.face, top, None).astype(np.float32) * alpha
    level = plan(-scene.sheets_drop)
    alpha = (looked(scene.paper_cover, level).astype(np.float32) / 255)[..., None]
    picture = (
        picture * (1 - alpha)
        + looked(scene.paper, level, 245).astype(np.float32)[..., None] * alpha
    )
    return developed(picture, scene, camera, top, rng)


def developed(picture, scene, camera, top, rng):
    h, w = picture.shape[:2]
    fall = fractal(rng, (64, 86), (2, 2), 2) * camera.light_fall * 0.35
    fall = cv2.resize(fall, (w, h), interpolation=cv2.INTER_CUBIC)
    picture = picture * np.clip(1 + fall, 0.4, 1.7)[..., None]
    if camera.shadow:  # of the photographer, or of a tree
        blot = fractal(rng, (96, 128), (3, 4), 3)
        blot = cv2.resize((blot > 0.9).astype(np.float32), (w, h), interpolation=cv2.INTER_LINEAR)
        blot = cv2.GaussianBlur(blot, (0, 0), w / 150)
        picture *= 1 - 0.4 * blot[..., None]
    if camera.glare:
        x, y, radius = camera.glare
        cx, cy = grid_of(scene.low, (x, y))
        r = np.hypot(top[..., 0] - cx, top[..., 1] - cy) * GRID
        picture += 400 * np.exp(-((r / radius) ** 2))[..., None]
    if camera.blur:
        picture = cv2.GaussianBlur(picture, (0, 0), camera.blur)
    picture += camera.noise * rng.standard_normal((h, w, 1), dtype=np.float32)
    taken = np.clip(picture, 0, 255).astype(np.uint8)
    _, coded = cv2.imencode(".jpg", taken, [cv2.IMWRITE_JPEG_QUALITY, camera.jpeg])
    return cv2.imdecode(coded, cv2.IMREAD_COLOR)


def plank_outline(rng, length, width, *, taper=0.15, bend=0.0, ragged=0.0):
    """Return the ring of a plank lying along x about the origin: tapered, curved, ends askew."""
    at = np.linspace(0, 1, 160)
    x = (at - 0.5) * length
    half = width / 2 * (1 - taper * np.abs(at - 0.4))
    curve = bend * (4 * (at - 0.5) ** 2 - 0.5)
    wobble = ragged * np.interp(at, np.linspace(0, 1, 12), rng.standard_normal(12))
    under = np.column_stack([x, curve - half + wobble])
    over = np.column_stack([x, curve + half])
    left, right = rng.uniform(-0.15, 0.15, 2) * width
    over[:, 0] = np.interp(at, [0, 1], [left - length / 2, right + length / 2])
    return np.concatenate([under, over[::-1]])


def fastenings(rng, outline, *, pitch, diameter=(6.0, 10.0), inset=22.0, miss=0.08):
    """Return holes in pairs across a plank, as beams crossed it."""
    board = Polygon(outline).buffer(-inset)
    low_x, _, high_x, _ = board.bounds
    found = []
    for x in np.arange(low_x + rng.uniform(20, 120), high_x - 20, pitch):
        cut = board.intersection(
            Polygon([(x - 1, -9e3), (x + 1, -9e3), (x + 1, 9e3), (x - 1, 9e3)])
        )
        if cut.is_empty:
            continue
        for y in (cut.bounds[1] + 4, cut.bounds[3] - 4):
            if rng.random() > miss:
                found.append(
                    (
                        float(x + rng.normal(0, 5)),
                        float(y + rng.normal(0, 2)),
                        float(rng.uniform(*diameter)),
                    )
                )
    return found


def apart(rng, outline, count, taken, diameters, clear=14.0):
    """Return so many places well apart from each other and from the edge."""
    board = Polygon(outline)
    low_x, low_y, high_x, high_y = board.bounds
    found = []
    for _ in range(2000):
        if len(found) >= count:
            break
        d = float(rng.uniform(*diameters))
        x, y = float(rng.uniform(low_x, high_x)), float(rng.uniform(low_y, high_y))
        from shapely.geometry import Point

        if not board.buffer(-d / 2 - clear).contains(Point(x, y)):
            continue
        if all(np.hypot(x - a, y - b) > (d + e) / 2 + clear for a, b, e in (*taken, *found)):
            found.append((x, y, d))
    return found


def random_case(seed, *, pixels=(4000, 3000), length=None, samples=None, **changes):
    """Return a scene and a camera drawn by lot; with a folder of real textures, those at times."""
    rng = np.random.default_rng([seed, 5])
    length = length or float(rng.uniform(1500, 2400))
    width = float(rng.uniform(90, 260))
    outline = plank_outline(
        rng,
        length,
        width,
        taper=rng.uniform(0, 0.3),
        bend=rng.uniform(-40, 40),
        ragged=rng.choice([0, 0.6]),
    )
    thickness = float(rng.uniform(18, 45))
    holes = fastenings(rng, outline, pitch=rng.uniform(230, 420), inset=rng.uniform(16, 30))
    taken = list(holes)
    made = {}
    for name, count, size in (
        ("recesses", 4, (15, 22)),
        ("bungs", 5, (11, 19)),
        ("knots", 3, (10, 26)),
        ("holes", 4, (6, 13)),
    ):
        made[name] = apart(rng, outline, int(rng.integers(0, count + 1)), taken, size)
        taken += made[name]
    made["holes"] = [*holes, *made["holes"]]
    sheets = []
    gap = width / 2 + 40 + 190 + 20
    for number in range(6):
        side, share = (1 if number % 2 else -1), (-0.4, 0.0, 0.4)[number // 2]
        sheets.append(
            (
                number + 1,
                float(share * length + rng.uniform(-80, 80)),
                float(side * (gap + rng.uniform(0, 60))),
                float(rng.uniform(-np.pi, np.pi)),
            )
        )
    wood = real_ground = None
    if samples is not None:
        woods, grounds = (
            sorted((Path(samples) / kind).glob("*.jpg")) for kind in ("wood", "ground")
        )
        wood = woods[rng.integers(len(woods))] if rng.random() < 0.3 else None
        real_ground = grounds[rng.integers(len(grounds))] if rng.random() < 0.6 else None
    given = {"paint": float(rng.choice([0, 0, 0.15, 0.3])), "saw": bool(rng.random() < 0.4)}
    scene = laid_out(
        rng,
        outline,
        thickness,
        sheets=sheets,
        real_wood=wood,
        real_ground=real_ground,
        **{**given, **made, **{k: v for k, v in changes.items() if k in SCENE}},
    )
    focal = float(rng.uniform(0.7, 0.85)) * max(pixels)
    high = focal / max(pixels) * (length + 260) * 1.06
    lean = rng.uniform(0, 0.3)
    turn = rng.uniform(0, 2 * np.pi)
    eye = (
        high * np.sin(lean) * np.cos(turn) * 0.4,
        high * np.sin(lean) * np.sin(turn),
        high * np.cos(lean) * (1 + 0.25 * lean),
    )
    camera = Camera(
        *pixels,
        focal,
        float(rng.uniform(-0.12, 0.08)),
        float(rng.uniform(-0.03, 0.03)),
        eye,
        (float(rng.normal(0, 20)), float(rng.normal(0, 20))),
        float(rng.normal(0, 0.06)),
        blur=float(rng.uniform(0.5, 1.2)),
        noise=float(rng.uniform(1.5, 6)),
        seed=seed,
        light_fall=float(rng.uniform(0, 0.6)),
        shadow=bool(rng.random() < 0.3),
    )
    return scene, camera


SCENE = (
    "holes",
    "recesses",
    "bungs",
    "knots",
    "paint",
    "saw",
    "curl",
    "sheets_drop",
    "others",
    "margin",
    "ground",
    "wood",
)


def small_scene(seed=1, *, length=700.0, width=110.0, thickness=22.0, sheets=None, **changes):
    """Return a plain scene of a short board, quick to render."""
    rng = np.random.default_rng([seed, 9])
    outline = plank_outline(rng, length, width, taper=0.1, bend=8.0)
    side = width / 2 + 245
    if sheets is None:
        sheets = [
            (1, -200, side, 1.4),
            (2, 200, side + 5, 1.8),
            (3, -210, -side, -1.7),
            (4, 190, -side - 6, -1.45),
        ]
    usual = {
        "wood": (90, 130, 165),
        "ground": (150, 152, 150),
        "paint": 0.0,
        "margin": 330.0,
        "ground_rough": 0.05,
    }
    return laid_out(rng, outline, thickness, sheets=sheets, **{**usual, **changes})


def small_camera(seed=1, *, pixels=(1200, 900), across=1250.0, at=(0.0, 0.0), **changes):
    """Return a camera above a small scene, leaning a little."""
    focal = 0.78 * pixels[0]
    high = focal / pixels[0] * across
    eye = (at[0] + 0.06 * high, at[1] - 0.12 * high, high)
    usual = {"blur": 0.7, "noise": 2.0, "seed": seed, "light_fall": 0.2}
    return Camera(*pixels, focal, -0.05, 0.01, eye, at, 0.05, **{**usual, **changes})
