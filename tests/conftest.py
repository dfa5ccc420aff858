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
    "test_ahead", "test_any_job", "test_any_project", "test_book_histories",
    "test_book_safety", "test_boat_command", "test_break_down",
    "test_broken_projects", "test_clear_rectangles", "test_cluster", "test_demo_projects",
    "test_dxf_corpus", "test_fairing", "test_fitted_kinds", "test_fitted_solids", "test_front",
    "test_hulls_apart", "test_kernels", "test_kinds_by_command", "test_known_hulls",
    "test_loft_command", "test_loft_drawing",
    "test_machine_files", "test_marking_out", "test_model_drawing", "test_model_picture",
    "test_model_solids", "test_mutations", "test_nest_again", "test_new_timber",
    "test_old_boat_file", "test_outside_audit", "test_page", "test_photo_camera",
    "test_photographed", "test_pattern_pages",
    "test_pattern_roll", "test_pieces_that_meet", "test_piles", "test_print_sheets", "test_readme",
    "test_remarks", "test_shop_lists", "test_sorting", "test_stopped_runs", "test_streams",
    "test_tidy", "test_trimmed", "test_week_in_the_shop", "test_wished_plans",
}  # fmt: skip
"""Files that take most of the time, beside those that compile the jostling: not for every save."""


@pytest.fixture(autouse=True)
def only_sheets(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave printed sheets, page and lists to the tests that look at them: they take seconds."""
    if request.node.get_closest_marker("as_shipped") is None:
        monkeypatch.setattr("nesting.shop.kinds.USUAL_OUTPUTS", ())


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep each file on one worker, unless it names a group: what it prepares is made once.

    What takes longest comes first, so that no worker is left alone with it at the end.
    """
    for item in items:
        group = item.get_closest_marker("xdist_group")
        if group is None:
            item.add_marker(pytest.mark.xdist_group(item.path.stem))
        if item.path.stem in LONG or (group is not None and "jostle" in group.args):
            item.add_marker(pytest.mark.long)
    items.sort(key=lambda item: item.get_closest_marker("long") is None)
