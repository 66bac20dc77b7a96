// Words and templates fit the code: every sealed word has words, and nothing that a template asks
// for stays open.
#include <set>

#include "format/card_texts.h"
#include "format/facts.h"
#include "page/embedded.h"
#include "page/words.h"
#include "pages.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

template <std::size_t N>
void check_group(std::string_view group, const std::array<std::string_view, N>& sealed) {
  const std::string all(page::embedded("words.txt"));
  for (const std::string_view word : sealed) {
    INFO(group << "." << word);
    CHECK(all.find(fmt::format("\n{}.{} ", group, word)) != std::string::npos);
  }
}

} // namespace

TEST_CASE("every word of a sealed text has words for a page") {
  check_group("role", format::role_words);
  check_group("level", format::level_words);
  check_group("erase", format::erase_words);
  check_group("verify", format::verify_words);
  check_group("lock", format::lock_words);
  check_group("blank", format::yes_no_words);
  check_group("plain", format::yes_no_words);
  check_group("configuration", format::configuration_words);
  check_group("firmware", format::firmware_format_words);
  check_group("reads", format::station_reads_words);
  check_group("partition", format::partition_words);
  check_group("form", format::plain_form_words);
  check_group("line-end", format::line_end_words);
  check_group("phase", format::supply_phase_words);
  check_group("standing", format::standing_words);
  check_group("part", format::part_kind_words);
  check_group("check", format::check_kind_words);
  check_group("encoding", format::encoding_words);
  check_group("order", format::byte_order_words);
  check_group("before", format::before_words);
  check_group("class", format::work_class_words);
  check_group("source", format::supply_source_words);
}

TEST_CASE("no two sealed words of a group read alike on a page") {
  std::set<std::pair<std::string, std::string>> told;
  std::string_view text = page::embedded("words.txt");
  while (!text.empty()) {
    const std::string line(text.substr(0, text.find('\n')));
    text.remove_prefix(std::min(text.size(), line.size() + 1));
    const std::size_t dot = line.find('.');
    if (line.empty() || line[0] == '#' || line.starts_with("floor.")) {
      continue; // several advices are one to the floor
    }
    INFO(line);
    CHECK(
        told.emplace(line.substr(0, dot), line.substr(line.find_first_not_of(' ', line.find(' '))))
            .second);
  }
}

TEST_CASE("what is not known by any words stands as it is sealed") {
  CHECK(page::words_of("verify", "later") == "later");
  CHECK(page::words_of("verify", "none") == "off: nothing is read back");
}

TEST_CASE("every part that a template names is there, and no page holds a mark of a template") {
  for (const page::EmbeddedFile& file : page::embedded_files()) {
    static const std::regex part("\\{\\{>([a-z-]+\\.html)\\}\\}");
    const std::string text(file.text);
    for (std::sregex_iterator at(text.begin(), text.end(), part), end; at != end; ++at) {
      INFO(file.name << " names " << (*at)[1].str());
      CHECK(!page::embedded((*at)[1].str()).empty());
    }
  }
  const package::Package package = example_package();
  CHECK(page::review_page({package}).find("{{") == std::string::npos);
}
