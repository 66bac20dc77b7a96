#!/bin/sh
# Builds gate_remote.hex beside this script, or in the folder given: build.sh [FOLDER]
# The same assembler gives the same bytes anywhere: the file holds no dates or paths.
# gate_remote.hex in this folder was made by gpasm 1.4.0 (Debian 12).
set -eu
here=$(CDPATH= cd -- "$(dirname -- "$0")" && pwd)
out=$(CDPATH= cd -- "${1:-$here}" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

cd "$here"
gpasm -w 1 -a inhx32 -o "$work/gate_remote.hex" gate_remote.asm >"$work/said"
if grep -q . "$work/said"; then # a warning is an error
  cat "$work/said" >&2
  exit 1
fi
mv "$work/gate_remote.hex" "$out/gate_remote.hex"
