"""What every picture must be: of its size, not blank, its words neither clipped nor colliding."""

from __future__ import annotations

from itertools import combinations

import matplotlib.image
import numpy as np


def check_texts(figure):
    """No text leaves the figure, no two texts overlap."""
    renderer = figure.canvas.get_renderer()
    figure.draw(renderer)
    artists = list(figure.texts)
    for axes in figure.axes:
        artists += axes.texts
        for axis in (axes.xaxis, axes.yaxis):
            low, high = axis.get_view_interval()
            artists += [t.label1 for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
            artists += [t.label2 for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
        artists += [axes.title, axes._left_title, axes.xaxis.label, axes.yaxis.label]
    boxes = {
        id(artist): (artist.get_text(), artist.get_window_extent(renderer))
        for artist in artists
        if artist.get_text().strip() and artist.get_visible()
    }
    width, height = figure.canvas.get_width_height()
    for words, box in boxes.values():
        inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height
        assert inside, f"{words!r} is clipped"
    for (one, a), (two, b) in combinations(boxes.values(), 2):
        wide = min(a.x1, b.x1) - max(a.x0, b.x0)
        high = min(a.y1, b.y1) - max(a.y0, b.y0)
        assert wide <= 1 or high <= 1, f"{one!r} collides with {two!r}"


def check_picture(path, size, colours=400):
    """Check that the file is a picture of this size that shows something amid empty margins."""
    image = matplotlib.image.imread(path)[:, :, :3]
    assert image.shape[:2] == size[::-1]
    assert image.std() > 0.03
    shades = np.round(image * 255).astype(np.int64) @ [65536, 256, 1]
    assert len(np.unique(shades)) > colours
    border = np.concatenate([image[:8].reshape(-1, 3), image[:, :8].reshape(-1, 3)])
    assert np.ptp(border, axis=0).max() == 0
    return image
