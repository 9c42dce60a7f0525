#!/bin/sh
# Builds the firmware as a sketch builder would: sh tests/sketch.sh OUT makes OUT/firmware.elf.
#
# The core and the flags are those of the Debian package arduino-core-avr 1.8.7 (its platform.txt), link-time
# optimisation included. Compiled are the files in the sketch's root and those below its src/, each from a copy of
# the folder that stands alone, and with no include path into it: the sketch may lean on nothing else.
set -eu

fail() { printf 'sketch.sh: %s\n' "$*" >&2; exit 1; }
[ $# -eq 1 ] || fail 'found '"$#"' arguments, expected one: the folder to build in'
out=$1
sketch=$(cd "$(dirname "$0")/../protocol/firmware" && pwd)
package=/usr/share/arduino/hardware/arduino/avr
core=$package/cores/arduino
variant=$package/variants/mega
[ -f "$core/main.cpp" ] || fail "$core is missing: install the Debian package arduino-core-avr"
for tool in avr-gcc avr-g++ avr-gcc-ar; do
    command -v "$tool" >/dev/null 2>&1 || fail "$tool is missing: install the Debian packages gcc-avr and binutils-avr"
done

rm -rf "$out"
mkdir -p "$out/core" "$out/objects" "$out/sketch"

# gcc 5.4 knows DECIMAL_DIG only by its long name in this mode.
common="-c -g -Os -w -mmcu=atmega2560 -DF_CPU=16000000L -DARDUINO=10819 -DARDUINO_AVR_MEGA2560 -DARDUINO_ARCH_AVR
    -DDECIMAL_DIG=__DECIMAL_DIG__ -flto -I$core -I$variant"
sections='-ffunction-sections -fdata-sections'
compile() { # SOURCE OBJECT
    # shellcheck disable=SC2086 # lists of words are meant
    case $1 in
        *.c) avr-gcc $common $sections -std=gnu11 -fno-fat-lto-objects -o "$2" "$1" ;;
        *.cpp) avr-g++ $common $sections -std=gnu++11 -fpermissive -fno-exceptions -fno-threadsafe-statics \
            -Wno-error=narrowing -o "$2" "$1" ;;
        *.S) avr-gcc $common -x assembler-with-cpp -o "$2" "$1" ;;
        *) fail "$1: neither .c, .cpp nor .S" ;;
    esac
}

for source in "$core"/*.c "$core"/*.cpp "$core"/*.S; do
    compile "$source" "$out/core/$(basename "$source").o"
done
avr-gcc-ar rcs "$out/core.a" "$out/core"/*.o

# What the builder makes of the .ino, and the copy that stands alone.
for source in "$sketch"/*.c "$sketch"/*.cpp "$sketch"/*.S "$sketch"/*.h; do
    if [ -f "$source" ]; then cp "$source" "$out/sketch/"; fi
done
cp -R "$sketch/src" "$out/sketch/src"
{ echo '#include <Arduino.h>'; cat "$sketch/firmware.ino"; } > "$out/sketch/firmware.ino.cpp"
(cd "$out/sketch" && find . -name '*.c' -o -name '*.cpp' -o -name '*.S') > "$out/sources"
[ "$(wc -l < "$out/sources")" -gt 10 ] || fail 'found hardly a source below src/: has the sketch moved?'
while IFS= read -r source; do
    compile "$out/sketch/$source" "$out/objects/$(printf '%s' "${source#./}" | tr / _).o"
done < "$out/sources"

avr-gcc -w -Os -g -flto -fuse-linker-plugin -Wl,--gc-sections -mmcu=atmega2560 \
    -o "$out/firmware.elf" "$out/objects"/*.o "$out/core.a" -lm
echo "$out/firmware.elf"
