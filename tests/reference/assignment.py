"""Development-time reference for the assignment solver and the shim allocation.

Writes assignment.json beside it, with SciPy's version. Not run by the tests; they read the data.
    python3 tests/reference/assignment.py
"""
import json
import pathlib
import random

import numpy
import scipy
from scipy.optimize import linear_sum_assignment

rng = random.Random(20)


def plain():
    """A rectangular matrix of integers with its least cost."""
    rows = rng.randint(1, 9)
    columns = rows + rng.randint(0, 6)
    top = rng.choice([3, 50, 1000])
    cost = [[rng.randint(-top // 3, top) for _ in range(columns)] for _ in range(rows)]
    r, c = linear_sum_assignment(numpy.array(cost))
    return {"cost": cost, "least": int(sum(cost[i][j] for i, j in zip(r, c)))}


def seeded():
    """A larger matrix from a small generator that the test repeats, with its least cost."""
    rows = rng.randint(15, 45)
    columns = rows + rng.choice([0, 0, 1, 10])
    seed = rng.randrange(2**32)
    top = rng.choice([0, 5, 100, 10000])
    state = seed

    def draw():
        nonlocal state
        state = (state * 6364136223846793005 + 1442695040888963407) % 2**64
        return state >> 33

    if top == 0:  # products of rows and columns: hard for augmenting paths
        cost = [[(i + 1) * (j + 1) for j in range(columns)] for i in range(rows)]
    else:
        cost = [[draw() % top for _ in range(columns)] for _ in range(rows)]
    r, c = linear_sum_assignment(numpy.array(cost))
    least = int(sum(cost[i][j] for i, j in zip(r, c)))
    return {"rows": rows, "columns": columns, "seed": seed, "top": top, "least": least}


SERIES = range(2000, 3501, 50)
BANDS = [  # check low, check high, set low, set high, target, in micrometres
    (100, 200, 120, 190, 160),
    (200, 300, 220, 290, 260),
]
STUCK, BUY, CHANGE, NEVER = 10**12, 10**7, 10**5, 10**15


def shims():
    """Valves with exact clearances: stuck > purchases > changes > deviation, in micrometres."""
    n = rng.randint(2, 8)
    sides = [rng.randint(0, 1) for _ in range(n)]
    old = [rng.choice(SERIES) for _ in range(n)] if rng.random() < 0.3 else [rng.randrange(2400, 2801, 50) for _ in range(n)]
    clearance = [rng.randrange(20, 401, 5) for _ in range(n)]
    box = [rng.randrange(2300, 2901, 50) for _ in range(rng.randint(0, 6))]
    cost = numpy.full((n, n + len(box) + n), NEVER, dtype=numpy.int64)
    for i in range(n):
        check_low, check_high, set_low, set_high, target = BANDS[sides[i]]

        def fitted(size):
            after = clearance[i] + old[i] - size
            return CHANGE + abs(after - target) if set_low <= after <= set_high else NEVER

        for j in range(n):
            cost[i, j] = fitted(old[j])
        inside = check_low <= clearance[i] <= check_high
        cost[i, i] = abs(clearance[i] - target) if inside else STUCK
        for k, size in enumerate(box):
            cost[i, n + k] = fitted(size)
        cost[i, n + len(box) + i] = min(min(fitted(s) for s in SERIES) + BUY, NEVER)
    r, c = linear_sum_assignment(cost)
    return {
        "sides": sides, "old_um": old, "clearance_um": clearance, "box_um": box,
        "least": int(cost[r, c].sum()),
    }


here = pathlib.Path(__file__).parent
data = {
    "by": f"scipy.optimize.linear_sum_assignment, SciPy {scipy.__version__}",
    "plain": [plain() for _ in range(80)],
    "shims": [shims() for _ in range(80)],
    "seeded": [seeded() for _ in range(60)],
}
lines = [f'{{"by": {json.dumps(data["by"])},']
for key in ("plain", "shims", "seeded"):
    rows = ",\n".join(json.dumps(e) for e in data[key])
    lines.append(f'"{key}": [\n{rows}\n]' + ("," if key != "seeded" else "}"))
(here / "assignment.json").write_text("\n".join(lines) + "\n")
