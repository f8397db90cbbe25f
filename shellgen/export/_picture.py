"""Views of a Scene laid out on one picture: cameras that fit, samples brought to pixels, scale bars and captions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from PIL import Image

from shellgen.canvas import Colour, Scene, lettering
from shellgen.core.arrays import Floats, Singles
from shellgen.export import _light
from shellgen.export._field import OneField, Taken
from shellgen.export._light import COARSE, Soup
from shellgen.export._pencil import WritingLayer
from shellgen.export._view import Camera, View, aim, bounds
from shellgen.export._words import MARGIN, Field, SceneText, scale_bar

_FAR = 3.0  # the eye's distance over the scene's size
_ROOM = 3  # pixels round the scene, for lines are as wide as lines are
_STRIP = 3.4  # strip for name and scale over the letters' height


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """A scene and the picture that is made of it.

    size       : of the whole picture, pixels
    background : None is transparent
    shade      : 1 is the full play of light and shadow, 0 leaves the bare colours
    """

    scene: Scene
    size: tuple[int, int] = (1200, 900)
    background: Colour | None = (255, 255, 255)
    words: SceneText = field(default_factory=SceneText)
    shade: float = 1.0


def draw(looks: Sequence[Look], views: Sequence[View], samples: int) -> list[Image.Image]:
    """RGB pictures, RGBA without a background, of scenes that differ in nothing but their colours: one field per view,
    all at one scale. Each view is looked at once, as large as it is on any of them, and made smaller for the others."""
    triangles = _light.soup(looks[0].scene)
    if not len(triangles.faces):
        raise ValueError(f"the scene {looks[0].scene.name!r} is empty")
    seen = [_camera(triangles, view) for view in views]
    boards = [_Board(look, views, seen) for look in looks]
    least = min(board.scale for board in boards)
    for board in boards:
        larger = board.scale / least
        board.place(seen, _ROOM if larger == 1 else (_ROOM + 1) * larger)
    tints = [triangles.colours, *(_light.tints(look.scene) for look in looks[1:])]
    for k in range(len(views)):
        first = max(range(len(boards)), key=lambda n: boards[n].fields[k].camera.scale)
        taken = Taken(triangles, boards[first].fields[k], samples, tints[first], looks[first].shade)
        for board, own in zip(boards, tints, strict=True):
            board.show(k, taken, own)
    return [board.finished() for board in boards]


class _Board:
    """A picture in the making."""

    def __init__(self, look: Look, views: Sequence[View], seen: Sequence[tuple[Camera, Floats, Floats]]) -> None:
        self.look, self.views, size = look, views, look.size
        self.letter = max(10.0, 0.012 * float(np.hypot(*size)))
        self.sheet, self.halo = WritingLayer(size), WritingLayer(size, (255, 255, 255)) if look.words.labels else None
        extents = np.array([high - low for _, low, high in seen])
        top = look.words.head(self.sheet, self.letter)
        self.scale, self.places = _fields(extents, size, top, _STRIP * self.letter)
        self.fields: list[OneField] = []
        self.image = Image.new("RGBA" if look.background is None else "RGB", size, look.background or (0, 0, 0, 0))

    def place(self, seen: Sequence[tuple[Camera, Floats, Floats]], room: float) -> None:
        """Puts the cameras where they look at the middle of their fields. room : pixels round the scene"""
        strip = _STRIP * self.letter
        both = zip(seen, self.places, strict=True)
        self.fields = [_placed(*one, place, scale=self.scale, strip=strip, room=room) for one, place in both]

    def show(self, k: int, taken: Taken, tints: Singles) -> None:
        """Puts one view in its field."""
        mine = self.fields[k]
        x, y, *_ = mine.place
        for (left, over), part in taken.shown(mine, self.views[k], tints, self.look.shade, self.look.background):
            self.image.paste(part, (x + left, y + over))

    def finished(self) -> Image.Image:
        words, letter, sheet = self.look.words, self.letter, self.sheet
        for view, mine in zip(self.views, self.fields, strict=True):
            x, y, across, up = mine.place
            if self.halo:
                words.label(sheet, self.halo, mine.camera, (x, y), letter)
            bar = 0.0
            if words.scale_bar and not view.perspective:
                most = 0.28 * min(f.place[2] for f in self.fields)
                bar = scale_bar(sheet, mine.place, letter, mine.camera.scale, most=most)
            if len(self.views) > 1:
                free = across * (1 - 2 * MARGIN) - bar - (2 * letter if bar else 0)
                height = min(letter, free / lettering.width(view.name, 1.0))
                sheet.letter(view.name, (x + MARGIN * across, y + up - 1.1 * letter), height)
        image = words.swatches(self.image, letter)
        return sheet.over(self.halo.over(image) if self.halo else image)


def _placed(
    camera: Camera, low: Floats, high: Floats, place: Field, *, scale: float, strip: float, room: float
) -> OneField:
    """A field with its view in the middle, above a strip for words."""
    _, _, across, up = place
    middle = np.array([across, up - strip]) / 2
    spread = scale * (high - low) / 2 + room
    first = np.maximum(np.floor((middle - spread) / COARSE) * COARSE, 0)
    last = np.minimum(np.ceil(middle + spread), (across, up))
    camera = replace(camera, scale=scale, shift=tuple(middle - scale * (low + high) / 2))
    return OneField(place, (*first.astype(int).tolist(), *last.astype(int).tolist()), camera)


def _camera(triangles: Soup, view: View) -> tuple[Camera, Floats, Floats]:
    """A camera of scale 1, and the lower and upper corner of what it then shows."""
    low, high = bounds(triangles.points)
    distance = _FAR * float(np.linalg.norm(high - low)) if view.perspective else np.inf
    camera = Camera(aim(np.array(view.towards), np.array(view.up)), (low + high) / 2, distance)
    x, y, _ = camera.columns(triangles.points)
    return camera, np.array([x.min(), y.min()], float), np.array([x.max(), y.max()], float)


def _fields(extents: Floats, size: tuple[int, int], top: int, strip: float) -> tuple[float, list[Field]]:
    """The largest scale, pixels per mm, at which views of these extents (n, 2) mm go on the picture in rows, and the
    field of each: as wide as its column's widest view and as high as its row's highest, plus an equal share of room."""
    count, best = len(extents), None
    for columns in range(1, count + 1):
        column, row = np.arange(count) % columns, np.arange(count) // columns
        wide = np.array([extents[column == k, 0].max() for k in range(columns)])
        high = np.array([extents[row == k, 1].max() for k in range(row[-1] + 1)])
        room = np.array(size) * (1 - MARGIN * np.array([len(wide) + 1, len(high) + 1])) - (0, top + strip * len(high))
        scale = float(min(room[0] / max(wide.sum(), 1e-9), room[1] / max(high.sum(), 1e-9)))
        worth = scale * (count / (len(wide) * len(high))) ** 0.25  # a gap in the rows is not worth a little size
        if best is None or worth > best[0]:
            best = worth, scale, wide, high, column, row
    assert best is not None
    _, scale, wide, high, column, row = best
    x = np.r_[0, np.cumsum(scale * wide + (size[0] - scale * wide.sum()) / len(wide))].round().astype(int)
    y = np.r_[0, np.cumsum(scale * high + (size[1] - top - scale * high.sum()) / len(high))].round().astype(int) + top
    spots = zip(column, row, strict=True)
    return scale, [(int(x[c]), int(y[r]), int(x[c + 1] - x[c]), int(y[r + 1] - y[r])) for c, r in spots]
