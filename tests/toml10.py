#!/usr/bin/env python3
"""What hornset writes, read by Python's tomllib, a reader of TOML 1.0 that is not ours.

Run by tests/all.sh from the project's folder; needs Python 3.11 or newer and cargo.
It fails aloud; there is nothing it skips.
"""

import pathlib
import subprocess
import sys
import tempfile

try:
    import tomllib
except ImportError:
    sys.exit("tests/toml10.py needs Python 3.11 or newer (Debian: apt-get install python3)")

ROOT = pathlib.Path(__file__).resolve().parent.parent


def run(*command, **more):
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, **more)
    if done.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))} failed:\n{done.stdout}{done.stderr}")
    return done.stdout


def read(path):
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        sys.exit(f"{path}: tomllib refuses it: {error}")


def check(robot, path):
    """The figures are numbers, the times are times with an offset."""
    for leg in robot["leg"]:
        for kind in ("coxa", "femur", "tibia"):
            for key, value in leg[kind].items():
                if isinstance(value, dict):
                    assert isinstance(value["value"], (int, float)), (path, key)
                    assert value["at"].tzinfo is not None, (path, key)


def main():
    import os

    files = sorted((ROOT / "calibrations").glob("*.toml"))
    assert len(files) >= 2, "the shipped examples are gone"
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        environment = dict(os.environ, HORNSET_TEST_SAMPLES=name)
        run("cargo", "test", "-q", "--test", "saving", "--", "--exact", "samples_for_other_readers", env=environment)
        samples = sorted(folder.glob("*.toml"))
        assert len(samples) == 10, samples
        for legs in range(1, 9):
            path = folder / f"new-{legs}.toml"
            run("cargo", "run", "-q", "--", "new", str(path), "--legs", str(legs))
            samples.append(path)
        for path in files + samples:
            check(read(path), path)
        odd = read(folder / "marram-1234.56789.toml")
        assert odd["name"] == 'Say "hi" µ', odd["name"]
        femur = odd["leg"][0]["femur"]
        assert femur["pin"] == "A15" and femur["servo"] == "ü'7", femur
        assert femur["zero_us"]["value"] == 1234.5679, femur
        assert femur["needed_deg"] == [-0.3333, 0.3333], femur
        print(f"tomllib reads all {len(files) + len(samples)} files")


main()
