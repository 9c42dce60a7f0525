#!/bin/sh
# Installs what the tests need, then runs every test; the first failure ends it, aloud.
# Debian packages: the AVR tools and the emulator's library. PyPI: what the URDF test asks for.
set -eu
cd "$(dirname "$0")/.."

step() { printf '\n== %s\n' "$*"; }
fail() { printf 'all.sh: %s\n' "$*" >&2; exit 1; }
have() { command -v "$1" >/dev/null 2>&1; }

packages='gcc make gcc-avr avr-libc binutils-avr libsimavr-dev libelf-dev arduino-core-avr python3 python3-venv'
tools='gcc make avr-gcc avr-objcopy python3'
have cargo || fail 'cargo is missing: install Rust 1.90 or newer with rustup, then run this again'

if have apt-get; then
    missing=''
    for package in $packages; do
        [ "$(dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null)" = installed ] || missing="$missing $package"
    done
    if [ -n "$missing" ]; then
        as_root=''
        if [ "$(id -u)" -ne 0 ]; then
            have sudo || fail "not root and no sudo: ask an administrator to install$missing"
            as_root=sudo
        fi
        step "installing$missing"
        $as_root apt-get update -qq
        # shellcheck disable=SC2086 # a list of words is meant
        $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing
    fi
fi
for tool in $tools; do
    have "$tool" && continue
    have apt-get || fail "$tool is missing, and this is no system with apt: install the like of these Debian packages yourself: $packages"
    fail "$tool is missing though its Debian package is installed: is it in the PATH? apt-get install --reinstall puts it back"
done

step 'format and lints'
cargo fmt --check
cargo clippy --quiet --all-targets --all-features -- -D warnings

step 'the firmware at both rates'
make -s -C protocol/firmware BAUD=115200
make -s -C protocol/firmware

step 'every test, the emulated chip included'
cargo test --features emulated

step 'what we write, read by others: TOML, URDF, JSON'
python3 tests/toml10.py
sh tests/urdf.sh

step 'the library and the console without the practice robot, which needs no C compiler'
cargo check --quiet --no-default-features --all-targets

step 'the package builds from what it carries'
cargo package --quiet --allow-dirty

step 'all passed'
