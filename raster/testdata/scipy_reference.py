# Writes scipy_reference.json: components, openings, erosions and distances of random and drawn masks as scipy computes them.
# Made with Python 3.11, scipy 1.10.1, numpy 1.24.2: python3 scipy_reference.py > scipy_reference.json
import json

import numpy as np
from scipy import ndimage

rng = np.random.default_rng(2026)


def disc(r):
    n = int(r)
    y, x = np.mgrid[-n : n + 1, -n : n + 1]
    return x * x + y * y <= r * r


def distances(m):
    # Squares of distances are whole; a mask without a clear pixel has none.
    if m.all():
        return []
    return [" ".join(str(v) for v in row) for row in np.rint(ndimage.distance_transform_edt(m) ** 2).astype(int)]


def rows(a):
    return ["".join("#" if v else "." for v in row) for row in a]


cases = []


def add(m, r):
    h, w = m.shape
    cases.append(
        {
            "radius": r,
            "mask": rows(m),
            "four": int(ndimage.label(m)[1]),
            "eight": int(ndimage.label(m, np.ones((3, 3)))[1]),
            "erode": rows(ndimage.binary_erosion(m, disc(r), border_value=0)),
            "erode_outside": rows(ndimage.binary_erosion(m, disc(r), border_value=1)),
            "dilate": rows(ndimage.binary_dilation(m, disc(r))),
            "open": rows(ndimage.binary_opening(m, disc(r))),
            "distance_sq": [row.split(" ", 1)[1].rsplit(" ", 1)[0] for row in distances(np.pad(m, 1))[1 : h + 1]],
            "distance_sq_outside": distances(m),
        }
    )


for w, h, share, r in [(1, 1, 0.5, 1), (7, 5, 0.5, 1), (63, 9, 0.4, 1.5), (64, 20, 0.7, 2), (65, 31, 0.8, 2.3), (130, 40, 0.9, 3), (97, 64, 0.95, 4.2)]:
    m = rng.random((h, w)) < share
    # A few solid blobs, so that erosion by a wide disc leaves something.
    for _ in range(3):
        cx, cy, d = rng.integers(0, w), rng.integers(0, h), rng.integers(2, 12)
        y, x = np.mgrid[0:h, 0:w]
        m |= (x - cx) ** 2 + (y - cy) ** 2 <= d * d
    add(m, r)

# A letter-like figure, a ring with a hole off its middle, a slanted bar, and a mask without a clear pixel.
y, x = np.mgrid[0:45, 0:75]
figure = (np.abs(x - 15) < 4) | (np.abs(y - 10) < 3) & (x < 45) | (np.abs(y - 30) < 6) & (x > 10) & (x < 60)
d = np.hypot(x - 37, y - 22)
ring = (d < 22) & (np.hypot(x - 34, y - 20) > 8)
bar = np.abs(0.6 * (x - 37) - 0.8 * (y - 22)) < 10
for m in [figure, ring, bar, np.ones((12, 70), bool)]:
    add(m, 5.5)
print(json.dumps(cases, indent=1))
