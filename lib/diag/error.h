// The desk's error: what went wrong, where, what was found and expected, and what to do about it.
// Stations speak in `Outcome` (base/outcome.h); rules about a release speak in `Finding`.
// Messages are lower case, without a full stop, and name both values.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "base/outcome.h"
#include "base/result.h"

namespace cardseal {

// Each kind has one exit code (diag/exit.h).
enum class ErrorKind : std::uint8_t {
  refused,    // it ran, and the answer is no
  usage,      // the command line is wrong
  bad_data,   // a file's content is wrong
  no_input,   // a file that should be read is not there
  internal,   // our fault
  no_create,  // an output can't be made
  io,         // reading or writing failed half way
  permission, // the system forbids it
  config,     // company file, trust list or keys don't fit together
};

// Where it is; what is unknown stays empty or zero. Lines and columns count from 1; a column counts
// bytes.
struct Place {
  std::string file;
  std::uint32_t line = 0;
  std::uint32_t column = 0;
  std::string item; // an address, sector, entry or field, with its unit, e.g. "address 0x1F8"
};

// The analyzer of clang 14 loses track of Result's union, and sees the error of a good result read.
struct Error { // NOLINT(clang-analyzer-core.uninitialized.Assign)
  ErrorKind kind = ErrorKind::internal;
  std::string code; // stable, for scripts: lower case words joined by '-', e.g. "hex-checksum"
  std::string what; // the sentence, e.g. "record checksum does not match"
  Place place;
  std::string found;    // may be empty
  std::string expected; // may be empty
  std::string hint;     // what to do; may be empty
};

template <class T>
using Try = Result<T, Error>;

// One without a place.
Error error_of(ErrorKind kind, std::string code, std::string what, std::string found,
               std::string expected, std::string hint);
// The same of kind `refused`.
Error refused(std::string code, std::string what, std::string found, std::string expected,
              std::string hint);
// An error, and where it is.
Error at(Error error, std::string file, std::uint32_t line = 0);

// One line to a person: `file:line:column: what: found X, expected Y (hint)`.
std::string describe(const Error& error);

// Text from outside, made safe for a terminal: controls, bidirectional and zero-width characters
// and malformed UTF-8 appear as \xNN or \u{N}. Everything a message quotes goes through this.
std::string escaped(std::string_view text);

// A station's answer as a desk error of kind `refused`.
Error error_from(const Outcome& outcome, std::string file);

} // namespace cardseal
