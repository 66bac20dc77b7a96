#include "wrapped.h"

#include <algorithm>
#include <cstdlib>

#include <sys/ioctl.h>
#include <unistd.h>

#include "base/number.h"

namespace cardseal::tool {
namespace {

constexpr std::size_t least_width = 40;
constexpr std::size_t usual_width = 80;
constexpr std::size_t most_width = 10'000;
constexpr std::size_t far_left = 4; // where a word goes that its column has no room for

std::size_t indent_of(std::string_view line) {
  return std::min(line.find_first_not_of(' '), line.size());
}

// Behind the first run of blanks within the line: names and values of `show` stand in columns.
std::size_t value_column(std::string_view line, std::size_t width) {
  const std::size_t indent = indent_of(line);
  const std::size_t gap = line.find("  ", indent);
  const std::size_t value = gap == std::string_view::npos ? gap : line.find_first_not_of(' ', gap);
  return value == std::string_view::npos || value > width / 2 ? indent + 4 : value;
}

std::string_view without_blanks(std::string_view text) {
  text.remove_prefix(std::min(text.find_first_not_of(' '), text.size()));
  const std::size_t last = text.find_last_not_of(' ');
  return text.substr(0, last == std::string_view::npos ? 0 : last + 1);
}

// Where a piece of at most `room` bytes ends; a first word that has no room at all stays whole.
std::size_t piece_of(std::string_view rest, std::size_t room) {
  if (rest.size() <= room) {
    return rest.size();
  }
  const std::size_t start = indent_of(rest);
  const std::size_t blank = rest.rfind(' ', room);
  return blank == std::string_view::npos || blank <= start
             ? std::min(rest.find(' ', start), rest.size())
             : blank;
}

void put_wrapped(std::string& out, std::string_view line, std::size_t width) {
  const std::size_t column = value_column(line, width);
  std::size_t end = piece_of(line, width);
  out += line.substr(0, line.find_last_not_of(' ', end == 0 ? 0 : end - 1) + 1);
  out += '\n';
  std::string_view rest = without_blanks(line.substr(end));
  while (!rest.empty()) {
    const std::size_t word = std::min(rest.find(' '), rest.size());
    // A word too wide for its column moves to the left before it runs past the edge.
    const std::size_t indent = column + word <= width ? column : std::min(column, far_left);
    end = piece_of(rest, width - indent);
    out += std::string(indent, ' ');
    out += without_blanks(rest.substr(0, end));
    out += '\n';
    rest = without_blanks(rest.substr(end));
  }
}

} // namespace

std::size_t terminal_width() {
  std::uint64_t columns = 0;
  const char* const said = std::getenv("COLUMNS");
  winsize size{};
  if (said != nullptr && parse_uint(said, columns) && columns != 0) {
    return std::clamp<std::size_t>(columns, least_width, most_width);
  }
  if (isatty(STDOUT_FILENO) == 1 && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 &&
      size.ws_col != 0) {
    return std::max<std::size_t>(size.ws_col, least_width);
  }
  return usual_width;
}

std::string wrapped(std::string_view text, std::size_t width) {
  std::string out;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    const std::string_view line = text.substr(0, end);
    if (line.size() <= width) {
      out += line;
      out += '\n';
    } else {
      put_wrapped(out, line, width);
    }
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  }
  return out;
}

} // namespace cardseal::tool
