"""Development-time reference for whole engines: which shims go where, and which camshafts come out.

Writes layouts.json beside it, with OR-Tools' version. Not run by the tests; they read the data.
    python3 tests/reference/layouts.py
In-line, V and flat engines of two to twenty-four valves, with buckets or with finger followers. The
model is written from the rules, not from the program: a shim changes the clearance by the
follower's ratio of its own change; a camshaft comes out if any of its valves gets another shim. The
last jobs have one camshaft over both sides of each head. The
levels are optimised one after the other: valves out of band that keep their shim, shims that need
not land in the set band, purchases, changes, distance from the targets, camshafts that come out.
All lengths in nanometres.
"""
import itertools
import json
import pathlib
import random

import ortools
from ortools.sat.python import cp_model

rng = random.Random(2016)
BANDS = [  # check low, check high, set low, set high, target, in micrometres
    (100, 200, 120, 190, 160),
    (200, 300, 220, 290, 260),
]
BANDS = [tuple(1000 * v for v in band) for band in BANDS]
# layout, cylinders, the cylinders of each head
LAYOUTS = [
    ("in-line", 1, [[1]]),
    ("in-line", 2, [[1, 2]]),
    ("in-line", 3, [[1, 2, 3]]),
    ("in-line", 4, [[1, 2, 3, 4]]),
    ("in-line", 6, [[1, 2, 3, 4, 5, 6]]),
    ("V", 2, [[1], [2]]),
    ("V", 4, [[1, 2], [3, 4]]),
    ("V", 6, [[1, 3, 5], [2, 4, 6]]),
    ("flat", 2, [[1], [2]]),
    ("flat", 4, [[1, 3], [2, 4]]),
    ("flat", 6, [[1, 3, 5], [2, 4, 6]]),
]


def job(number):
    """A job of the next layout: some valves out of band, some shims in the box."""
    layout, cylinders, heads = LAYOUTS[number % len(LAYOUTS)]
    per_side = rng.choice([1, 2])
    ratio = rng.choice([1000, 1000, 800, 650, 733])
    step = rng.choice([50, 25])
    width = rng.choice([0, 10, 20, 30])
    valves = []
    for cylinder in range(1, cylinders + 1):
        for side in range(2):
            for which in range(per_side):
                check_low, check_high = (v // 1000 for v in BANDS[side][:2])
                good = rng.random() < 0.55
                lows = range(check_low, check_high - 20, 5) if good else range(30, 420, 5)
                low = rng.choice([v for v in lows if v not in (200, 300)])
                valves.append([cylinder, side, which, rng.randrange(2400, 2801, step), low, low + width])
    box = [rng.randrange(2300, 2901, step) for _ in range(rng.choice([0, 1, 2, 4, 6]))]
    return {"layout": layout, "cylinders": cylinders, "heads": heads, "per_side": per_side,
            "ratio": ratio, "step": step, "valves": valves, "box": box}


def head_of(job, cylinder):
    return next(i for i, of in enumerate(job["heads"]) if cylinder in of)


def fit(job, valve, size):
    """(allowed, unsure, twice the distance from the target) of a shim in a valve."""
    _, side, _, old, low, high = valve
    _, _, set_low, set_high, target = BANDS[side]
    moved = job["ratio"] * (old - size)
    low, high = 1000 * low + moved, 1000 * high + moved
    outside = low > set_high or high < set_low or (high == set_low and low != high)
    sure = low >= set_low and high <= set_high
    return (not outside, int(not sure), abs(low + high - 2 * target))


def model_of(job):
    """The model, its levels and whether each camshaft comes out."""
    valves, box = job["valves"], job["box"]
    series = range(2000, 3501, job["step"])
    model = cp_model.CpModel()
    discs = [v[3] for v in valves] + box
    stuck, unsure, changes, off, bought = [], [], [], [], []
    takers = [[] for _ in discs]
    cams = {}
    for i, valve in enumerate(valves):
        check_low, check_high, _, _, target = BANDS[valve[1]]
        twice = 1000 * (valve[4] + valve[5])
        stays = 2 * check_low <= twice <= 2 * check_high
        keep = model.new_bool_var("")
        takers[i].append(keep)
        choices = [keep]
        if stays:
            off.append(abs(twice - 2 * target) * keep)
        else:
            stuck.append(keep)
        of_side = 0 if job.get("one_camshaft") else valve[1]
        cam = cams.setdefault((head_of(job, valve[0]), of_side), model.new_bool_var(""))
        model.add(cam + keep >= 1)

        def another(size):
            allowed, doubt, away = fit(job, valve, size)
            if not allowed:
                return None
            var = model.new_bool_var("")
            choices.append(var)
            changes.append(var)
            off.append(away * var)
            if doubt:
                unsure.append(var)
            return var

        for j, disc in enumerate(discs):
            var = another(disc) if j != i else None
            if var is not None:
                takers[j].append(var)
        for size in series:
            var = another(size)
            if var is not None:
                bought.append(var)
        model.add_exactly_one(choices)
    for all_of_one in takers:
        model.add_at_most_one(all_of_one)
    # A valve that lends its shim has another, so its camshaft is out as well: takers see to it.
    levels = [sum(stuck), sum(unsure), sum(bought), sum(changes), sum(off), sum(cams.values())]
    return model, levels, cams


def best(job):
    """The least of every level, and every set of camshafts with which it is reached."""
    model, levels, cams = model_of(job)
    least = []
    for level in levels:
        model.minimize(level)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 2
        solver.parameters.max_time_in_seconds = 60
        if solver.solve(model) != cp_model.OPTIMAL:
            return None
        value = round(solver.objective_value)
        least.append(value)
        model.add(level == value)
    model.clear_objective()
    sets = []
    for out in itertools.combinations(sorted(cams), least[-1]):
        again = model.clone()
        for cam, var in cams.items():
            again.add(again.get_bool_var_from_proto_index(var.index) == int(cam in out))
        if cp_model.CpSolver().solve(again) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            sets.append([list(cam) for cam in out])
    return least, sets


here = pathlib.Path(__file__).parent
jobs = []
for number in range(110 + 33):
    one = job(number)
    if number >= 110:
        one["one_camshaft"] = True
    found = best(one)
    if found is None:
        continue
    one["least"], one["cams"] = found
    jobs.append(one)
    print(len(jobs), one["layout"], len(one["valves"]), found, flush=True)
rows = ",\n".join(json.dumps(j) for j in jobs)
by = f"CP-SAT, OR-Tools {ortools.__version__}"
(here / "layouts.json").write_text(f'{{"by": {json.dumps(by)},\n"jobs": [\n{rows}\n]}}\n')
