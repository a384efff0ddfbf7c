"""Holds `barebulb plan schema` against an independent validator, and the validator against the import.

    python checks/plan/check_schema.py BAREBULB_BINARY DEMO_PROJECT

The schema is itself a valid JSON Schema (draft 2020-12, by jsonschema's metaschema), and the demo's plan,
exported as TOML and read by Python's tomllib, is valid under it. Then plans are mutated, one fault each: a number
put out of its range, a value of another type, an unknown word, an unknown field, a needed field taken out. On each
the validator and `barebulb plan import` must agree: both take it, or both refuse it. Values just inside a range are
mutations too, and must be taken by both, but where a rule of several fields speaks (its sentence is then listed:
such a rule the schema can't say, and the import alone may refuse).
"""
import copy
import json
import random
import subprocess
import sys
import tempfile
import tomllib
from collections import Counter
from pathlib import Path

import jsonschema

MUTATIONS = 200
SEED = 20261129


def run(binary, *arguments):
    return subprocess.run([binary, *arguments], capture_output=True, text=True, check=False)


def places(value, schema, path=()):
    """Every value of the plan that the schema describes, with its place and its description."""
    yield path, schema
    kind = schema.get("type")
    if kind == "object" and isinstance(value, dict):
        for name, inner in schema.get("properties", {}).items():
            if name in value:
                yield from places(value[name], inner, path + (name,))
    elif kind == "array" and isinstance(value, list):
        for index, inner in enumerate(value[:3]):
            yield from places(inner, schema["items"], path + (index,))


def at(plan, path):
    for step in path:
        plan = plan[step]
    return plan


def put(plan, path, value):
    out = copy.deepcopy(plan)
    at(out, path[:-1])[path[-1]] = value
    return out


def numbers(schema):
    return schema.get("type") in ("number", "integer")


def mutations(plan, schema, dice):
    """What is done to the plan: the kind of fault, the place, the mutated plan."""
    everywhere = [(path, inner) for path, inner in places(plan, schema) if path]
    ranged = [(p, s) for p, s in everywhere if numbers(s) and "minimum" in s]
    words = [(p, s) for p, s in everywhere if "enum" in s]
    plain = [(p, s) for p, s in everywhere if s.get("type") in ("string", "number", "integer", "boolean")]
    nouns = [(p, s) for p, s in everywhere if s.get("type") == "object" and s.get("properties")]
    for _ in range(MUTATIONS // 7 + 1):
        path, inner = dice.choice(ranged)
        step = 1 if inner["type"] == "integer" else max(abs(inner["minimum"]), 1) * 1e-6
        number = int if inner["type"] == "integer" else float
        yield "below its range", path, put(plan, path, number(inner["minimum"] - step))
        if "maximum" in inner and abs(inner["maximum"]) < 1e15:
            yield "above its range", path, put(plan, path, number(inner["maximum"] + max(step, abs(inner["maximum"]) * 1e-6 if inner["type"] == "number" else 1)))
            yield "at the end of its range", path, put(plan, path, number(inner["maximum"]))
        path, inner = dice.choice(plain)
        wrong = {"string": True, "number": "many", "integer": "many", "boolean": "perhaps"}[inner["type"]]
        yield "of another type", path, put(plan, path, wrong)
        path, inner = dice.choice(words)
        yield "an unknown word", path, put(plan, path, "no-such-word")
        path, inner = dice.choice(nouns)
        yield "an unknown field", path, put(plan, path + ("no_such_field",), 1)
        needed = [(p, name) for p, s in nouns for name in s.get("required", []) if name in at(plan, p)]
        path, name = dice.choice(needed)
        without = copy.deepcopy(plan)
        del at(without, path)[name]
        yield "a needed field left out", path + (name,), without


def toml(value, inline=False):
    """TOML of plain values; enough for a plan."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list):
        return "[" + ", ".join(toml(one, True) for one in value) + "]"
    fields = ", ".join(f"{json.dumps(name)} = {toml(one, True)}" for name, one in value.items())
    return "{ " + fields + " }"


def main():
    binary, demo = sys.argv[1], sys.argv[2]
    schema = json.loads(run(binary, "plan", "schema").stdout)
    validator = jsonschema.Draft202012Validator
    validator.check_schema(schema)
    passed, failed = Counter({"the schema is one": 1}), Counter()
    validate = validator(schema)
    plan = tomllib.loads(run(binary, "plan", "export", demo).stdout)
    for error in validate.iter_errors(plan):
        failed["the demo's plan"] += 1
        print(f"  the demo's plan: {error.json_path}: {error.message[:200]}")
    passed["the demo's plan"] += not failed["the demo's plan"]
    # What the program alone writes is no part of a typed plan.
    for name in ("log", "takes", "locks", "bans", "cuts", "song"):
        plan.pop(name, None)
    rules = Counter()
    with tempfile.TemporaryDirectory() as folder:
        project = str(Path(folder) / "project")
        assert run(binary, "new", project).returncode == 0
        file = Path(folder) / "plan.toml"
        for kind, path, mutated in mutations(plan, schema, random.Random(SEED)):
            file.write_text("".join(f"{name} = {toml(value)}\n" for name, value in mutated.items()))
            ours = run(binary, "plan", "import", project, str(file))
            theirs = [error.message for error in validate.iter_errors(mutated)]
            where = ".".join(map(str, path))
            taken = ours.returncode == 0
            if taken == (not theirs):
                passed[kind] += 1
            elif not taken and kind == "at the end of its range" and "out of range" not in ours.stderr:
                rules[ours.stderr.strip().splitlines()[-1]] += 1
                passed[kind] += 1
            else:
                failed[kind] += 1
                print(f"  {where}, {kind}: import {'takes' if taken else 'refuses'} it ({ours.stderr.strip()[:200]}), the validator says {theirs[:1]}")
    for sentence, count in rules.items():
        print(f"  a rule of several fields, {count} times: {sentence[:160]}")
    for kind in sorted(passed | failed):
        print(f"{kind}: {passed[kind]} passed, {failed[kind]} failed")
    print(f"{sum(passed.values())} passed, {sum(failed.values())} failed")
    sys.exit(1 if sum(failed.values()) or sum(passed.values()) < 200 else 0)


if __name__ == "__main__":
    main()
