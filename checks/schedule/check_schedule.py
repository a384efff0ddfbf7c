"""Solves random days with `barebulb day --instance` and with OR-tools' CP-SAT, and compares the optima.

    python checks/schedule/check_schedule.py BAREBULB_BINARY [--count N] [--seed S] [--large N] [--workers N]

Value, wrap and moves must be equal on every day of 4 to 14 setups, and both must call the same days impossible.
A day that CP-SAT does not decide within its bound on work is compared with nothing: at most one in fifty may be so,
and there must be days of either kind, possible and impossible.
`--large N` times N days of 18 setups with loose windows against CP-SAT to its proof as well.
The model below is written from the rules of docs/schedule.md alone: a circuit through chosen setups, with the
three aims one after the other.
"""
import argparse
import json
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from ortools.sat.python import cp_model

BIG = 10**5


def draw(rng, count, loose=False):
    """A day: places, windows, states, rigs, waits, optional setups, a meal."""
    places = [f"p{i}" for i in range(rng.randint(1, 4))]
    travel = {a: {b: rng.randint(5, 45) for b in places if b != a} for a in places}
    call = rng.choice([480, 840, 1020])
    whole = 0
    setups = []
    bars = rng.randint(8, 40)
    for i in range(count):
        first = rng.randrange(bars)
        rig, shoot = rng.randint(0, 30), rng.randint(1, 45)
        whole += rig + shoot

        def windows(share, shortest, longest):
            if rng.random() > share:
                return None
            out = []
            for _ in range(rng.choice([1, 1, 2])):
                opens = call + rng.randint(-30, 420)
                out.append([max(0, opens), opens + rng.randint(shortest, longest)])
            return out

        setups.append(dict(
            id=f"s{i}", place=rng.choice(places), rig_minutes=rig, relight_minutes=rng.randint(0, 12), shoot_minutes=shoot,
            rig_group=rng.choice([None, "a", "b"]),
            access=None if loose else windows(0.4, 60, 500), light=windows(0.3, 400, 600) if loose else windows(0.4, 25, 300),
            must=rng.random() < (0.1 if loose else 0.14), state=rng.choice([0, 0, 0, 1, 2]) if not loose else int(i >= count - 2),
            after=[f"s{rng.randrange(i)}"] if i and rng.random() < 0.15 else [],
            bars=sorted(set(range(first, min(bars, first + rng.randint(1, 16)))))))
    share = rng.uniform(0.7, 1.2) if loose else rng.uniform(0.3, 1.3)
    return dict(call=call, latest_wrap=call + int(whole * share) + 60, start_place=rng.choice([None, places[0], "home"]),
                travel_minutes={**travel, "home": {p: rng.randint(5, 40) for p in places}}, setups=setups,
                meal=rng.choice([None, dict(minutes=rng.randint(15, 45), latest_start_after_call=rng.randint(60, 360))]),
                bar_values=[rng.randint(0, 4) for _ in range(bars)],
                option_values=sorted((rng.randint(0, 9) for _ in range(rng.randint(1, 5))), reverse=True))


# Days that CP-SAT may leave undecided, of all.
MOST_UNDECIDED = 0.02


def reference(day, workers, limit):
    """(value, wrap, moves), "impossible", or None where the limit came first: a limit on CP-SAT's own measure of work
    (about a second of an idle machine each), so that a busy machine decides as many days as an idle one."""
    m = cp_model.CpModel()
    setups, n = day["setups"], len(day["setups"])
    call, end = day["call"], day["latest_wrap"]
    way = lambda a, b: 0 if a is None or a == b else day["travel_minutes"][a][b]
    taken = [m.new_bool_var(f"x{i}") for i in range(n)]
    start = [m.new_int_var(call, end, f"s{i}") for i in range(n)]
    shoot = [m.new_int_var(call, end, f"h{i}") for i in range(n)]
    ends = [m.new_int_var(call, end + BIG, f"e{i}") for i in range(n)]
    meal, by, lasts = [], None, 0
    if day["meal"]:
        lasts, by = day["meal"]["minutes"], call + day["meal"]["latest_start_after_call"]
        meal = [m.new_bool_var(f"m{i}") for i in range(n + 1)]  # the last one: at the call
    arcs, relit, moved, closing = [], [[] for _ in range(n)], [], []
    nothing = m.new_bool_var("nothing")
    arcs.append((n, n, nothing))
    for i in range(n):
        m.add_implication(nothing, ~taken[i])
        arcs.append((i, i, ~taken[i]))
        first, last = m.new_bool_var(""), m.new_bool_var("")
        arcs += [(n, i, first), (i, n, last)]
        closing.append(last)
        eaten = lasts * meal[n] if meal else 0
        m.add(start[i] >= call + eaten + way(day["start_place"], setups[i]["place"])).only_enforce_if(first)
        for j in range(n):
            if i == j:
                continue
            b = m.new_bool_var("")
            arcs.append((i, j, b))
            eaten = lasts * meal[i] if meal else 0
            a, c = setups[i], setups[j]
            m.add(start[j] >= ends[i] + eaten + way(a["place"], c["place"])).only_enforce_if(b)
            if a["place"] != c["place"]:
                moved.append(b)
            elif a["rig_group"] is not None and a["rig_group"] == c["rig_group"]:
                relit[j].append(b)
    m.add_circuit(arcs)
    index = {s["id"]: i for i, s in enumerate(setups)}
    for i, s in enumerate(setups):
        rig = s["rig_minutes"] + sum((s["relight_minutes"] - s["rig_minutes"]) * b for b in relit[i])
        m.add(shoot[i] >= start[i] + rig)
        m.add(ends[i] == shoot[i] + s["shoot_minutes"])
        if s["must"]:
            m.add(taken[i] == 1)
        m.add(ends[i] <= end).only_enforce_if(taken[i])
        for key, begins in (("access", start[i]), ("light", shoot[i])):
            if s[key] is not None:
                inside = [m.new_bool_var("") for _ in s[key]]
                m.add(sum(inside) == 1).only_enforce_if(taken[i])
                for w, (opens, closes) in zip(inside, s[key]):
                    m.add(begins >= opens).only_enforce_if(w, taken[i])
                    m.add(ends[i] <= closes).only_enforce_if(w, taken[i])
        for other in s["after"]:
            m.add_implication(taken[i], taken[index[other]])
            m.add(start[i] >= ends[index[other]]).only_enforce_if(taken[i])
        for j, other in enumerate(setups):
            if s["state"] < other["state"]:
                m.add(start[j] >= ends[i]).only_enforce_if(taken[i], taken[j])
    wrap = m.new_int_var(call, end + BIG, "wrap")
    for i in range(n):
        m.add(wrap >= ends[i]).only_enforce_if(taken[i])
        if meal:
            m.add(wrap >= ends[i] + lasts).only_enforce_if(meal[i], closing[i])
            m.add_implication(meal[i], taken[i])
            m.add(ends[i] <= by).only_enforce_if(meal[i])
    m.add(wrap <= end)
    if meal:
        long = m.new_bool_var("long")
        m.add(wrap > by).only_enforce_if(long)
        m.add(wrap <= by).only_enforce_if(~long)
        m.add(sum(meal) == long)
    groups = {}
    for bar, worth in enumerate(day["bar_values"]):
        held = tuple(i for i, s in enumerate(setups) if bar in s["bars"])
        if held and worth:
            groups[held] = groups.get(held, 0) + worth
    value = 0
    for held, worth in groups.items():
        steps = [m.new_bool_var("") for _ in held]
        for a, b in zip(steps, steps[1:]):
            m.add_implication(b, a)
        m.add(sum(steps) == sum(taken[i] for i in held))
        adds = (day["option_values"] + [0] * len(held))[:len(held)]
        value += worth * sum(v * b for v, b in zip(adds, steps))
    got = []
    left = limit
    for sense, aim in ((-1, value), (1, wrap), (1, sum(moved))):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.max_deterministic_time = max(0.1, left)
        (m.minimize if sense > 0 else m.maximize)(aim)
        status = solver.solve(m)
        left -= solver.response_proto.deterministic_time
        if status == cp_model.INFEASIBLE:
            return "impossible"
        if status != cp_model.OPTIMAL:
            return None
        got.append(round(solver.objective_value))
        m.add(aim == got[-1])
        m.clear_hints()
        for v in taken + start + shoot:
            m.add_hint(v, solver.value(v))
    return tuple(got)


def ours(binary, path, day):
    path.write_text(json.dumps(day))
    before = time.perf_counter()
    out = subprocess.run([binary, "day", "--instance", path, "--json"], capture_output=True, text=True)
    took = time.perf_counter() - before
    if not out.stdout:
        sys.exit(f"the program failed: {out.stderr[-500:]}\n{json.dumps(day)}")
    answer = json.loads(out.stdout)
    if answer["status"] == "impossible":
        return "impossible", answer, took
    return (answer["value"], answer["wrap"], answer["moves"]), answer, took


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("binary")
    parser.add_argument("--count", type=int, default=330)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--large", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    rng = random.Random(args.seed)
    equal = different = undecided = impossible = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "day.json"
        for nth in range(args.count):
            day = draw(rng, 4 + nth % 11)
            mine, answer, _ = ours(args.binary, path, day)
            theirs = reference(day, args.workers, 60)
            if theirs is None:
                undecided += 1
            elif mine == theirs and answer["status"] in ("best", "impossible"):
                equal += 1
                impossible += mine == "impossible"
            else:
                different += 1
                print(f"day {nth}: ours {mine} ({answer['status']}), CP-SAT {theirs}\n{json.dumps(day)}")
        print(f"{args.count} days of 4 to 14 setups: {equal} with equal optimum ({impossible} of them impossible to both), "
              f"{different} different, {undecided} that CP-SAT did not decide")
        judged = equal, impossible, undecided
        times = []
        for nth in range(args.large):
            day = draw(rng, 18, loose=True)
            mine, answer, took = ours(args.binary, path, day)
            before = time.perf_counter()
            theirs = reference(day, args.workers, 120)
            theirs_s = time.perf_counter() - before
            times.append((took, theirs_s))
            agreed = "undecided by" if theirs is None else "equal to" if mine == theirs else "DIFFERENT from"
            different += agreed.startswith("DIFF")
            equal += agreed.startswith("equal")
            undecided += theirs is None
            print(f"18 setups, loose: {took:.2f} s, {answer['status']}, {agreed} CP-SAT after {theirs_s:.1f} s "
                  f"({theirs_s / took:.0f} times as long)")
        if times:
            mine_s, theirs_s = (sorted(t[k] for t in times)[len(times) // 2] for k in (0, 1))
            print(json.dumps({"bench": "a day of 18 setups, loose windows, proven", "unit": "s", "figure": round(mine_s, 3),
                              "reference": round(theirs_s, 3), "against": "CP-SAT to its proof (or 120 s)"}))
    failed = different
    for amiss, what in ((judged[2] > MOST_UNDECIDED * args.count, f"CP-SAT decided too few days: {judged[2]} are open"),
                        (judged[1] == 0, "no day was impossible"), (judged[0] == judged[1], "no day was possible")):
        if amiss and args.count:
            failed += 1
            print(f"!! {what}")
    print(f"{equal} passed, {failed} failed")
    return 0 if failed == 0 and equal else 1


if __name__ == "__main__":
    sys.exit(main())
