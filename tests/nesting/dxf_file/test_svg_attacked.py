"""SVG drawings that show one thing and say another: read as they are seen, or refused in words."""

import pytest

from nesting.dxf_file import curves, svg_path, svg_shapes
from nesting.dxf_file.drawn import read_rings
from nesting.dxf_file.outlines import read_outlines, rings_read_whole
from nesting.errors import DrawingError
from nesting.units import Unit

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="200mm" viewBox="0 0 600 200">'
NAIL = '<circle cx="50" cy="20" r="3"/>'
BAR = '<rect x="100" y="20" width="50" height="5" {}/>'


def written(tmp_path, body, head=HEAD):
    path = tmp_path / "board.svg"
    path.write_bytes(f"{head}{body}</svg>".encode())
    return path


def nails(path):
    """Return the rings of the layer NAILS, as a layer of keep-outs is read."""
    drawn = read_rings(path, unit=None, default_unit=Unit.MM)
    return rings_read_whole(drawn.required("NAILS"), "NAILS", "keep-out")


def refusal(path):
    with pytest.raises(DrawingError) as told:
        nails(path)
    assert "\n" not in str(told.value)
    return str(told.value)


@pytest.mark.parametrize("encoding", ["foo", "shift_jis", "utf-7"])
def test_letters_that_are_not_known_are_told(tmp_path, encoding):
    path = written(tmp_path, NAIL, f'<?xml version="1.0" encoding="{encoding}"?>{HEAD}')
    assert "save it as UTF-8" in refusal(path)


@pytest.mark.parametrize(
    ("layer", "nail"),
    [
        ('<g id="NAILS">{}</g>', '<circle cx="50" cy="20" r="3" display="none"/>'),
        ('<g id="NAILS" style="display:none">{}</g>', NAIL),
        ('<g style="display: none !important"><g id="NAILS">{}</g></g>', NAIL),
        ('<g id="NAILS" style="display:inline; Display: none">{}</g>', NAIL),
        ('<g id="NAILS" style="/* off */ display:none">{}</g>', NAIL),
        ('<g id="NAILS"><g display="none">{}</g></g>', '<path d="M50 20h5v5z"/>'),
    ],
)
def test_hidden_nail_is_told_and_not_passed_over(tmp_path, layer, nail):
    seen = '<g id="NAILS"><circle cx="90" cy="20" r="3"/></g>'
    assert "is hidden (display: none)" in refusal(written(tmp_path, layer.format(nail) + seen))


def test_hidden_lines_are_no_outline(tmp_path):
    hidden = '<g id="help" display="none"><path d="M0 0h500v90h-500z"/></g>'
    (outline,) = read_outlines(written(tmp_path, hidden + '<rect width="300" height="90"/>'))
    assert outline.shape.area == pytest.approx(300 * 90)


@pytest.mark.parametrize(
    "said",
    [
        'transform="rotate(90)" style="transform-origin:125px 22px"',
        'transform="rotate(90)" transform-origin="125 22"',
        'style="rotate:30deg"',
        'style="scale: 2"',
        'style="translate:300px"',
        "style=\"offset-path: path('M0 0h9')\"",
        'style="zoom: 2"',
        'mask="url(#m)"',
    ],
)
def test_what_moves_or_cuts_and_is_not_reckoned_with_is_refused(tmp_path, said):
    path = written(tmp_path, f'<g id="NAILS">{BAR.format(said)}</g>')
    assert "which is not read here" in refusal(path)


@pytest.mark.parametrize("said", ['style="rotate:none;scale:1"', 'mask="none"', 'rotate="auto"'])
def test_what_moves_and_cuts_nothing_is_read(tmp_path, said):
    (ring,) = nails(written(tmp_path, f'<g id="NAILS">{BAR.format(said)}</g>'))
    assert ring.polygon.bounds == pytest.approx((100, -25, 150, -20))


@pytest.mark.parametrize(
    ("sheet", "is_read"),
    [
        (".c{fill:none;stroke-width:2;marker-start:none}", True),
        ("#a { transform : translate(300px, 0) }", False),
        (".c{fill:none;clip-path:url(#x)}", False),
        (".c{stroke:#000}/* */circle{r:9}", False),
        ("@import url('other.css');", False),
    ],
)
def test_style_sheet_that_moves_or_cuts_is_refused(tmp_path, sheet, is_read):
    path = written(tmp_path, f'<style>{sheet}</style><g id="NAILS">{NAIL}</g>')
    if is_read:
        assert len(nails(path)) == 1
    else:
        assert "board.svg:1: its style sheet has " in refusal(path)


def test_style_sheet_of_another_file_is_refused(tmp_path):
    head = f'<?xml-stylesheet href="a.css" type="text/css"?>{HEAD}'
    assert "style sheet in another file" in refusal(written(tmp_path, NAIL, head))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("viewBox", 'transform="scale(2)" viewBox'),
        ('height="200mm"', 'height="400mm" preserveAspectRatio="xMidYMid slice"'),
    ],
)
def test_page_that_is_scaled_another_way_is_refused(tmp_path, old, new):
    refusal(written(tmp_path, f'<g id="NAILS">{NAIL}</g>', HEAD.replace(old, new)))


def test_box_in_a_box_needs_its_size(tmp_path):
    body = '<g id="NAILS"><svg viewBox="0 0 10 10"><circle cx="5" cy="5" r="1"/></svg></g>'
    assert "no width and height" in refusal(written(tmp_path, body))


def test_name_that_is_there_twice_is_not_shown(tmp_path):
    defs = "".join(f'<circle id="q" cx="9" cy="9" r="{r}"/>' for r in (8, 1))
    body = f'<defs>{defs}</defs><g id="NAILS"><use href="#q"/></g>'
    assert "'#q', which is in this file twice" in refusal(written(tmp_path, body))


@pytest.mark.parametrize("given", ['rx="8"', 'ry="8"', 'rx="8" ry="auto"'])
def test_half_axis_that_is_left_out_is_as_the_other(tmp_path, given):
    (ring,) = nails(written(tmp_path, f'<g id="NAILS"><ellipse cx="50" cy="20" {given}/></g>'))
    assert ring.circle == pytest.approx((50, -20, 16))


@pytest.mark.parametrize(
    "nail",
    [
        '<path d="M10 10h0"/>',
        '<path d="M10 10z" stroke-linecap="round" stroke-width="5"/>',
        '<line x1="5" y1="5" x2="5" y2="5"/>',
        '<rect x="3" y="3" width="5"/>',
        '<circle cx="9" cy="9"/>',
        '<polyline points="5,5"/>',
    ],
)
def test_dot_on_a_layer_of_keep_outs_is_told(tmp_path, nail):
    said = refusal(written(tmp_path, f'<g id="NAILS">{NAIL}{nail}</g>'))
    assert "has no length" in said or "has no size" in said
    assert len(read_outlines(written(tmp_path, f'<rect width="99" height="99"/>{nail}'))) == 1


def test_pen_that_is_only_put_down_is_nothing(tmp_path):
    (ring,) = nails(written(tmp_path, '<g id="NAILS"><path d="M10 10h5v5z M 3 3"/></g>'))
    assert ring.polygon.area == pytest.approx(12.5)


CLIP = '<clipPath id="c"><rect width="{}" height="90"/></clipPath>'


@pytest.mark.parametrize("on", ["g", "rect"])
def test_outline_that_is_clipped_is_refused(tmp_path, on):
    given = ('clip-path="url(#c)"', "") if on == "g" else ("", 'clip-path="url(#c)"')
    body = '<g {}><rect width="500" height="90" {}/></g>'.format(*given)
    assert "cut off by the clip path" in refusal(written(tmp_path, CLIP.format(300) + body))
    (outline,) = read_outlines(written(tmp_path, CLIP.format(600) + body))
    assert outline.shape.area == pytest.approx(500 * 90)


@pytest.mark.parametrize("given", ["circle(40px)", "url(#none)", "url(other.svg#c)"])
def test_clip_path_that_is_not_read_is_told(tmp_path, given):
    path = written(tmp_path, f'<rect width="500" height="90" clip-path="{given}"/>')
    assert "which is not read here" in refusal(path)


def test_words_that_are_clipped_are_left_in_peace(tmp_path):
    words = '<g clip-path="url(#c)"><text x="5" y="5">butt</text></g>'
    path = written(tmp_path, CLIP.format(300) + words + '<rect width="500" height="90"/>')
    assert len(read_outlines(path)) == 1


def test_what_shows_itself_again_and_again_has_an_end(tmp_path, monkeypatch):
    monkeypatch.setattr(svg_shapes, "MOST_ELEMENTS", 5_000)
    groups = "".join(
        f'<g id="l{n}">{f"<use href={chr(34)}#l{n + 1}{chr(34)}/>" * 10}</g>' for n in range(9)
    )
    path = written(tmp_path, f'<defs>{groups}<g id="l9"/></defs><use href="#l0"/>')
    assert "shows more than 5,000 elements" in refusal(path)


def test_figures_past_all_numbers_are_refused_without_a_warning(tmp_path):
    body = '<circle cx="9" cy="9" r="3" transform="scale(1e200) scale(1e200)"/>'
    refusal(written(tmp_path, body))


def test_curves_of_too_many_points_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(svg_path, "MOST_POINTS", 9_000)
    monkeypatch.setattr(curves, "MOST_POINTS_IN_ALL", 40_000)
    rounds = "a1e5 1e5 0 1 1 1 0" * 4
    path = '<path id="p" d="M0 0{}z"/>'
    assert "has more than 9,000 points" in refusal(written(tmp_path, path.format(2 * rounds)))
    many = "".join(f'<use href="#p" x="{n}"/>' for n in range(6))
    body = f'<defs>{path.format(rounds)}</defs><g id="NAILS">{many}</g>'
    assert "more than 40,000 points in all" in refusal(written(tmp_path, body))


@pytest.mark.parametrize("points", ["1_0,1 20,1 20,9", "1,2 nan,3 4,5", "1,2 3,4 0x5,6"])
def test_number_that_is_none_is_refused(tmp_path, points):
    assert "where numbers should be" in refusal(
        written(tmp_path, f'<g id="NAILS"><polygon points="{points}"/></g>')
    )
