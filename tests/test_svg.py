"""Drawings in SVG: where every figure lies, worked out by hand or by matplotlib's own affine maps."""

import io
import logging
import warnings

import numpy as np
import pytest
from matplotlib.transforms import Affine2D

import chipsim as cs
from chipsim.designs.styles import colour_of

NS = "xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink'"


def drawing(inside, head="width='100mm' height='100mm' viewBox='0 0 100 100'", **options):
    return cs.read_svg(f"<svg {NS} {head}>{inside}</svg>", **{"depth": 1.0, **options})


def box(paths):
    """Left, bottom, right, top of all paths."""
    xy = np.vstack([p.position(np.linspace(0, p.length, 4001)) for p in paths])
    return [*xy.min(axis=0), *xy.max(axis=0)]


SQUARE = "<path d='M10 10H20V20H10Z'/>"


# --- shapes -----------------------------------------------------------------------------------------------------------

SHAPES = {
    "path": (SQUARE, 40),
    "rect": ("<rect x='10' y='10' width='10' height='10'/>", 40),
    "rounded": ("<rect x='10' y='10' width='10' height='10' rx='2'/>", 24 + 4 * np.pi),
    "rounded as far as it goes": ("<rect x='10' y='10' width='10' height='10' rx='50'/>", 10 * np.pi),
    "rounded by one": ("<rect x='10' y='10' width='10' height='10' ry='3' rx='auto'/>", 16 + 6 * np.pi),
    "circle": ("<circle cx='15' cy='15' r='5'/>", 10 * np.pi),
    "ellipse": ("<ellipse cx='15' cy='15' rx='5' ry='5'/>", 10 * np.pi),
    "ellipse of one radius": ("<ellipse cx='15' cy='15' rx='5'/>", 10 * np.pi),
    "polygon": ("<polygon points='10,10 20,10 20,20 10,20'/>", 40),
    "polygon, tight": ("<polygon points='10 10,20 10,20,20,10 20'/>", 40),
    "polyline": ("<polyline points='10,10 20,10 20,20 10,20'/>", 30),
    "line": ("<line x1='10' y1='10' x2='20' y2='20'/>", 200**0.5),
    "share of the page": ("<rect x='10%' y='10%' width='10%' height='10%'/>", 40),
    "circle in shares": ("<circle cx='15%' cy='15%' r='5%'/>", 10 * np.pi),
}


@pytest.mark.parametrize("name", SHAPES)
def test_shapes_lie_where_they_should(name):
    text, length = SHAPES[name]
    read = drawing(text)
    assert len(read) == 1
    assert read[0].length == pytest.approx(length, rel=1e-9)
    assert box(read) == pytest.approx([10, 80, 20, 90], abs=1e-6)
    assert read[0].closed == (name not in ("polyline", "line"))
    assert read.size == pytest.approx((100, 100))
    assert read.notes == ()


@pytest.mark.parametrize(
    "nothing",
    ["<rect width='0' height='5'/>", "<circle r='0'/>", "<ellipse rx='3' ry='0'/>", "<path d=''/>", "<path/>",
     "<polygon points='3 3'/>", "<circle/>", "<ellipse/>", "<path d='M5 5Z'/>",
     "<g transform='scale(0)'><circle r='9'/></g>"],
)  # fmt: skip
def test_shapes_without_extent_draw_nothing(nothing):
    assert len(drawing(SQUARE + nothing)) == 1
    with pytest.raises(cs.DomainError, match="file must hold a shape"):
        drawing(nothing)


# --- sizes ------------------------------------------------------------------------------------------------------------

SIZES = {
    "width='50mm' height='50mm' viewBox='0 0 100 100'": [5, 40, 10, 45],
    "width='2in' height='2in' viewBox='0 0 100 100'": [5.08, 40.64, 10.16, 45.72],
    "width='10cm' height='10cm' viewBox='0 0 100 100'": [10, 80, 20, 90],
    "width='400Q' height='400Q' viewBox='0 0 100 100'": [10, 80, 20, 90],
    "width='72pt' height='72pt' viewBox='0 0 100 100'": [2.54, 20.32, 5.08, 22.86],
    "width='6pc' height='6pc' viewBox='0 0 100 100'": [2.54, 20.32, 5.08, 22.86],
    "width='96px' height='96px' viewBox='0 0 100 100'": [2.54, 20.32, 5.08, 22.86],
    "width='96' height='96'": [10 * 25.4 / 96, 76 * 25.4 / 96, 20 * 25.4 / 96, 86 * 25.4 / 96],
    "viewBox='0 0 96 96'": [10 * 25.4 / 96, 76 * 25.4 / 96, 20 * 25.4 / 96, 86 * 25.4 / 96],
    "width='100%' height='100%' viewBox='0 0 96 96'": [10 * 25.4 / 96, 76 * 25.4 / 96, 20 * 25.4 / 96, 86 * 25.4 / 96],
    "width='100mm' viewBox='0 0 100 50'": [10, 30, 20, 40],
    "height='50mm' viewBox='0 0 100 50'": [10, 30, 20, 40],
    "width='100mm' height='100mm' viewBox='10 10 100 100'": [0, 90, 10, 100],
    "style='width:50mm;height:50mm' viewBox='0 0 100 100'": [5, 40, 10, 45],
    "width='200mm' height='100mm' viewBox='0 0 100 100'": [60, 80, 70, 90],
    "width='200mm' height='100mm' viewBox='0 0 100 100' preserveAspectRatio='xMinYMid'": [10, 80, 20, 90],
    "width='200mm' height='100mm' viewBox='0 0 100 100' preserveAspectRatio='xMaxYMax meet'": [110, 80, 120, 90],
    "width='200mm' height='100mm' viewBox='0 0 100 100' preserveAspectRatio='none'": [20, 80, 40, 90],
    "width='200mm' height='100mm' viewBox='0 0 100 100' preserveAspectRatio='xMidYMin slice'": [20, 60, 40, 80],
    "width='200mm' height='100mm' viewBox='0 0 100 100' preserveAspectRatio='xMidYMid slice'": [20, 110, 40, 130],
    "": [10 * 25.4 / 96, -20 * 25.4 / 96, 20 * 25.4 / 96, -10 * 25.4 / 96],
}


@pytest.mark.parametrize("head", SIZES)
def test_units_viewboxes_and_fits(head):
    read = drawing(SQUARE, head)
    assert box(read) == pytest.approx(SIZES[head], abs=1e-9)
    told = any(unit in head for unit in ("mm", "in'", "cm", "Q", "pt", "pc"))
    assert any("was taken for a pixel" in note for note in read.notes) != told


# --- transforms -------------------------------------------------------------------------------------------------------

TRANSFORMS = {
    "translate(5)": Affine2D().translate(5, 0),
    "translate(5,-3) rotate(30)": Affine2D().rotate_deg(30).translate(5, -3),
    "rotate(30 10 20)": Affine2D().rotate_deg_around(10, 20, 30),
    "scale(2) , scale(-1 .5)": Affine2D().scale(-1, 0.5).scale(2),
    "matrix(1 .2 -.3 1.5 4 5)": Affine2D.from_values(1, 0.2, -0.3, 1.5, 4, 5),
    "skewX(30)": Affine2D().skew_deg(30, 0),
    "skewY(-20)translate(1-2)": Affine2D().translate(1, -2).skew_deg(0, -20),
}
CURVE = "M10 10C20 40 30-20 40 10Q50 30 60 10A20 12 25 0 1 80 30L70 40"


@pytest.mark.parametrize("one", TRANSFORMS)
@pytest.mark.parametrize("two", ["translate(5)", "skewX(30)", "rotate(30 10 20)"])
def test_nested_transforms_are_matplotlibs(one, two):
    """The same figure, its points moved by matplotlib and read without a transform, lines for curves."""
    (read,) = drawing(f"<g transform='{two}'><path transform='{one}' d='{CURVE}'/></g>")
    (plain,) = cs.paths_from(CURVE, 1.0, tolerance=1e-3)
    dense = plain.position(np.linspace(0, plain.length, 20_001))
    moved = (TRANSFORMS[one] + TRANSFORMS[two]).transform(dense) * [1, -1] + [0, 100]
    chords = np.append(0, np.cumsum(np.hypot(*np.diff(moved, axis=0).T)))
    assert read.length == pytest.approx(chords[-1], abs=0.02)
    from test_designs import to_line, to_pieces

    assert to_pieces(moved, read).max() < 0.015
    assert to_line(read.position(np.linspace(0, read.length, 3000)), moved).max() < 0.015


def test_a_circle_stays_exact_unless_it_is_skewed():
    text = "<circle cx='30' cy='30' r='10' transform='{}'/>"
    for kept in ("rotate(20) translate(3 4) scale(2)", "scale(-1 1)", "matrix(0 1 1 0 0 0)"):
        (ring,) = drawing(text.format(kept))
        assert len(ring.sweep) == 4
        assert np.ptp(np.abs(ring.curvature(ring.joints[:-1]))) < 1e-12
    for bent in ("skewX(10)", "scale(2 1)"):
        (oval,) = drawing(text.format(bent))
        assert len(oval.sweep) > 8


def test_directions_turn_over_with_y():
    """SVG's circle runs clockwise as it is seen on the page; so does the path in the board's face."""
    (ring,) = drawing("<circle cx='50' cy='50' r='10'/>")
    assert (ring.sweep < 0).all()
    assert ring.xy[0] == pytest.approx([60, 50])


# --- structure --------------------------------------------------------------------------------------------------------


def test_groups_uses_and_symbols():
    text = """<defs><g id='leaf'><path id='rib' d='M0 0H10'/></g>
    <symbol id='eye' viewBox='0 0 10 10'><circle cx='5' cy='5' r='5'/></symbol></defs>
    <use href='#leaf' x='20' y='30' transform='scale(2)'/>
    <use id='right' xlink:href='#eye' x='50' y='50' width='20' height='40'/>
    <svg x='10' y='60' width='10' height='10' viewBox='0 0 1 1'><rect width='1' height='1'/></svg>"""
    leaf, eye, nested = drawing(text)
    assert leaf.xy.ravel() == pytest.approx([40, 40, 60, 40])
    assert (leaf.name, eye.name, nested.name) == ("rib", "eye", "")
    assert box([eye]) == pytest.approx([50, 20, 70, 40], abs=1e-6)
    assert box([nested]) == pytest.approx([10, 30, 20, 40], abs=1e-9)


def test_what_is_not_displayed_is_not_read():
    text = """<style>.off{display:none} #one , .two{visibility:hidden} /* .three{display:none} */
    @media print { .three{display:none} } rect{stroke:blue}</style>
    <g class='off'><path d='M0 0H9' style='display:inline'/></g><path id='one' d='M0 0H9'/>
    <path class='x two' d='M0 0H9'/>
    <path class='three' d='M0 0H3'/><path display='none' d='M0 0H9'/><g visibility='hidden'><path d='M0 0H9'/>
    <path visibility='visible' d='M0 0H4'/></g><path style='display:none' d='M0 0H9'/><defs><path d='M0 0H9'/></defs>"""
    read = drawing(text)
    assert [round(p.length) for p in read] == [3, 4]
    assert any("@media" in note for note in read.notes)


def test_depth_by_id_by_group_by_stroke_and_by_place():
    text = """<style>.fine{stroke:rgb(0, 0, 255)}</style><g id='veins'><path id='stem' d='M0 0H9'/>
    <path d='M0 0H8'/></g>
    <path d='M0 0H7' stroke='#F00'/><g stroke='red'><path d='M0 0H6'/><path class='fine' d='M0 0H5'/></g>"""
    read = drawing(text, depth={"stem": 3, "veins": 2, "red": 1.5, "#00f": lambda x, y: 1 + 0 * x})
    assert [p.depth[0] for p in read] == [3, 2, 1.5, 1.5, 1]
    with pytest.raises(cs.DomainError, match=r"depth must hold the depth of every path, got none for ids 'veins'"):
        drawing(text, depth={"stem": 3, "red": 1.5, "#00f": 1})
    low, high = drawing("<path d='M0 10H9'/><path d='M0 90H9'/>", depth=lambda x, y: y / 50)
    assert (low.depth[0], high.depth[0]) == pytest.approx((1.8, 0.2))
    assert colour_of(" RED ") == colour_of("#F00") == colour_of("rgb(255,0,0)") == "#ff0000"


LEFT_OUT = {
    "<text>oak</text>": "<text>", "<image href='a.png'/>": "<image>", "<foreignObject/>": "<foreignObject>",
    "<use href='other.svg#a'/>": "in another file", "<use href='#none'/>": "not in the file",
    "<rect width='3em' height='2'/>": "lengths in 'em'",
    "<path style='transform:rotate(3deg)' d='M0 0H5'/>": "'transform'",
    "<circle style='r:5' />": "'r'", "<g transform-origin='5 5'><circle r='3'/></g>": "transform-origin",
}  # fmt: skip


@pytest.mark.parametrize("text", LEFT_OUT)
def test_what_cannot_be_read_is_named_and_warned_of(text):
    with pytest.warns(cs.DesignWarning, match="Left out of the drawing") as caught:
        read = drawing(SQUARE + text)
    assert len(caught) == 1
    assert len(read) == 1
    assert LEFT_OUT[text] in read.notes[0]
    assert LEFT_OUT[text] in str(read)


def test_what_is_not_heeded_is_noted():
    text = """<path clip-path='url(#a)' d='M0 0H5'><animate/></path>
    <switch><g><path d='M0 0H6'/></g><path d='M0 0H7'/></switch>"""
    read = drawing(text)
    assert [round(p.length) for p in read] == [5, 6]
    assert all(any(word in note for note in read.notes) for word in ("clip-path", "animation", "switch"))


# --- hostile files ----------------------------------------------------------------------------------------------------

BOMB = "<!DOCTYPE svg [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>]>"
SPOILT = {
    "bomb": BOMB + f"<svg {NS}><title>&b;</title>{SQUARE}</svg>",
    "external": f"<!DOCTYPE svg [<!ENTITY x SYSTEM 'file:///etc/passwd'>]><svg {NS}><title>&x;</title></svg>",
    "parameter": f"<!DOCTYPE svg [<!ENTITY % x SYSTEM 'file:///etc/passwd'> %x;]><svg {NS}/>",
    "undeclared": f"<svg {NS}><title>&nbsp;</title>{SQUARE}</svg>",
    "undeclared with a DTD": f"<!DOCTYPE svg SYSTEM 'none.dtd'><svg {NS}><title>&nbsp;</title>{SQUARE}</svg>",
    "cut short": f"<svg {NS}><g>{SQUARE}",
    "html": "<html><body/></html>",
    "deep": f"<svg {NS}>" + "<g>" * 300 + SQUARE + "</g>" * 300 + "</svg>",
    "clone of itself": f"<svg {NS}><g id='a'><use href='#a'/>{SQUARE}</g></svg>",
    "clones of clones": f"<svg {NS}><g id='a0'>{SQUARE}</g>"
    + "".join(f"<g id='a{k + 1}'>" + f"<use href='#a{k}'/>" * 10 + "</g>" for k in range(9)) + "</svg>",
    "a chain of clones": f"<svg {NS}><g id='a0'>{SQUARE}</g>"
    + "".join(f"<use id='a{k + 1}' href='#a{k}'/>" for k in range(999)) + "</svg>",
    "a chain of clones the other way round": f"<svg {NS}>"
    + "".join(f"<use id='a{k + 1}' href='#a{k}'/>" for k in range(998, -1, -1)) + f"<g id='a0'>{SQUARE}</g></svg>",
    "transform": f"<svg {NS}><g transform='rotate(3'>{SQUARE}</g></svg>",
    "transform of another kind": f"<svg {NS}><g transform='spin(3)'>{SQUARE}</g></svg>",
    "transform by too many": f"<svg {NS}><g transform='scale(1 2 3)'>{SQUARE}</g></svg>",
    "nan": f"<svg {NS}><g transform='translate(nan)'>{SQUARE}</g></svg>",
    "infinite": f"<svg {NS}><g transform='scale(1e999)'>{SQUARE}</g></svg>",
    "far": f"<svg {NS}><g transform='scale(1e8)'>{SQUARE}</g></svg>",
    "viewBox": f"<svg {NS} viewBox='0 0 100'>{SQUARE}</svg>",
    "viewBox of nothing": f"<svg {NS} viewBox='0 0 0 100'>{SQUARE}</svg>",
    "width": f"<svg {NS} width='-5mm' height='5mm'>{SQUARE}</svg>",
    "width in ems": f"<svg {NS} width='5em' height='5mm'>{SQUARE}</svg>",
    "aspect": f"<svg {NS} width='5' height='5' viewBox='0 0 1 1' preserveAspectRatio='left'>{SQUARE}</svg>",
    "odd points": f"<svg {NS}><polygon points='1 2 3'/></svg>",
    "words for points": f"<svg {NS}><polygon points='1 2 a b'/></svg>",
    "underscores": f"<svg {NS}><polygon points='1_0 2 3 4'/></svg>",
    "radius below nothing": f"<svg {NS}><circle r='-3'/></svg>",
    "path": f"<svg {NS}><path id='bad' d='M0 0L5'/></svg>",
    "huge": f"<svg {NS}><rect width='1e300' height='3'/></svg>",
    "nothing": f"<svg {NS}/>",
}  # fmt: skip


@pytest.mark.parametrize("name", SPOILT)
def test_hostile_and_damaged_files_are_refused(name):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", cs.DesignWarning)
        with pytest.raises(cs.DomainError) as caught:
            cs.read_svg(SPOILT[name], depth=1.0)
    assert "root:" not in str(caught.value)
    assert len(str(caught.value)) < 400
    if name == "path":
        assert str(caught.value).endswith("in the drawing's <path id='bad'>")


def test_a_plain_doctype_is_no_harm():
    dtd = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    assert (
        len(cs.read_svg(f"<?xml version='1.0'?>{dtd}<svg {NS} xmlns:own='x:y'><own:page/>{SQUARE}</svg>", depth=1)) == 1
    )


def test_files_open_files_and_encodings(tmp_path):
    text = f"<svg {NS} width='10mm' height='10mm'><path id='äste' d='M0 0H5'/></svg>"
    for coding in ("utf-8", "utf-16", "iso-8859-1"):
        path = tmp_path / f"{coding}.svg"
        path.write_bytes((f"<?xml version='1.0' encoding='{coding}'?>" + text).encode(coding))
        assert cs.read_svg(path, depth=1.0)[0].name == "äste"
        assert cs.read_svg(str(path), depth=1.0)[0].name == "äste"
        with open(path, "rb") as handle:
            assert cs.read_svg(handle, depth=1.0)[0].name == "äste"
    assert cs.read_svg(io.StringIO(text), depth=1.0)[0].name == "äste"
    (tmp_path / "packed.svgz").write_bytes(b"\x1f\x8b\x08\x00" + b"0" * 20)
    with pytest.raises(cs.DomainError, match="compressed"):
        cs.read_svg(tmp_path / "packed.svgz", depth=1.0)
    with pytest.raises(cs.DomainError, match="no such file"):
        cs.read_svg(tmp_path / "none.svg", depth=1.0)
    for wrong in (3, None, b"<svg/>", "", "a\0b", io.BytesIO(b"")):
        with pytest.raises(cs.DomainError, match=r"^file must"):
            cs.read_svg(wrong, depth=1.0)


def test_the_library_logger_says_what_was_read_and_is_silent_by_default(caplog, capfd):
    drawing(SQUARE)
    assert capfd.readouterr() == ("", "")
    with caplog.at_level(logging.INFO, logger="chipsim"):
        drawing(SQUARE, "")
    assert "read 1 paths" in caplog.text
    assert "taken for a pixel" in caplog.text
