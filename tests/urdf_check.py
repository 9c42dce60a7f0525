"""The exported URDF, read by two general robotics libraries, puts every foot where hornset does.

pinocchio (PyPI: pin) and yourdfpy; 1,000 random legal poses of each robot, over all legs, to 1e-9 m.
Run by tests/urdf.sh, which makes the environment. It fails aloud; there is nothing it skips.
"""

import json
import math
import os
import pathlib
import subprocess
import sys
import tempfile

import numpy
import pinocchio
import yourdfpy

ROOT = pathlib.Path(__file__).resolve().parent.parent
KINDS = ("coxa", "femur", "tibia")
ALLOWED_M = 1e-9


def fail(text):
    sys.exit(f"urdf_check.py: {text}")


def written(folder):
    """Our URDFs, poses and feet, from the library itself."""
    environment = dict(os.environ, HORNSET_TEST_POSES=folder)
    command = ["cargo", "test", "-q", "--test", "exports", "--", "--exact", "poses_for_other_libraries"]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)
    if done.returncode != 0:
        fail(f"{' '.join(command)} failed:\n{done.stdout}{done.stderr}")
    return sorted(pathlib.Path(folder).glob("*.urdf"))


def check(path):
    ours = json.loads(path.with_suffix(".json").read_text())
    model = pinocchio.buildModelFromUrdf(str(path))
    data = model.createData()
    other = yourdfpy.URDF.load(str(path), load_meshes=False, load_collision_meshes=False)
    legs = list(ours["limits_deg"])
    if model.nq != 3 * len(legs) or len(other.actuated_joint_names) != 3 * len(legs):
        fail(f"{path.name}: {model.nq} and {len(other.actuated_joint_names)} joints, expected {3 * len(legs)}")
    for leg in legs:
        for kind, limits in zip(KINDS, ours["limits_deg"][leg]):
            name = f"{leg}_{kind}_joint"
            index = model.joints[model.getJointId(name)].idx_q
            theirs = [model.lowerPositionLimit[index], model.upperPositionLimit[index]]
            limit = other.joint_map[name].limit
            for seen in (theirs, [limit.lower, limit.upper]):
                if not numpy.allclose(seen, numpy.radians(limits), rtol=0, atol=1e-12):
                    fail(f"{path.name} {name}: limits {seen}, expected {limits} degrees")
    worst = {"pinocchio": 0.0, "yourdfpy": 0.0}
    feet = 0
    if len(ours["poses"]) != 1000:
        fail(f"{path.name}: {len(ours['poses'])} poses, expected 1000")
    for pose in ours["poses"]:
        q = numpy.zeros(model.nq)
        named = {}
        for leg in legs:
            for kind, angle in zip(KINDS, pose[leg]["angles_deg"]):
                name = f"{leg}_{kind}_joint"
                named[name] = math.radians(angle)
                q[model.joints[model.getJointId(name)].idx_q] = named[name]
        pinocchio.framesForwardKinematics(model, data, q)
        other.update_cfg(named)
        for leg in legs:
            expected = numpy.array(pose[leg]["foot_mm"]) / 1000.0
            frame = model.getFrameId(f"{leg}_foot")
            seen = {
                "pinocchio": data.oMf[frame].translation,
                "yourdfpy": other.get_transform(f"{leg}_foot", "base_link")[:3, 3],
            }
            for library, foot in seen.items():
                distance = float(numpy.linalg.norm(foot - expected))
                if not distance <= ALLOWED_M:
                    fail(f"{path.name} {leg}: {library} is {distance} m away at {pose[leg]}")
                worst[library] = max(worst[library], distance)
            feet += 1
    print(f"{path.name}: 1000 poses, {feet} feet; worst " + ", ".join(f"{k} {v:.1e} m" for k, v in worst.items()))


def main():
    with tempfile.TemporaryDirectory() as folder:
        files = written(folder)
        if [it.stem for it in files] != ["bent", "marram", "one-leg"]:
            fail(f"wrong files: {files}")
        for path in files:
            check(path)


main()
