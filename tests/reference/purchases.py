"""Development-time reference for plans whose price is no sum over valves: fewest sizes, and packs.

Writes purchases.json beside it, with OR-Tools' version. Not run by the tests; they read the data.
The model is written from the rules, not from the program: every valve keeps its shim or gets one
from another valve, from the box or from the counter; each aim is optimised level by level.
    python3 tests/reference/purchases.py
"""
import json
import pathlib
import random

import ortools
from ortools.sat.python import cp_model

rng = random.Random(24)
BANDS = [  # check low, check high, set low, set high, target, in micrometres
    (100, 200, 120, 190, 160),
    (200, 300, 220, 290, 260),
]


def job():
    """Valves that mostly need another shim, and an almost empty box: many ways to buy."""
    n = rng.choice([6, 8, 12, 16, 20, 24])
    step = rng.choice([50, 25])
    width = rng.choice([0, 10, 20, 30])
    top = rng.choice([400, 90])  # any valves, or a head whose seats were cut: all are tight
    valves = []
    for _ in range(n):
        side = rng.randint(0, 1)
        low = rng.choice([v for v in range(20, top, 5) if v not in (200, 300)])
        valves.append([side, rng.randrange(2300, 2951, step), low, low + width])
    box = [rng.randrange(2300, 2951, step) for _ in range(rng.choice([0, 0, 0, 2]))]
    single = rng.choice([None, rng.randrange(200, 600, 50)])
    return {"step": step, "valves": valves, "box": box,
            "pieces": rng.choice([2, 3, 5]), "single": single}


def fit(valve, size):
    """(allowed, unsure, twice the distance from the target) of a shim in a valve."""
    side, old, low, high = valve
    _, _, set_low, set_high, target = BANDS[side]
    low, high = low + old - size, high + old - size
    outside = low > set_high or high < set_low or (high == set_low and low != high)
    sure = low >= set_low and high <= set_high
    return (not outside, int(not sure), abs(low + high - 2 * target))


def cheapest(count, pieces, single):
    """The least price of so many shims of a size; a pack costs 1000."""
    full = -(-count // pieces)
    prices = [1000 * full]
    if single is not None:
        prices += [1000 * packs + single * (count - packs * pieces) for packs in range(full)]
    return min(prices)


def best(job, aim):
    """The least of every level, one after the other."""
    valves, box = job["valves"], job["box"]
    series = range(2000, 3501, job["step"])
    model = cp_model.CpModel()
    n = len(valves)
    discs = [v[1] for v in valves] + box
    stuck, unsure, changes, off, bought = [], [], [], [], {}
    takers = [[] for _ in discs]
    for i, valve in enumerate(valves):
        check_low, check_high, _, _, target = BANDS[valve[0]]
        stays = 2 * check_low <= valve[2] + valve[3] <= 2 * check_high
        keep = model.new_bool_var("")
        takers[i].append(keep)
        choices = [keep]
        if stays:
            off.append(abs(valve[2] + valve[3] - 2 * target) * keep)
        else:
            stuck.append(keep)

        def another(size):
            allowed, doubt, away = fit(valve, size)
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
                bought.setdefault(size, []).append(var)
        model.add_exactly_one(choices)
    for all_of_one in takers:
        model.add_at_most_one(all_of_one)
    purchases = sum(v for all_of_one in bought.values() for v in all_of_one)
    price = []
    for all_of_one in bought.values():
        if aim == "sizes":
            one = model.new_bool_var("")
            for v in all_of_one:
                model.add(v <= one)
        else:
            table = [cheapest(k, job["pieces"], job["single"]) for k in range(len(all_of_one) + 1)]
            count = model.new_int_var(0, len(all_of_one), "")
            model.add(count == sum(all_of_one))
            one = model.new_int_var(0, max(table), "")
            model.add_element(count, table, one)
        price.append(one)
    levels = [sum(stuck), sum(unsure)]
    levels += [purchases, sum(price)] if aim == "sizes" else [sum(price), purchases]
    levels += [sum(changes), sum(off)]
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
    return least


here = pathlib.Path(__file__).parent
jobs = []
while len(jobs) < 60:
    one = job()
    found = [best(one, "sizes"), best(one, "price")]
    if None not in found:
        one["sizes"], one["price"] = found
        jobs.append(one)
        print(len(jobs), one, flush=True)
rows = ",\n".join(json.dumps(j) for j in jobs)
by = f"CP-SAT, OR-Tools {ortools.__version__}"
(here / "purchases.json").write_text(f'{{"by": {json.dumps(by)},\n"jobs": [\n{rows}\n]}}\n')
