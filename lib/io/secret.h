// Passphrases: from a no-echo prompt, a file or a descriptor, never from an argument; wiped after
// use.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "io/system.h"

namespace cardseal::io {

// Text that is overwritten with zeros when it goes away. Not copyable.
class Secret {
public:
  Secret() = default;
  explicit Secret(std::string text);
  Secret(Secret&& other) noexcept;
  Secret& operator=(Secret&& other) noexcept;
  Secret(const Secret&) = delete;
  Secret& operator=(const Secret&) = delete;
  ~Secret();
  std::string_view view() const { return text_; }
  bool empty() const { return text_.empty(); }

private:
  void wipe();
  std::string text_;
};

struct SecretSource {
  std::optional<Path> file;      // its first line, without the line end
  std::optional<int> descriptor; // the same
};

// From the source given, else from the terminal with echo off (`question` on the terminal). An
// empty passphrase, or none to be had (no terminal), is an error. `twice` asks again and compares.
Try<Secret> read_secret(System& system, const SecretSource& source, std::string_view question,
                        bool twice);

// Asks on the terminal (or reads a line of standard input when that is no terminal); the line
// without its end. Echo stays on.
Try<std::string> ask(System& system, std::string_view question);

} // namespace cardseal::io
