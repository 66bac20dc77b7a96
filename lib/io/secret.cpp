#include "io/secret.h"

#include <array>
#include <cerrno>
#include <cstring>
#include <utility>

#include <termios.h>
#include <unistd.h>

#include "io/exactly.h"

namespace cardseal::io {

namespace {

constexpr std::size_t max_line_bytes = 1024;
constexpr int standard_error = 2;
constexpr char interrupt_key = '\x03'; // Ctrl-C

void wipe_text(std::string& text) {
  text.resize(text.capacity()); // zeros up to the end of what was allocated
  ::explicit_bzero(text.data(), text.size());
  text.clear();
}

Error no_secret(const char* code, std::string what, const Path& from, const char* hint) {
  Error error;
  error.kind = ErrorKind::no_input;
  error.code = code;
  error.what = std::move(what);
  error.place.file = from.string();
  error.hint = hint;
  return error;
}

// One byte at a time: what stands after the line stays for whoever reads the descriptor next. The
// room is reserved first, so that no copy is left behind by growing.
Try<Secret> read_line(System& system, int file, const Path& from, bool& at_end) {
  std::string line;
  line.reserve(max_line_bytes);
  std::uint8_t byte = 0;
  for (;;) {
    const Sys<std::size_t> got = system.read_stream(file, {&byte, 1});
    if (!got) {
      wipe_text(line);
      return Unexpected(error_from(got.error(), from, "read"));
    }
    at_end = *got == 0;
    if (at_end || byte == '\n') {
      break;
    }
    if (line.size() == max_line_bytes) {
      wipe_text(line);
      Error error = no_secret("line-too-long", "line is too long", from, "shorten it");
      error.kind = ErrorKind::bad_data;
      error.found = "more";
      error.expected = "at most " + std::to_string(max_line_bytes) + " bytes";
      return Unexpected(std::move(error));
    }
    line.push_back(static_cast<char>(byte));
    if (byte == static_cast<std::uint8_t>(interrupt_key)) {
      break;
    }
  }
  if (!line.empty() && line.back() == '\r') {
    line.pop_back();
  }
  return Secret(std::move(line));
}

Try<Secret> not_empty(Try<Secret> secret, const Path& from) {
  if (secret && secret->empty()) {
    return Unexpected(no_secret("passphrase-empty", "passphrase is empty", from,
                                "an empty passphrase protects nothing; choose one"));
  }
  return secret;
}

Try<Secret> from_file(System& system, const Path& path) {
  const Sys<int> file = system.open(path, Open::read, 0);
  if (!file) {
    return Unexpected(error_from(file.error(), path, "read"));
  }
  bool at_end = false;
  Try<Secret> secret = read_line(system, *file, path, at_end);
  (void)system.close(*file);
  return not_empty(std::move(secret), path);
}

Try<Secret> from_descriptor(System& system, int descriptor) {
  const Path name = "descriptor " + std::to_string(descriptor);
  bool at_end = false;
  return not_empty(read_line(system, descriptor, name, at_end), name);
}

// The process's terminal with echo off. Keys that would send a signal become characters, so that
// Ctrl-C can't leave the terminal silent; Ctrl-C ends the line.
class QuietTerminal {
public:
  QuietTerminal(System& system, int file) : system_(system), file_(file) {
    known_ = ::tcgetattr(file_, &before_) == 0;
    if (!known_) {
      return;
    }
    termios quiet = before_;
    quiet.c_lflag &= ~static_cast<tcflag_t>(ECHO | ECHONL | ISIG);
    quiet.c_cc[VEOL] = static_cast<cc_t>(interrupt_key);
    known_ = ::tcsetattr(file_, TCSAFLUSH, &quiet) == 0;
  }
  QuietTerminal(const QuietTerminal&) = delete;
  QuietTerminal& operator=(const QuietTerminal&) = delete;
  ~QuietTerminal() {
    if (known_) {
      ::tcsetattr(file_, TCSADRAIN, &before_);
    }
    (void)system_.close(file_);
  }
  bool quiet() const { return known_; }

  Try<Secret> ask(std::string_view question) {
    const Path name = "terminal";
    if (Try<void> shown = write_stream_exactly(system_, file_, name, bytes_of(question)); !shown) {
      return Unexpected(std::move(shown).error());
    }
    bool at_end = false;
    Try<Secret> secret = read_line(system_, file_, name, at_end);
    (void)write_stream_exactly(system_, file_, name, bytes_of("\n"));
    if (secret && secret->view().find(interrupt_key) != std::string_view::npos) {
      return Unexpected(no_secret("cancelled", "cancelled", {}, ""));
    }
    return not_empty(std::move(secret), {});
  }

private:
  System& system_;
  int file_;
  termios before_{};
  bool known_ = false;
};

Try<Secret> from_terminal(System& system, std::string_view question, bool twice) {
  const Sys<int> file = system.open("/dev/tty", Open::read_write, 0);
  const char* const hint = "give the passphrase in a file or through a descriptor";
  if (!file) {
    return Unexpected(
        no_secret("passphrase-none", "no terminal to ask for the passphrase", {}, hint));
  }
  QuietTerminal terminal(system, *file);
  if (!terminal.quiet()) {
    return Unexpected(
        no_secret("passphrase-none", "the terminal's echo can't be switched off", {}, hint));
  }
  Try<Secret> first = terminal.ask(question);
  if (!first || !twice) {
    return first;
  }
  Try<Secret> second = terminal.ask("again: ");
  if (second && second->view() != first->view()) {
    return Unexpected(no_secret("passphrase-differs", "the two passphrases differ", {},
                                "type the same one twice"));
  }
  return second;
}

} // namespace

Secret::Secret(std::string text) : text_(text) {
  wipe_text(text);
}

Secret::Secret(Secret&& other) noexcept : text_(std::move(other.text_)) {
  other.wipe();
}

Secret& Secret::operator=(Secret&& other) noexcept {
  if (this != &other) {
    wipe();
    text_ = std::move(other.text_);
    other.wipe();
  }
  return *this;
}

Secret::~Secret() {
  wipe();
}

void Secret::wipe() {
  wipe_text(text_);
}

Try<Secret> read_secret(System& system, const SecretSource& source, std::string_view question,
                        bool twice) {
  if (source.file) {
    return from_file(system, *source.file);
  }
  if (source.descriptor) {
    return from_descriptor(system, *source.descriptor);
  }
  return from_terminal(system, question, twice);
}

Try<std::string> ask(System& system, std::string_view question) {
  if (::isatty(STDIN_FILENO) == 1) {
    const Try<void> shown =
        write_stream_exactly(system, standard_error, "terminal", bytes_of(question));
    if (!shown) {
      return Unexpected(shown.error());
    }
  }
  bool at_end = false;
  const Try<Secret> line = read_line(system, STDIN_FILENO, "standard input", at_end);
  if (!line) {
    return Unexpected(line.error());
  }
  if (at_end && line->empty()) {
    return Unexpected(no_secret("no-answer", "no answer", "standard input", "type an answer"));
  }
  return std::string(line->view());
}

} // namespace cardseal::io
