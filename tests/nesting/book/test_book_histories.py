"""Random histories of a shop: wood is conserved, no piece is there twice, undo brings all back.

``BOOK_HISTORIES=3000`` tries as many; the gate a handful. Sums are made here by shapely alone, from
the boards that were recorded and the cut lines that were drawn.
"""

from __future__ import annotations

import copy
import math
import os
import random
import tempfile
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
import shapely
import shapely.affinity
from book_shop import RULES, Yard, free_of, laid, need, plank, sheet_of
from hypothesis import HealthCheck, Phase, event, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from shapely.geometry import box
from sheet_in_cad import ACROSS, changed_in_cad

from nesting.book import bench
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.export import export, rebuild
from nesting.book.followed import follower
from nesting.book.holds import Planned, release, reserve
from nesting.book.integrity import faults
from nesting.book.offered import as_offered
from nesting.book.opening import opened
from nesting.book.outlines import wood_of
from nesting.book.read_sheet import read_sheet
from nesting.book.record import record
from nesting.book.rows import board_in, in_root
from nesting.book.sheet import sheet_in
from nesting.book.standing import standing
from nesting.book.steps import pile_after, pile_of, undo
from nesting.errors import BookError
from nesting.nest import At
from nesting.referee.check import check_nest
from nesting.stock.keep_out import circle

HISTORIES = int(os.environ.get("BOOK_HISTORIES", "6"))
STEPS = 14

QUICK = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
"""Where a book is synced in no time: thousands of histories wait for no disk."""

TEASEL, TANSY = "Teasel", "Tansy"

WANTED = (
    need("cleat", quantity=5), need("bench", 700.0, 120.0, quantity=2),
    need("wedge", 150.0, 40.0, 12.0, quantity=3), need("seat", 420.0, 180.0, quantity=2),
)  # fmt: skip


class Shop(RuleBasedStateMachine):
    """A shop with four boards, and what must be true of its book after every step."""

    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory(dir=QUICK)
        self.opened = opened(Path(self.folder.name) / "stock.book", create=True)
        self.book = self.opened.__enter__()
        self.roots = {}
        self.entered = 0.0
        self.taped = set()
        self.lost = {}
        self.wanted = WANTED
        self.before = []
        self.name = TEASEL

    def teardown(self):
        assert faults(self.book) == []
        self.opened.__exit__(None, None, None)
        self.folder.cleanup()

    def step(self, root, what):
        """Do something to wood of a root, and remember what was before."""
        kept = (pile_of(self.book).tables, self.book.last_step, copy.deepcopy(self.notes))
        lost = self.all_lost()
        try:
            what()
        except BookError:
            assert pile_of(self.book).tables == kept[0]
            raise
        if self.book.last_step > kept[1]:
            self.before.append((kept[0], kept[2]))
        if root is not None:
            area, volume = self.all_lost()
            was = self.lost.setdefault(root, [0.0, 0.0])
            self.lost[root] = [was[0] + area - lost[0], was[1] + volume - lost[1]]

    @property
    def notes(self):
        return (self.roots, self.entered, self.taped, self.lost, self.wanted, self.name)

    def all_lost(self):
        return self.book.asked("SELECT total(lost_mm2), total(lost_mm3) FROM step")[0]

    @property
    def yard(self):
        return Yard(self.name, tuple(self.roots.values()), self.wanted)

    @initialize(width=st.integers(90, 260), thick=st.sampled_from([20.0, 30.0]))
    def record(self, width, thick):
        boards = [
            plank("A", 1800, width, thick), plank("B", 1200, 200, 40.0),
            plank("C", 900, 300, keep_outs=[circle("hole", 300, 150, 8)]),
        ]  # fmt: skip
        for board in boards:
            self.roots[board.name] = board
            self.entered += board.area_mm2
        record(self.book, self.yard)
        self.before.append((None, None))

    @rule(length=st.integers(400, 2000))
    def record_more(self, length):
        name = f"N{len(self.roots)}-{self.book.last_step}"
        board = plank(name, float(length), 150.0)

        def more():
            self.roots[name] = board
            self.entered += board.area_mm2
            record(self.book, self.yard)

        self.step(name, more)

    def stock(self):
        return self.book.rows("board", "state = 'in stock'")

    @precondition(lambda self: self.stock())
    @rule(seed=st.integers(0, 2**32), keep=st.sampled_from([None, None, *Kept]))
    def nest_and_cut(self, seed, keep):
        rng = random.Random(seed)
        row = rng.choice(self.stock())
        nest = self.by_chance(board_in(row), rng)
        if not nest.placements:
            event("no room was found")
            return
        assert all(free_of(nest.board).buffer(1e-6).covers(p.polygon) for p in nest.placements)
        labels = [p.label for p in nest.placements]
        some = rng.sample(labels, rng.randint(0, len(labels)))
        among = some or labels
        spoiled = rng.sample(among, rng.randint(0, 1))
        what = Cut(tuple(some), tuple(spoiled), {}, keep)
        self.step(row["body"]["root"], lambda: cut(self.book, sheet_of(nest, self.name), what))
        self.stay_where_they_are(nest, self.book.last_step - 1)
        event(f"cut from a board that was {row['body']['came']}, kept {keep}")

    def by_chance(self, board, rng):
        """Return a nest of a few pieces that are wanted still, wherever they find room."""
        wanted = as_offered(self.yard, pile_of(self.book)).needs
        placed = []
        for part in rng.choices(wanted, k=4) if wanted else ():
            number = 1 + sum(one[0] is part for one in placed)
            low_x, low_y, high_x, high_y = board.shape.bounds
            size = part.outline.length_mm, part.outline.width_mm
            for _ in range(5):
                x = rng.uniform(low_x, max(low_x, high_x - size[0]))
                y = rng.uniform(low_y, max(low_y, high_y - size[1]))
                tried = laid(board, *placed, (part, x, y, number))
                if number <= part.quantity and not check_nest(tried, RULES):
                    placed.append((part, x, y, number))
                    break
        return laid(board, *placed)

    @precondition(lambda self: self.stock())
    @rule(seed=st.integers(0, 2**32))
    def read_from_cad_and_cut(self, seed):
        """What was drawn on a sheet lies where it was drawn, once, and the saw goes by it."""
        rng = random.Random(seed)
        row = rng.choice(self.stock())
        board, root = board_in(row), row["body"]["root"]
        nest = self.by_chance(board, rng)
        with tempfile.TemporaryDirectory(dir=QUICK) as folder:
            wood = wood_of(row["body"]["wood"])
            sheet = changed_in_cad(nest, Path(folder), self.name, rng, wood=wood)
            try:
                self.step(None, lambda: read_sheet(self.book, self.name, sheet.path))
            except BookError as error:
                # A bare sheet, moved, has nothing by which it is told from a moved edge.
                assert sheet.moved != (0.0, 0.0) and "or nothing tells: move it back" in str(error)
                event("a sheet from CAD of which nobody knows where it lay")
                return
            event(f"a sheet from CAD{', moved' if any(sheet.moved) else ''}")
            self.is_read(row, sheet)
            last = self.book.last_step
            read_sheet(self.book, self.name, sheet.path)
            assert self.book.last_step == last
            if not any(sheet.moved) and nest.placements:
                self.cut_by(sheet, nest, root)

    def is_read(self, row, sheet):
        """The board has what was drawn, at its place, once, and all that it had; all its wood."""
        now = self.book.row("board", row["name"])
        assert wood_of(now["body"]["wood"]).equals(wood_of(row["body"]["wood"]))
        had, has = board_in(row).keep_outs, list(board_in(now).keep_outs)
        for keep_out in had:
            has.remove(keep_out)
        count = 0
        for kind, places in (("metal", sheet.nails), ("rot", sheet.rot)):
            before, new = self.middles(had, kind), self.middles(has, kind)
            count += len(new)
            assert len(new) == sum(not self.is_at(place, before) for place in places)
            assert all(self.is_at(place, [*before, *new]) for place in places)
        assert len(has) == count

    @staticmethod
    def middles(keep_outs, kind):
        return [k.polygon.centroid.coords[0] for k in keep_outs if k.kind == kind]

    @staticmethod
    def is_at(place, places):
        return any(math.dist(place, other) < 0.01 for other in places)

    def cut_by(self, sheet, nest, root):
        """Every piece with a nail in it is refused, the others are sawn."""
        drawn = sheet_in(self.book, sheet.path, self.name)
        nails = [shapely.Point(at).buffer(ACROSS / 2) for at in sheet.nails]
        struck = {
            p.label for p in nest.placements if any(p.polygon.intersects(nail) for nail in nails)
        }
        clear = [p.label for p in nest.placements if p.label not in struck]
        for label in sorted(struck):
            with pytest.raises(BookError, match="metal"):
                cut(self.book, drawn, Cut((label,), is_even_so=True))
        if clear:
            what = Cut(tuple(clear), is_even_so=True, kept=Kept.REST)
            self.step(root, lambda: cut(self.book, drawn, what))
            event("cut by a sheet from CAD")

    def stay_where_they_are(self, nest, then):
        """What was not sawn of a nest lies where it lay, on whatever board has its wood now."""
        now = as_offered(self.yard, pile_of(self.book))
        yard = replace(self.yard, stock=now.stock, book=self.book.path, book_step=then + 1)
        sawn = {row["body"]["sawn_as"] for row in self.sound()}
        follow = follower(yard, then)
        root = self.then_at(nest.board.name, then)
        for placement in nest.placements:
            if placement.label in sawn:
                continue
            at = follow(At(nest.board.name, placement))
            row = self.book.row("board", at.board)
            if row["state"] != "in stock":
                continue
            there = shapely.affinity.translate(placement.polygon, *root)
            here = shapely.affinity.translate(at.placement.polygon, *row["body"]["at"])
            assert here.symmetric_difference(there).area < 0.1
            holds = [one for one in self.stock() if in_root(one).buffer(1e-6).covers(there)]
            holds = [one for one in holds if one["body"]["root"] == row["body"]["root"]]
            assert not holds or row in holds
            event(f"followed to {'another board' if at.board != nest.board.name else 'its own'}")

    def then_at(self, name, step):
        """Return where a board's frame lay in its root's after a step."""
        (x, y) = pile_after(self.book.steps("number <= ?", step)).row("board", name)["body"]["at"]
        return x, y

    def sound(self):
        return self.book.rows("piece", "state = 'sound'")

    @precondition(lambda self: self.sound())
    @rule(data=st.data(), keep=st.booleans())
    def spoil(self, data, keep):
        row = data.draw(st.sampled_from(self.sound()))
        root = self.book.row("board", row["board"])["body"]["root"]
        label = row["body"]["label"]
        self.step(root, lambda: bench.spoil(self.book, self.name, label, is_kept=keep))

    @precondition(lambda self: self.sound())
    @rule(data=st.data(), other=st.sampled_from(WANTED))
    def use_otherwise(self, data, other):
        row = data.draw(st.sampled_from(self.sound()))
        root = self.book.row("board", row["board"])["body"]["root"]
        label = row["body"]["label"]
        try:
            self.step(root, lambda: bench.use_for(self.book, self.name, label, other.part))
        except BookError as error:
            assert "has all of it" in str(error) or "too thin" in str(error)

    @rule(which=st.integers(0, len(WANTED) - 1), more=st.sampled_from([0.0, 0.0, 40.0]))
    def change_a_part(self, which, more):
        """One line of the parts list is as it was at first, or longer."""

        def changed():
            old = WANTED[which]
            size = old.outline.length_mm + more, old.outline.width_mm
            new = need(old.part, *size, old.outline.siding_mm, quantity=old.quantity)
            self.wanted = (*self.wanted[:which], new, *self.wanted[which + 1 :])
            record(self.book, self.yard)

        self.step(None, changed)

    @precondition(lambda self: self.sound())
    @rule(data=st.data())
    def serve_all_the_same(self, data):
        row = data.draw(st.sampled_from(self.sound()))
        try:
            self.step(None, lambda: bench.serve(self.book, self.name, row["body"]["label"]))
            event("a piece serves though its part changed")
        except BookError as error:
            assert "counts as it is" in str(error) or "asks for only" in str(error)

    @precondition(lambda self: self.stock())
    @rule(data=st.data(), x=st.floats(0, 1), y=st.floats(0, 1))
    def find_metal(self, data, x, y):
        row = data.draw(st.sampled_from(self.stock()))
        board = board_in(row)
        at = shapely.Point(x * board.length_mm, y * board.width_mm)
        on_wood = shapely.shortest_line(wood_of(row["body"]["wood"]), at).coords[0]
        nail = circle("metal", *on_wood, 5.0)
        known = [k.bounding_circle for k in board.keep_outs if k.kind is nail.kind]
        if not any(math.dist(one, nail.bounding_circle) < 0.1 for one in known):
            self.step(None, lambda: bench.found(self.book, self.name, row["name"], [nail]))
            assert len(board_in(self.book.row("board", row["name"])).keep_outs) > len(known)
        tables = pile_of(self.book).tables
        with pytest.raises(BookError, match="has 1 place already as told here"):
            bench.found(self.book, self.name, row["name"], [nail])
        assert pile_of(self.book).tables == tables

    @precondition(lambda self: self.roots)
    @rule()
    def rename(self):
        """All that is a project's own goes with it; what is counted stays as it is."""
        other = TANSY if self.name == TEASEL else TEASEL
        counted = [(s.done, s.nested, s.spoiled) for s in standing(self.book, self.name).systems]

        def renamed():
            was, self.name = self.name, other
            record(self.book, self.yard, was=was)

        self.step(None, renamed)
        now = standing(self.book, other).systems
        assert [(s.done, s.nested, s.spoiled) for s in now] == counted

    @precondition(lambda self: self.stock())
    @rule(data=st.data(), x=st.floats(0, 1), y=st.floats(0, 1), across=st.floats(3, 60))
    def find_rot(self, data, x, y, across):
        row = data.draw(st.sampled_from(self.stock()))
        board = board_in(row)
        at = shapely.Point(x * board.length_mm, y * board.width_mm)
        on_wood = shapely.shortest_line(wood_of(row["body"]["wood"]), at).coords[0]
        rot = circle("rot", *on_wood, across)
        try:
            self.step(None, lambda: bench.found(self.book, self.name, row["name"], [rot]))
        except BookError as error:
            assert "already as told here" in str(error)

    @precondition(lambda self: self.stock())
    @rule(data=st.data(), share=st.floats(0.5, 1.5))
    def tape(self, data, share):
        row = data.draw(st.sampled_from(self.stock()))
        board = board_in(row)
        shape = box(0, 0, max(20.0, share * board.length_mm), board.width_mm)
        was = wood_of(row["body"]["wood"]).area

        def taped(*, is_larger=False):
            bench.tape(self.book, self.name, row["name"], shape, is_larger=is_larger)
            self.entered += shape.area - was
            self.taped.add(row["body"]["root"])

        try:
            self.step(None, taped)
        except BookError as error:
            assert "say so (salvage-nest book taped, with --larger)" in str(error)
            event("taped larger than it can be")
            self.step(None, partial(taped, is_larger=True))

    @precondition(lambda self: self.stock())
    @rule(data=st.data())
    def discard(self, data):
        row = data.draw(st.sampled_from(self.stock()))
        self.step(row["body"]["root"], lambda: bench.discard(self.book, self.name, [row["name"]]))

    @precondition(lambda self: self.stock())
    @rule(data=st.data())
    def reserve(self, data):
        names = data.draw(st.lists(st.sampled_from([r["name"] for r in self.stock()]), unique=True))
        plan = Planned(self.name, tuple(names), {"pieces": [], "boards": names})
        self.step(None, lambda: reserve(self.book, plan))

    @rule()
    def release(self):
        self.step(None, lambda: release(self.book, self.name))

    @precondition(lambda self: len(self.before) > 1)
    @rule(count=st.integers(1, 4))
    def undo(self, count):
        for _ in range(min(count, len(self.before) - 1)):
            tables, notes = self.before.pop()
            undo(self.book, self.name)
            self.roots, self.entered, self.taped, self.lost, self.wanted, self.name = notes
            assert pile_of(self.book).tables == tables

    @precondition(lambda self: self.roots)
    @rule(data=st.data())
    def undo_an_older_step(self, data):
        """Any step of saw or bench, whatever came after, but one that a later one goes by."""
        where = "kind IN ('cut', 'gone', 'spoiled', 'found') AND number NOT IN (SELECT undoes"
        steps = list(self.book.steps(f"{where} FROM step WHERE undoes IS NOT NULL)"))
        if not steps:
            return
        step = data.draw(st.sampled_from(steps))
        names = {row["name"]: row["body"]["root"] for row in self.book.rows("board")}
        rows = [effect.after or effect.before for effect in step.effects]
        root = next(names[row["name"] if "name" in row else row["board"]] for row in rows)
        try:
            self.step(root, lambda: undo(self.book, self.name, number=step.number))
        except BookError as error:
            assert "cannot be taken back" in str(error)
            event("an older step that a later one goes by")
            return
        event("an older step taken back")
        self.before = [(None, None)]

    @rule()
    def export_and_rebuild(self):
        with tempfile.TemporaryDirectory(dir=QUICK) as folder:
            export(self.book, Path(folder) / "plain")
            again = Path(folder) / "again.book"
            rebuild(Path(folder) / "plain", again)
            with opened(again) as other:
                assert pile_of(other).tables == pile_of(self.book).tables
                assert list(other.steps()) == list(self.book.steps())

    @invariant()
    def wood_is_conserved(self):
        """By sums of shapely's alone, of all wood and, where no tape changed it, of each board."""
        stock, sound = self.stock(), self.sound()
        area = sum(in_root(row).area for row in stock)
        area += sum(wood_of(row["body"]).area for row in sound)
        lost = self.all_lost()[0]
        assert abs(area + lost - self.entered) <= 1e-3 * self.entered + 1e-6
        roots = {row["name"]: row["body"]["root"] for row in self.book.rows("board")}
        for name, board in self.roots.items():
            if name in self.taped:
                continue
            live = [in_root(row) for row in stock if row["body"]["root"] == name]
            here = [row for row in sound if roots[row["board"]] == name]
            live += [
                shapely.affinity.translate(wood_of(row["body"]), *row["body"]["frame"])
                for row in here
            ]
            alone = board.shape.difference(shapely.union_all([p.buffer(1e-7) for p in live]))
            gone = self.lost.get(name, [0.0, 0.0])
            assert abs(alone.area - gone[0]) <= 1e-3 * board.area_mm2
            volume = sum(
                in_root(row).area * row["body"]["wood"]["thickness_mm"]
                for row in stock
                if row["body"]["root"] == name
            ) + sum(wood_of(row["body"]).area * row["body"]["siding_mm"] for row in here)
            whole = board.area_mm2 * board.thickness_mm
            assert abs(whole - volume - gone[1]) <= 1e-3 * whole

    @invariant()
    def no_piece_is_there_twice(self):
        for keys in (
            [(row["part"], row["copy"]) for row in self.sound()],
            [row["body"]["label"] for row in self.sound()],
        ):
            assert len(set(keys)) == len(keys)

    @invariant()
    def piece_counts_while_it_is_what_is_asked_for(self):
        """By area and thickness alone: changed parts are longer, nothing else."""
        if not self.roots:
            return
        odd = {label for _, label, _, _ in standing(self.book, self.name).odd}
        asked = {need.part: need for need in self.wanted}
        counted = 0
        for row in self.sound():
            body, part = row["body"], asked[row["part"]]
            is_same = abs(wood_of(body).area - part.outline.area_mm2) < 50.0
            is_same &= body["siding_mm"] == part.outline.siding_mm
            is_one_of_them = row["copy"] <= part.quantity
            if body["serves"] is None:
                assert (body["label"] not in odd) == (is_same and is_one_of_them)
            counted += body["label"] not in odd
        done = sum(system.done for system in standing(self.book, self.name).systems)
        offered = as_offered(self.yard, pile_of(self.book))
        still = sum(need.quantity for need in offered.needs)
        wanted = sum(need.quantity for need in self.wanted)
        assert (counted, counted, wanted - still) == (done, len(offered.sawn), done)


@pytest.mark.filterwarnings("ignore::hypothesis.errors.NonInteractiveExampleWarning")
def test_random_histories_keep_all_wood():
    run_state_machine_as_test(
        Shop,
        settings=settings(
            max_examples=HISTORIES, stateful_step_count=STEPS, deadline=None,
            suppress_health_check=list(HealthCheck),
            # What a failing history does is told; to shrink one takes minutes.
            phases=(Phase.explicit, Phase.reuse, Phase.generate),
        ),
    )  # fmt: skip
