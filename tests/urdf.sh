#!/bin/sh
# The exports read by libraries that are not ours, from PyPI, in an environment of the tests' own.
# Called by tests/all.sh; the first failure ends it, aloud.
set -eu
cd "$(dirname "$0")/.."
python3 -c 'import venv, ensurepip' 2>/dev/null || {
    printf 'urdf.sh: python3 with venv is missing (Debian: apt-get install python3 python3-venv)\n' >&2
    exit 1
}
env=tests/.venv
packages='pin==4.1.0 yourdfpy==0.0.60 jsonschema==4.26.0'
if ! "$env/bin/python" -c 'import pinocchio, yourdfpy, jsonschema' 2>/dev/null; then
    rm -rf "$env"
    python3 -m venv "$env"
    # shellcheck disable=SC2086 # a list of words is meant
    "$env/bin/python" -m pip install --quiet --disable-pip-version-check $packages
fi
"$env/bin/python" tests/urdf_check.py
"$env/bin/python" tests/schema_check.py
