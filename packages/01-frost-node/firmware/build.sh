#!/bin/sh
# Builds frost_node.hex beside this script, or in the folder given: build.sh [FOLDER]
# The same compiler gives the same bytes anywhere: no debug information, dates or paths.
# frost_node.hex in this folder was made by avr-gcc 5.4.0 and binutils 2.26 (Debian 12).
set -eu
here=$(CDPATH= cd -- "$(dirname -- "$0")" && pwd)
out=$(CDPATH= cd -- "${1:-$here}" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

cd "$here"
# The text region ends at 0x7FF0: the linker refuses to put anything where the serial number goes.
avr-gcc -mmcu=atmega328p -DF_CPU=8000000UL -std=c99 -Os -g0 -Wall -Wextra -Werror \
  -ffunction-sections -fdata-sections -Wl,--gc-sections \
  -Wl,--defsym=__TEXT_REGION_LENGTH__=0x7ff0 \
  -o "$work/frost_node.elf" frost_node.c
avr-objcopy -O ihex -j .text -j .data "$work/frost_node.elf" "$work/frost_node.hex"
mv "$work/frost_node.hex" "$out/frost_node.hex"
