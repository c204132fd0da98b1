# Writes scipy_sheets.json: what scipy makes of masks with large empty and full areas, as counts and checksums.
# Made with Python 3.11, scipy 1.10.1, numpy 1.24.2: python3 scipy_sheets.py > scipy_sheets.json
import json
import zlib

import numpy as np
from scipy import ndimage

rng = np.random.default_rng(411)


def disc(r):
    n = int(r)
    y, x = np.mgrid[-n : n + 1, -n : n + 1]
    return x * x + y * y <= r * r


def sums(a):
    rows = b"".join(np.packbits(row, bitorder="little").tobytes() for row in a)
    return {"count": int(a.sum()), "crc": zlib.crc32(rows)}


def draw(w, h):
    """Discs, boxes and slivers, later ones over earlier ones; each is x, y, half width, half height, round, set."""
    shapes = []
    for _ in range(rng.integers(6, 14)):
        half = rng.integers(2, 130, 2)
        if rng.random() < 0.4:
            half[rng.integers(0, 2)] = rng.integers(0, 6)
        rounded = bool(rng.random() < 0.5)
        if rounded:
            half[1] = half[0]
        shapes.append([int(rng.integers(0, w)), int(rng.integers(0, h)), int(half[0]), int(half[1]), int(rounded), int(rng.random() < 0.7)])
    m = np.zeros((h, w), bool)
    y, x = np.mgrid[0:h, 0:w]
    for cx, cy, a, b, rounded, value in shapes:
        inside = (x - cx) ** 2 + (y - cy) ** 2 <= a * a if rounded else (abs(x - cx) <= a) & (abs(y - cy) <= b)
        m[inside] = value
    return m, shapes


def largest(m, structure):
    labels, n = ndimage.label(m, structure)
    return {"pieces": n, "largest": int(np.bincount(labels.ravel())[1:].max())}


cases = []
for w, h, r in [(410, 650, 1.5), (448, 700, 2.5), (321, 600, 5.25), (512, 540, 9), (385, 610, 20), (450, 420, 47.5), (400, 300, 66)]:
    m, shapes = draw(w, h)
    cases.append(
        {
            "w": w,
            "h": h,
            "radius": r,
            "shapes": shapes,
            "mask": sums(m),
            "erode": sums(ndimage.binary_erosion(m, disc(r), border_value=0)),
            "erode_outside": sums(ndimage.binary_erosion(m, disc(r), border_value=1)),
            "dilate": sums(ndimage.binary_dilation(m, disc(r))),
            "open": sums(ndimage.binary_opening(m, disc(r))),
            "four": largest(m, None),
            "eight": largest(m, np.ones((3, 3))),
            "background": largest(~m, None),
        }
    )
print(json.dumps(cases, indent=1))
