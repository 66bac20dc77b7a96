#include "page/words.h"

#include <map>

#include "page/embedded.h"

namespace cardseal::page {
namespace {

using Words = std::map<std::string, std::string, std::less<>>;

void put_line(Words& words, std::string_view line) {
  const std::size_t end = line.find(' ');
  if (line.empty() || line[0] == '#' || end == std::string_view::npos) {
    return;
  }
  const std::size_t from = line.find_first_not_of(' ', end);
  words.emplace(line.substr(0, end), line.substr(from));
}

Words read_words() {
  Words words;
  std::string_view text = embedded("words.txt");
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    put_line(words, text.substr(0, end));
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  }
  return words;
}

} // namespace

std::string words_of(std::string_view group, std::string_view value) {
  static const Words words = read_words();
  std::string key(group);
  key += '.';
  key += value;
  const auto found = words.find(key);
  return found == words.end() ? std::string(value) : found->second;
}

} // namespace cardseal::page
