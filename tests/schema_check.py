"""The JSON Schemas in calibrations/ accept what hornset reads and writes, and refuse what it refuses by shape.

A general validator (PyPI: jsonschema). Run by tests/urdf.sh. It fails aloud; there is nothing it skips.
"""

import datetime
import json
import pathlib
import subprocess
import sys
import tempfile
import tomllib

import jsonschema

ROOT = pathlib.Path(__file__).resolve().parent.parent
CALIBRATIONS = ROOT / "calibrations"

# Bad files whose fault is no matter of shape: TOML itself, two values that contradict each other, an older format's rules.
BEYOND_SHAPE = {
    "duplicate-leg", "duplicate-pin", "duplicate-servo", "ends-swapped", "pair-swapped", "limits-outside-ends",
    "not-utf8", "syntax", "toml-version", "not-finite", "bad-time",
}

# TOML readers give 0x17 as the number 23.
NOT_SEEN = {"pin-hex"}


def fail(text):
    sys.exit(f"schema_check.py: {text}")


def hornset(*arguments, codes=(0,)):
    done = subprocess.run(["cargo", "run", "-q", "--", *map(str, arguments)], cwd=ROOT, capture_output=True, text=True)
    if done.returncode not in codes:
        fail(f"hornset {arguments} failed:\n{done.stderr}")
    return done.stdout


def schema(name):
    text = json.loads((CALIBRATIONS / name).read_text())
    kind = jsonschema.Draft202012Validator
    kind.check_schema(text)
    return kind(text)


def as_json(value):
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    if isinstance(value, datetime.datetime):
        return value.isoformat()
    return value


def main():
    calibration, export = schema("calibration.schema.json"), schema("export.schema.json")
    with tempfile.TemporaryDirectory() as name:
        new = pathlib.Path(name) / "new.toml"
        hornset("new", new, "--legs", 7)
        good = sorted(CALIBRATIONS.glob("*.toml")) + [new]
        for path in good:
            calibration.validate(as_json(tomllib.loads(path.read_text())))
            export.validate(json.loads(hornset("export", path, "--as", "json")))
    findings = json.loads(hornset("check", "--json", *sorted((ROOT / "tests/bad_files").glob("*.toml")), codes=(1,)))
    refused = 0
    for it in findings:
        faults = {finding["fault"] for finding in it["findings"]}
        if faults & BEYOND_SHAPE or pathlib.Path(it["file"]).stem in NOT_SEEN:
            continue
        text = pathlib.Path(it["file"]).read_text()
        if calibration.is_valid(as_json(tomllib.loads(text))):
            fail(f"{it['file']}: the schema accepts what hornset refuses: {faults}")
        refused += 1
    if refused < 40:
        fail(f"only {refused} bad files were judged by their shape")
    print(f"schemas: {len(good)} files and their exports accepted, {refused} bad files refused")


main()
