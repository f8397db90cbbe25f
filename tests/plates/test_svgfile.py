"""What drawing programs save, read against a second reader; and files that were made to do harm."""

from __future__ import annotations

import io
import resource
import time

import charts
import numpy as np
import pytest
import shapely
import svgelements

from shellgen.errors import PresetError
from shellgen.plates import _svgfile, drawn
from shellgen.plates._sketch import Unreadable

PATHS = (
    "M 100 100 L 300 100 L 200 300 z",
    "M100,200 C100,100 250,100 250,200 S400,300 400,200",
    "M200,300 Q400,50 600,300 T1000,300",
    "M300,200 h-150 a150,150 0 1,0 150,-150 z",
    "M600,350 l 50,-25 a25,25 -30 0,1 50,-25 l 50,-25 a25,50 -30 0,1 50,-25 l 50,-25 a25,75 -30 0,1 50,-25",
    "M10-20.5.5.3-4 5L1e1 2E1",
    "m1 1 10 0 0 10zm50 50h30v-20H0V9z",
    "M0 0a5 5 0 0110 0A 50 20 33 1 1 70 40",
    "M1-2.5 3.5.5-.5-1.5.25.75",
    "M5 5A25 12.5-30 01 60-20.5a1e1 1e1 0 1 0-.5.5",
    "M+1+2l+3-.4E1,7\n7\tL\r10,0",
    "m5 5 5 0 5 5zl7 2M0 0T10 0T20 5M20 5S10 10 20 25",
    "M0 0A-5-5 0 0 1 10 0A1 1 0 0 1 90 0",
)
"""The first five are examples of SVG 2, section 9.3 (The 'd' property); the others write what its grammar allows."""


def sketch(body: str, head: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"') -> _svgfile.Sketch:
    return _svgfile.read(f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'.encode())


@pytest.mark.parametrize("path", PATHS)
def test_paths_are_those_of_another_reader(path: str) -> None:
    """svgelements (T. Olsen) parses each on its own; both curves, sampled, lie on each other."""
    mine = np.concatenate([stroke.points for stroke in sketch(f'<path d="{path}" />').strokes])
    other = []
    for segment in svgelements.Path(path):
        if not isinstance(segment, svgelements.Move):
            other += [segment.point(t) for t in np.linspace(0, 1, 800)]
    theirs = np.array([(point.x, point.y) for point in other], float)
    lines = shapely.MultiLineString([s.points for s in sketch(f'<path d="{path}" />').strokes])
    assert shapely.distance(shapely.points(theirs), lines).max() < 0.03
    assert np.abs(mine[[0]] - theirs[[0]]).max() < 1e-9
    fine = shapely.get_coordinates(shapely.segmentize(lines, 0.5))
    assert max(np.hypot(*(theirs - p).T).min() for p in fine[:: max(1, len(fine) // 400)]) < 1.0


@pytest.mark.parametrize(
    ("head", "body", "wanted"),
    [
        ('width="210mm" height="297mm" viewBox="0 0 210 297"', '<line x1="10" x2="20" y1="5" y2="5" />', (10, 5)),
        ('width="210mm" height="297mm"', '<line x1="1in" x2="2in" y1="1cm" y2="1cm" />', (25.4, 10)),
        ('viewBox="0 0 96 96"', '<path d="M96 96h-9" />', (25.4, 25.4)),
        ('width="72pt" height="1in" viewBox="-10 -10 20 20"', '<path d="M0 0h1" />', (12.7, 12.7)),
        ('width="200" height="100" viewBox="0 0 10 10"', '<path d="M0 0h1" />', (50 * 25.4 / 96, 0)),
        ('width="200" height="100" viewBox="0 0 10 10" preserveAspectRatio="xMaxYMid"', '<path d="M0 0h1" />',
         (100 * 25.4 / 96, 0)),
        ('width="10mm" height="10mm" viewBox="0 0 10 10"',
         '<g transform="scale(2) translate(1 1)"><path d="M1 1h1"/></g>', (4, 4)),
        ('width="10mm" height="10mm" viewBox="0 0 10 10"', '<rect x="50%" y="10%" width="2" height="2" />', (5, 1)),
    ],
)  # fmt: skip
def test_units_and_boxes_come_to_mm_on_the_page(head: str, body: str, wanted: tuple[float, float]) -> None:
    assert sketch(body, head).strokes[0].points[0] == pytest.approx(wanted, abs=1e-9)


LINE = '<path d="M0 0h9" />'
STYLED = {
    "a symbol that nobody uses": (0, f'<symbol id="a">{LINE}</symbol>'),
    "a symbol that is used": (1, f'<symbol id="a" viewBox="0 0 10 10">{LINE}</symbol><use href="#a" width="5" />'),
    "by id, by kind and class": (
        0,
        "<style>/* x */ #p, path.q {display: none !important}</style>"
        '<path id="p" d="M0 0h9" /><path class="r q" d="M0 0h9" />',
    ),
    "an id is more than a class": (
        1, '<style>#p{display:inline} .q{display:none}</style><path id="p" class="q" d="M0 0h9" />'
    ),
    "style is more than a class": (
        1, '<style>.q{display:none}</style><path class="q" style="display:inline" d="M0 0h9" />'
    ),
    "seen in a hidden group": (1, f'<g visibility="hidden">{LINE}<path visibility="visible" d="M0 0h9" /></g>'),
    "without line and filling": (0, '<rect width="9" height="9" style="fill:none" /><g fill="none">' + LINE + "</g>"),
    "with a line": (1, '<rect width="9" height="9" fill="none" stroke="red" />'),
    "transparent": (0, f'<g opacity="0">{LINE}</g>'),
    "style sheet in CDATA": (1, '<style><![CDATA[.a{stroke:#f00;fill:none}]]></style><path class="a" d="M0 0h9" />'),
    "not on this page": (0, f"<marker>{LINE}</marker><pattern>{LINE}</pattern><mask>{LINE}</mask><metadata/>"),
    "of a foreign program": (
        1, f"<switch><foreignObject>{LINE}</foreignObject><g>{LINE}</g></switch><x:y>{LINE}</x:y>"
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", STYLED)
def test_what_is_seen_is_read_and_nothing_else(name: str) -> None:
    wanted, body = STYLED[name]
    assert len(sketch(body, 'width="9mm" height="9mm" viewBox="0 0 9 9" xmlns:x="x:"').strokes) == wanted


@pytest.mark.parametrize(
    "body",
    [
        '<svg x="5" y="7" width="40" height="20" viewBox="-1 -2 10 10"><path d="M0 0L3 4" /></svg>',
        '<svg x="5" y="7" width="40" height="20" viewBox="-1 -2 10 10" preserveAspectRatio="xMaxYMin slice">'
        '<path d="M0 0L3 4" /></svg>',
        '<svg width="50%" height="50%" viewBox="0 0 10 20" preserveAspectRatio="none"><path d="M0 0L3 4" /></svg>',
        '<g transform="translate(3,4)rotate(30 5 5) skewX(10),scale(2)"><path d="M0 0L3 4" /></g>',
        '<g transform="matrix(1 .5-.5 1,3-4)"><path d="M0 0L3 4" transform="skewY(-5)" /></g>',
        '<defs><path id="one" d="M0 0L3 4" /></defs><use href="#one" x="5" y="6" transform="scale(2)" />',
    ],
)
def test_places_are_those_of_another_reader(body: str) -> None:
    """svgelements walks the whole file on its own: viewports, transforms, copies."""
    head = 'width="100mm" height="80mm" viewBox="0 0 100 80"'
    text = f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'
    other = [e for e in svgelements.SVG.parse(io.StringIO(text), ppi=96).elements() if isinstance(e, svgelements.Path)]
    wanted = np.array([(abs(other[-1]).point(t).x, abs(other[-1]).point(t).y) for t in (0, 1)]) * 25.4 / 96
    assert np.abs(sketch(body, head).strokes[0].points[[0, -1]] - wanted).max() < 1e-4  # their inch is rounded


def test_a_symbol_takes_the_size_of_its_copy_and_em_that_of_letters() -> None:
    copy = (
        '<symbol id="a" viewBox="0 0 10 10"><path d="M0 0h9" /></symbol><use href="#a" width="50" height="50" x="5" />'
    )
    assert sketch(copy).strokes[0].points == pytest.approx(np.array([[5, 0], [50, 0]]))
    words = '<g font-size="2"><text font-size="2em" x="0" y="10">abcd</text></g>'
    assert sketch(words).words[0].spots[0] == pytest.approx((0.5 * 0.55 * 4 * 4, 10 - 0.35 * 4))


def test_layers_are_known_by_what_programs_make_of_their_names() -> None:
    for name in ("Spikes", "spikes_1_", "spikes-2", "spikes 3"):
        dots = sketch(f'<g inkscape:label="{name}"><circle r="5" /></g>', 'width="9mm" xmlns:inkscape="i"').dots
        assert len(dots) == 1
    assert sketch('<g id="spikes_x5F_tall"><circle r="5" /></g>').dots[0].layers == ("spikes_tall",)


def test_hidden_things_are_not_drawn() -> None:
    body = (
        '<style>.st0{display:none}</style><path class="st0" d="M0 0h9"/><g style="display:none"><path d="M0 0h9"/></g>'
        '<defs><path d="M0 0h9"/></defs><clipPath><path d="M0 0h9"/></clipPath><path visibility="hidden" d="M0 0h9"/>'
        '<image href="photo.jpg" /><script>alert(1)</script><path d="M0 0h8"/>'
    )
    assert len(sketch(body).strokes) == 1


def test_the_declarations_of_drawing_programs_are_read() -> None:
    head = '<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://w3.org/x.dtd" [<!ENTITY ns_svg '
    text = (
        head + '"http://www.w3.org/2000/svg">]><svg xmlns="&ns_svg;" width="9mm" height="9mm"><path d="M0 0h9"/></svg>'
    )
    assert len(_svgfile.read(text.encode()).strokes) == 1


BOMB = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
HOSTILE = {
    "entity bomb": f'<!DOCTYPE svg [<!ENTITY a0 "ha">{BOMB}]><svg>&a11;</svg>',
    "long entity": f'<!DOCTYPE svg [<!ENTITY a "{"x" * 290}">]><svg><text>{"&a;" * 200_000}</text></svg>',
    "external entity": '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]><svg><text>&a;</text></svg>',
    "parameter entity": '<!DOCTYPE svg [<!ENTITY % a SYSTEM "http://127.0.0.1/x">%a;]><svg/>',
    "external use": '<svg><use href="other.svg#a" /></svg>',
    "use bomb": "<svg><defs>"
    + "".join(f'<g id="g{n}">{f"""<use href="#g{n - 1}"/>""" * 10}</g>' for n in range(1, 8))
    + '<path id="g0" d="M0 0h1"/></defs><use href="#g7"/></svg>',
    "use of itself": '<svg><g id="a"><use href="#a" /></g></svg>',
    "10,000 paths": "<svg>" + '<path d="M0 0h9" />' * 10_000 + "</svg>",
    "one long path": f'<svg><path d="M0 0{"l1 1" * 200_000}" /></svg>',
    "huge coordinates": '<svg><path d="M0 0L1e30 1e300L1e999 0" /></svg>',
    "huge transform": '<svg><g transform="scale(1e200)"><g transform="scale(1e200)"><path d="M0 0h9"/></g></g></svg>',
    "deep": "<svg>" + "<g>" * 5000 + "</g>" * 5000 + "</svg>",
    "truncated": '<svg><path d="M0 0h9',
    "too large": "<svg>" + " " * 3_000_000 + "</svg>",
    "no svg": "<html></html>",
    "empty": "",
    "binary": "\x00\x01\x02",
    "broken path": '<svg><path d="M0 0 L 5" /></svg>',
    "broken transform": '<svg><path transform="rotate(a)" d="M0 0h5" /></svg>',
    "broken length": '<svg><rect x="wide" width="9" height="9" /></svg>',
    "no page": '<svg viewBox="0 0 0 0"><path d="M0 0h9"/></svg>',
    "style sheet without end": f"<svg><style>{'/*' * 900_000}</style></svg>",
    "many rules": f"<svg><style>{'a{b:c}' * 300_000}</style></svg>",
    "long selector": f"<svg><style>{'.a' * 900_000}{{b:c}}</style></svg>",
    "arc without way": '<svg><path d="M0 0A5 5 0 0 1 0 0" /></svg>',
    "no chart": '<svg><path d="M0 0h9"/></svg>',
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_one_clear_error_within_ten_seconds_and_two_gigabytes(name: str) -> None:
    start, most = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(PresetError, match=r"^plates\.file: The drawing cannot be used: .*") as found:
        drawn.build(charts.dome(), drawn.Params(file=charts.named(HOSTILE[name])))
    assert time.process_time() - start < 10 and str(found.value).isprintable() and len(str(found.value)) < 400
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss < most + 2_000_000  # KiB
    assert "/etc" not in str(found.value) and "root:" not in str(found.value)


def test_a_file_that_goes_away_is_a_clear_error() -> None:
    file = charts.named(charts.blank())
    file.path.unlink()
    with pytest.raises(PresetError, match="No such file"):
        drawn.build(charts.dome(), drawn.Params(file=file))


def test_words_come_with_the_places_that_they_cover() -> None:
    found = sketch('<text x="10" y="20" font-size="4">Head<tspan> plate</tspan></text>').words[0]
    assert found.text == "Head plate" and found.spots[1] == pytest.approx((10, 20)) and found.spots[0, 0] > 12
    assert isinstance(Unreadable("x"), Exception)
