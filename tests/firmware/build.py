#!/usr/bin/python3
"""Builds the frost alarm with every compiler that is there: build.py FOLDER.

One folder a compiler, every format that it or its converter writes. The committed ones in `built`
were made with the versions in `built/VERSIONS`.
"""

import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent

# Compiler, Debian package, commands. {here} is this folder; commands run in the compiler's own.
BUILDS = {
    "avr-gcc": ("gcc-avr", [
        "avr-gcc -mmcu=atmega328p -Os -o frost.elf {here}/frost.c",
        "avr-objcopy -O ihex frost.elf frost.hex",
        "avr-objcopy -O srec frost.elf frost.s19"]),
    "arm-none-eabi-gcc": ("gcc-arm-none-eabi", [
        "arm-none-eabi-gcc -mcpu=cortex-m0 -mthumb -Os -ffreestanding -nostdlib"
        " -T {here}/frost_arm.ld -o frost.elf {here}/frost.c",
        "arm-none-eabi-objcopy -O ihex frost.elf frost.hex",
        "arm-none-eabi-objcopy -O srec frost.elf frost.s19"]),
    "gpasm": ("gputils", [
        "gpasm -q -c -o frost.o {here}/frost.asm",
        "gplink -q -a inhx32 -s /usr/share/gputils/lkr/16f877a_g.lkr -o frost.hex frost.o",
        "gplink -q -a inhx8m -s /usr/share/gputils/lkr/16f877a_g.lkr -o frost8.hex frost.o",
        "objcopy -I ihex -O srec frost.hex frost.s19"]),
    "sdcc": ("sdcc", [
        # Of its targets this one has all three formats, and S1 records with the addresses they state
        # (measured with 4.2.0).
        "sdcc -mhc08 --out-fmt-ihx -o frost.ihx {here}/frost.c",
        "sdcc -mhc08 --out-fmt-s19 -o frost.s19 {here}/frost.c",
        "sdcc -mhc08 --out-fmt-elf -o frost.elf {here}/frost.c"]),
}
FORMATS = (".hex", ".ihx", ".s19", ".elf")


def build(compiler, folder):
    """Leaves the formats of one compiler in `folder`."""
    folder.mkdir(parents=True)
    for command in BUILDS[compiler][1]:
        subprocess.run([part.format(here=HERE) for part in command.split()], cwd=folder, check=True,
                       stdout=subprocess.DEVNULL, timeout=60)
    for path in folder.iterdir():
        if path.suffix not in FORMATS:
            path.unlink()


def version(compiler):
    said = subprocess.run([compiler, "--version"], capture_output=True, text=True, check=True,
                          timeout=60)
    return (said.stdout or said.stderr).splitlines()[0]


def main():
    out = Path(sys.argv[1])
    lines = []
    for compiler, (package, _) in BUILDS.items():
        if shutil.which(compiler) is None:
            print(f"skipped: {compiler} is missing (Debian package {package})")
            continue
        build(compiler, out / compiler)
        lines.append(f"{compiler}: {version(compiler)}\n")
    (out / "VERSIONS").write_text("".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
