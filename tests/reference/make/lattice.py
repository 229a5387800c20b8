"""Makes src/math/distributions/multivariate/vectors.rs: generating vectors of rank-1 lattices with 8 to 32768 points.

Needs: pip install numpy. Run: python tests/reference/make/lattice.py, then cargo fmt.

Component by component: each next component is the odd number with the smallest worst-case error of order 2 (sum over
the points of prod (1 + g_j 2 pi^2 B2(x_j)), weights g_j = 0.9^j), among all odd numbers up to 1024 points and 48
random ones above. Sloan & Reztsov 2002, Math. Comput. 71:263-273.
"""

from pathlib import Path

import numpy as np

DIMENSIONS = 100
SIZES = [2**k for k in range(3, 16)]


def kernel(x):
    return 2 * np.pi**2 * (x * x - x + 1 / 6)


def vector(size, rng):
    table = kernel(np.arange(size) / size)
    points = np.arange(size)
    product = np.ones(size)
    found = []
    for j in range(DIMENSIONS):
        odd = np.arange(1, size, 2)
        candidates = odd if size <= 1024 else rng.choice(odd, 48, replace=False)
        if j == 0:
            candidates = np.array([1])
        errors = [product @ table[(points * z) % size] for z in candidates]
        best = int(candidates[int(np.argmin(errors))])
        product *= 1 + 0.9**j * table[(points * best) % size]
        # The scale does not matter and would overflow.
        product /= product.mean()
        found.append(best)
    return found


def main():
    rng = np.random.default_rng(20_251_125)
    text = (
        "//! Generating vectors of lattices with 8, 16, ... 32768 points, made by `tests/reference/make/lattice.py`.\n"
    )
    text += "\n"
    text += "/// One vector per size; components for 100 coordinates.\n"
    text += f"pub(super) const VECTORS: [[u16; {DIMENSIONS}]; {len(SIZES)}] = [\n"
    for size in SIZES:
        text += f"    {vector(size, rng)},\n"
        print(size, flush=True)
    text += "];\n"
    target = Path(__file__).parents[3] / "src/math/distributions/multivariate/vectors.rs"
    target.write_text(text)


if __name__ == "__main__":
    main()
