"""Settings for every test: random examples are as slow as the machine is busy, and no worse.

In continuous integration the examples are the same at every run; elsewhere they are new ones.
"""

import os
import signal

import pytest
from hypothesis import settings

settings.register_profile("shop", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("shop")

# Where tests are started by nohup, SIGHUP is ignored, and would be by what they start.
signal.signal(signal.SIGHUP, signal.SIG_DFL)


LONG = {
    "test_again_by_book", "test_ahead", "test_any_boat", "test_any_job", "test_any_project",
    "test_berths", "test_beside", "test_boat_command", "test_book_histories",
    "test_book_safety", "test_bounds", "test_break_down", "test_broken_projects",
    "test_chart", "test_choice_of_members",
    "test_clear_rectangles", "test_cluster", "test_crowd", "test_demo_projects",
    "test_dxf_corpus", "test_dxf_writing", "test_edge_figures", "test_faces",
    "test_faired_figures", "test_fairing", "test_fitted_kinds", "test_fitted_solids",
    "test_floating", "test_followed", "test_free_space", "test_front", "test_group_codes",
    "test_hulls_apart", "test_hydrostatics", "test_jostling", "test_kernels",
    "test_kinds_by_command", "test_known_hulls", "test_launch_to_skiff", "test_least_wood",
    "test_loft_command", "test_loft_drawing", "test_lost_workers", "test_machine_files",
    "test_marking_out", "test_model_drawing", "test_model_picture", "test_model_solids",
    "test_mutations", "test_nest_again", "test_new_timber", "test_off_hull", "test_old_boat_file",
    "test_outside_audit", "test_pack", "test_page", "test_paper_layout", "test_pattern_pages",
    "test_pattern_roll", "test_photo_camera", "test_photographed", "test_pieces_that_meet",
    "test_piles", "test_print_sheets", "test_project_fitted", "test_project_schema",
    "test_published_bin", "test_published_strips", "test_readme", "test_reasons", "test_remarks",
    "test_shares", "test_sheets_kept", "test_sheets_part_notes", "test_shop_lists",
    "test_side_by_side", "test_solids",
    "test_sorting", "test_squeeze", "test_stopped_runs", "test_straight_keels", "test_streams",
    "test_strip", "test_strip_fill", "test_tidy", "test_time_limits", "test_trimmed",
    "test_unsure_edges", "test_week_in_the_shop", "test_wholes", "test_wished_by_book",
    "test_wished_plans",
}  # fmt: skip
"""Files that take most of the time: not for every save."""


@pytest.fixture(autouse=True)
def only_sheets(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave printed sheets, page and lists to the tests that look at them: they take seconds."""
    if request.node.get_closest_marker("as_shipped") is None:
        monkeypatch.setattr("nesting.shop.kinds.USUAL_OUTPUTS", ())


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest: no worker is left alone with it at the end."""
    for item in items:
        if item.path.stem in LONG:
            item.add_marker(pytest.mark.long)
    items.sort(key=lambda item: item.get_closest_marker("long") is None)
