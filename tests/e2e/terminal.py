"""`cardseal show` on terminals of any width: every word is there, in order, and no line is wider than it has to be."""

import fcntl
import os
import pty
import struct
import subprocess
import termios

from world import CARDSEAL, WorldCase, main


class Terminal(WorldCase):
    def shown(self, columns):
        self.world.environment = {} if columns is None else {"COLUMNS": str(columns)}
        try:
            return self.world.must("show", "frost-node.crp")
        finally:
            self.world.environment = None

    def check_width(self, text, width):
        for line in text.splitlines():
            self.assertEqual(line.rstrip(), line)
            if len(line) > width:  # one word that is wider than the terminal
                self.assertEqual(1, len(line.split()), line)
                self.assertLessEqual(len(line) - len(line.lstrip()), 6)

    def test_no_word_is_cut_or_lost_at_any_width(self):
        words = self.shown(10000).split()
        self.assertGreater(len(words), 1000)
        lines = set()
        for width in (40, 60, 80, 132):
            text = self.shown(width)
            self.assertEqual(words, text.split(), width)
            self.check_width(text, width)
            self.assertTrue(text.isascii())
            lines.add(len(text.splitlines()))
        self.assertEqual(4, len(lines))

    def test_without_a_terminal_it_is_80_wide(self):
        self.assertEqual(self.shown(80), self.shown(None))

    def test_a_terminal_says_its_own_width(self):
        ours, theirs = pty.openpty()
        try:
            fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 63, 0, 0))
            environment = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
            with subprocess.Popen([CARDSEAL, "show", "frost-node.crp"], cwd=self.world.folder, stdout=theirs,
                                  stderr=subprocess.DEVNULL, env=environment) as program:
                os.close(theirs)
                text = b""
                while piece := self.read(ours):
                    text += piece
                self.assertEqual(0, program.wait(timeout=60))
        finally:
            os.close(ours)
        self.assertEqual(self.shown(63).splitlines(), text.decode("ascii").splitlines())

    @staticmethod
    def read(terminal):
        try:
            return os.read(terminal, 4096)
        except OSError:  # the other side is closed
            return b""


if __name__ == "__main__":
    main()
