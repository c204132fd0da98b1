# Writes scipy_reference.json: components, openings and erosions of random masks as scipy computes them.
# Made with Python 3.11, scipy 1.10.1, numpy 1.24.2: python3 scipy_reference.py > scipy_reference.json
import json

import numpy as np
from scipy import ndimage

rng = np.random.default_rng(2026)


def disc(r):
    n = int(r)
    y, x = np.mgrid[-n : n + 1, -n : n + 1]
    return x * x + y * y <= r * r


cases = []
for w, h, share, r in [(1, 1, 0.5, 1), (7, 5, 0.5, 1), (63, 9, 0.4, 1.5), (64, 20, 0.7, 2), (65, 31, 0.8, 2.3), (130, 40, 0.9, 3), (97, 64, 0.95, 4.2)]:
    m = rng.random((h, w)) < share
    # A few solid blobs, so that erosion by a wide disc leaves something.
    for _ in range(3):
        cx, cy, d = rng.integers(0, w), rng.integers(0, h), rng.integers(2, 12)
        y, x = np.mgrid[0:h, 0:w]
        m |= (x - cx) ** 2 + (y - cy) ** 2 <= d * d
    rows = lambda a: ["".join("#" if v else "." for v in row) for row in a]
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
        }
    )
print(json.dumps(cases, indent=1))
