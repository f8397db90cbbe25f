"""Lines read from photos of a chart: the camera against OpenCV's own, strokes of known places, and hostile files."""

import io
import re
import struct
import sys
import zlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from shellgen import photo
from shellgen.cli import main, tracing
from shellgen.dome.surfaces import plan
from shellgen.draw import chart as charts
from shellgen.draw import fiducials
from shellgen.photo import picture, rectify, snapping, strokes
from shellgen.photo.picture import UnreadPhoto

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
import photos


@pytest.fixture(scope="module")
def taken():
    """A photo of a chart with the plates of hexes, tilted by some degrees."""
    return photos.case(1)


def jpeg(image, **how):
    out = io.BytesIO()
    Image.fromarray(image).save(out, "JPEG", quality=92, **how)
    return out.getvalue()


def plain(chart):
    """The chart as printed, seen straight from above, 4 pixels per mm, on a dark table."""
    page = photos.page(chart, [], 1.0, np.random.default_rng(1))
    small = cv2.resize(page, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    return cv2.copyMakeBorder(small, 120, 120, 120, 120, cv2.BORDER_CONSTANT, value=60)


@pytest.fixture(scope="module")
def blank():
    """A chart without lines."""
    return charts.chart("pond", plan.build(plan.Params(420.0, 340.0, 140.0)), None)


def test_markers_are_those_of_opencvs_dictionary():
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, fiducials.DICTIONARY))
    for number, rows in enumerate(fiducials.BITS):
        image = cv2.aruco.generateImageMarker(dictionary, number, 6)
        assert [[int(bit) for bit in row] for row in rows] == (image[1:5, 1:5] > 127).astype(int).tolist()


@pytest.mark.parametrize("bend", [-0.08, 0.0, 0.08])
def test_the_camera_is_found_as_opencv_projects_it(blank, bend):
    """Corners by cv2.projectPoints (pinhole, k1), which then gives the middle of the sheet too, far from any marker."""
    sheet = photo.sheet_of(blank)
    turn = cv2.Rodrigues(np.array([0.35, -0.2, 0.1]))[0]
    camera = np.array([[3200.0, 0, 1999.5], [0, 3200.0, 1499.5], [0, 0, 1]])

    def seen(mm):
        at = np.column_stack([mm - (sheet.width / 2, sheet.height / 2), np.zeros(len(mm))])
        return cv2.projectPoints(at, turn, np.array([0.0, 0.0, 900.0]), camera, np.array([bend, 0, 0, 0]))[0].reshape(
            -1, 2
        )

    corners = seen(sheet.markers.reshape(-1, 2)).reshape(4, 4, 2)
    lens = rectify.fitted(rectify.MarkedPhoto(np.zeros((3000, 4000), np.uint8), corners), sheet)
    inside = np.random.default_rng(1).uniform(0.1, 0.9, (50, 2)) * (sheet.width, sheet.height)
    assert np.abs(lens.pixels(inside) - seen(inside)).max() < 0.3


def test_plates_of_a_photo_are_those_that_were_drawn(taken):
    chart, found = photo.read(taken.photo, taken.chart)
    rms, most = photos.off(taken.drawn, found.lines)
    assert chart is taken.chart and rms < 0.6 and most < 3
    assert photos.plates(chart, found) == taken.plates


def test_the_chart_is_chosen_by_its_markers(taken):
    other = replace(taken.chart, height=taken.chart.height * 1.2, guides=tuple(photos.moved(taken.chart, 1.2)))
    assert photo.read(taken.photo, other, taken.chart)[0] is taken.chart
    with pytest.raises(UnreadPhoto, match="not lie as on the chart of this preset"):
        photo.read(taken.photo, other)


def test_a_photo_turned_by_its_camera_reads_the_same(taken):
    upright = picture.grey(taken.photo)
    exif = Image.Exif()
    exif[0x0112] = 6  # turn clockwise to see it upright
    turned = jpeg(np.rot90(upright).copy(), exif=exif)
    assert picture.grey(turned).shape == upright.shape
    found = photo.read(turned, taken.chart)[1]
    assert photos.off(taken.drawn, found.lines)[0] < 0.6


def test_an_empty_chart_and_one_without_a_marker_are_refused(blank):
    image = plain(blank)
    with pytest.raises(UnreadPhoto, match="no line is seen"):
        photo.read(jpeg(image), blank)
    hidden = image.copy()
    hidden[-300:, :400] = 60
    with pytest.raises(UnreadPhoto, match="marker at the lower left is not seen"):
        photo.read(jpeg(hidden), blank)
    with pytest.raises(UnreadPhoto, match="pixels per mm"):
        photo.read(jpeg(cv2.resize(image, None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA)), blank)


def test_a_blot_is_no_line(blank):
    image = plain(blank)
    cv2.line(image, (500, 900), (900, 1300), 40, 14)
    cv2.ellipse(image, (700, 1700), (150, 90), 20, 0, 360, 40, -1)
    with pytest.raises(UnreadPhoto, match=r"lies 1\d\d mm from the left edge of the chart and 3\d\d mm from its top"):
        photo.read(jpeg(image), blank)


def bomb():
    """A PNG of 60,000 x 60,000 pixels in a few kB."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 10**6)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "no photo"),
        (b"%PDF-1.4 no photo", "no photo"),
        (b"<svg/>", "no photo"),
        (bomb(), "more than 120 million pixels"),
        (b"\xff\xd8\xff\xe0" + bytes(range(256)) * 40, "no photo|damaged"),
    ],
)
def test_other_files_are_refused_in_one_sentence(data, says):
    with pytest.raises(UnreadPhoto, match=says):
        picture.grey(data)


def test_a_photo_that_breaks_off_is_refused(taken):
    with pytest.raises(UnreadPhoto, match="breaks off"):
        picture.grey(taken.photo[: len(taken.photo) // 2])


def ink(*lines, width=9, size=(400, 500)):
    canvas = np.zeros(size, np.uint8)
    for points in lines:
        cv2.polylines(canvas, [np.array(points, np.int32)], False, 1, width)
    return canvas > 0


def test_a_crossing_is_one_point_and_a_branch_meets_the_line_where_it_points():
    found = strokes.strokes(ink([(50, 200), (450, 230)], [(200, 50), (215, 350)], [(350, 222), (400, 40)]))
    ends = np.round(np.array([p for line in found.lines for p in (line[0], line[-1])]), 6)
    places, counts = np.unique(ends, axis=0, return_counts=True)
    meet = places[counts >= 3]
    assert len(found.lines) == 6 and sorted(counts.tolist()) == [1, 1, 1, 1, 1, 3, 4]
    for expected in ((207.6, 211.8), (350.0, 222.5)):
        assert np.linalg.norm(meet - expected, axis=1).min() < 1.5


def test_a_line_drawn_twice_is_one_line():
    found = strokes.strokes(ink([(50, 200), (450, 230)], [(52, 211), (448, 238)], width=8))
    (line,) = found.lines
    middle = 205.5 + (line[:, 0] - 50) * (234 - 205.5) / 400
    assert np.abs(line[:, 1] - middle).max() < 8 and np.ptp(line[:, 0]) > 390


def test_a_circle_is_a_ring_of_its_size():
    canvas = np.zeros((300, 300), np.uint8)
    cv2.circle(canvas, (150, 140), 60, 1, 7)
    (ring,) = strokes.strokes(canvas > 0).rings
    assert np.hypot(*(ring - (150.5, 140.5)).T) == pytest.approx(60, abs=1)


def test_loose_ends_reach_the_outline_and_the_midline_but_not_far_off_things():
    outline = np.array([(0.0, 0), (100, 0), (100, 200), (0, 200)])
    middle = np.array([(100.0, 200), (100, 0)])
    drawn = [
        np.column_stack([np.linspace(4, 60, 57), np.full(57, 50.0)]),  # its left end misses the outline by 4
        np.column_stack([98.5 + np.sin(np.arange(0, 90.0)), np.arange(110, 200.0)]),  # along the midline
        np.column_stack([np.full(31, 60.0), np.arange(70, 101.0)]),  # 20 above the first line
    ]
    left, along, far = snapping.snapped(drawn, outline, middle)
    assert left[0].tolist() == pytest.approx([0, 50]) and left[-1].tolist() == pytest.approx([60, 50])
    assert np.abs(along[:, 0] - 100).max() < 1e-9 and along[-1].tolist() == pytest.approx([100, 200])
    assert far[0].tolist() == pytest.approx([60, 70])


def test_the_command_writes_a_drawing_once_or_says_why_not(tmp_path, blank, monkeypatch):
    def run(photo):
        return CliRunner().invoke(main, ["trace", str(tmp_path / "pond.yaml"), str(tmp_path / photo)])

    (tmp_path / "pond.yaml").write_text("dome: {length: 420, width: 340, height: 140}\nprint: {paper: Letter}\n")
    (tmp_path / "wrong.jpg").write_bytes(b"no photo")
    image = plain(blank)
    cv2.line(image, (300, 1200), (1000, 1300), 30, 12)
    (tmp_path / "right.jpg").write_bytes(jpeg(image))
    ran = run("wrong.jpg")
    assert ran.exit_code != 0 and "wrong.jpg: it is no photo" in ran.output and not (tmp_path / "wrong.svg").exists()
    ran = run("right.jpg")
    assert ran.exit_code == 0 and "right.svg holds 1 line, drawn with a pen" in ran.output and " in) wide" in ran.output
    first = (tmp_path / "right.svg").read_bytes()
    assert re.search(rb'<g id="lines"[^>]*>\s*<path d="M[^"]*" />\s*</g>', first)
    ran = run("right.jpg")
    assert ran.exit_code != 0 and "is there already" in ran.output and (tmp_path / "right.svg").read_bytes() == first
    monkeypatch.setattr(tracing, "find_spec", lambda _: None)
    assert "needs OpenCV" in run("wrong.jpg").output
