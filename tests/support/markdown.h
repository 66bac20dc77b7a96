// The tables and fenced examples of a page of the source tree, so that a test holds the page to
// what the code does.
#pragma once

#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "support/catch.h"
#include "support/hex.h"

namespace cardseal::test {

using TableRow = std::vector<std::string>; // one cell a column
using Table = std::vector<TableRow>;       // without head and rule

class Markdown {
public:
  explicit Markdown(const std::string& path_in_tree) {
    std::ifstream file(std::string(CARDSEAL_SOURCE_DIR) + "/" + path_in_tree);
    REQUIRE(file.good());
    for (std::string line; std::getline(file, line);) {
      lines_.push_back(line);
    }
  }

  // The tables between this heading line ("## Kind `root`") and the next heading.
  std::vector<Table> tables(const std::string& heading) const {
    std::vector<Table> out;
    bool inside = false;
    for (std::size_t i = find(heading) + 1; i < lines_.size() && !is_heading(lines_[i]); ++i) {
      const bool row = lines_[i].rfind("| ", 0) == 0;
      if (row && !inside) {
        out.emplace_back();
        ++i; // the rule below the head
      } else if (row) {
        out.back().push_back(cells(lines_[i]));
      }
      inside = row;
    }
    return out;
  }

  // The body of the fenced block whose info string is "<language> <name>", each line with its feed.
  std::string example(const std::string& language, const std::string& name) const {
    std::string out;
    for (std::size_t i = find("```" + language + " " + name) + 1; lines_.at(i) != "```"; ++i) {
      out += lines_[i];
      out += '\n';
    }
    return out;
  }

  std::vector<std::uint8_t> hex_example(const std::string& name) const {
    std::string digits = example("hex", name);
    std::erase(digits, '\n');
    return unhex(digits);
  }

private:
  static bool is_heading(const std::string& line) { return line.rfind('#', 0) == 0; }

  static TableRow cells(const std::string& line) {
    TableRow out;
    std::istringstream rest(line.substr(2));
    for (std::string cell; std::getline(rest, cell, '|');) {
      const std::size_t first = cell.find_first_not_of(' ');
      const std::size_t last = cell.find_last_not_of(' ');
      out.push_back(first == std::string::npos ? "" : cell.substr(first, last - first + 1));
    }
    return out;
  }

  std::size_t find(const std::string& line) const {
    for (std::size_t i = 0; i < lines_.size(); ++i) {
      if (lines_[i] == line) {
        return i;
      }
    }
    FAIL("the page has no line: " << line);
    return 0;
  }

  std::vector<std::string> lines_;
};

// A cell without its back quotes.
inline std::string plain(std::string cell) {
  std::erase(cell, '`');
  return cell;
}

} // namespace cardseal::test
