#!/bin/sh
# Builds boot.elf and application.elf beside this script, or in the folder given, and merges them
# into tank_gauge.hex, the one file that is approved: build.sh [FOLDER]
# CARDSEAL names the program that merges, when it is not on the path.
# The same compiler gives the same bytes anywhere: no debug information, dates or paths.
# The files in this folder were made by arm-none-eabi-gcc 12.2.1 and binutils 2.40 (Debian 12).
set -eu
here=$(CDPATH= cd -- "$(dirname -- "$0")" && pwd)
out=$(CDPATH= cd -- "${1:-$here}" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

cd "$here"
options="-mcpu=cortex-m0 -mthumb -std=c11 -Os -g0 -Wall -Wextra -Werror -ffreestanding
  -nostdlib -ffunction-sections -fdata-sections -Wl,--build-id=none -Wl,-n -Wl,-S
  -Wl,--fatal-warnings"
# shellcheck disable=SC2086
arm-none-eabi-gcc $options -T boot.ld -o "$work/boot.elf" boot_start.S boot.c
# The boot part's functions are taken from where they stand in boot.elf. The entry point of 0 says
# that the application has none of its own: a board starts in the boot part.
# shellcheck disable=SC2086
arm-none-eabi-gcc $options -Wl,--gc-sections -Wl,-e,0 -Wl,-R,"$work/boot.elf" -T application.ld \
  -o "$work/application.elf" application_start.S application.c -lgcc
"${CARDSEAL:-cardseal}" image "$work/boot.elf" --merge "$work/application.elf" \
  -o "$work/tank_gauge.hex" >"$work/merged"
chmod 644 "$work/boot.elf" "$work/application.elf"
mv "$work/boot.elf" "$work/application.elf" "$work/tank_gauge.hex" "$out/"
