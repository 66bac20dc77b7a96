// A template that asks for a name nobody fills shows nothing, and nothing says so: names of
// templates and code are held against each other.
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

#include "page/embedded.h"
#include "pages.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

std::set<std::string> names_in(const std::string& text, const char* pattern) {
  const std::regex name(pattern);
  std::set<std::string> out;
  for (std::sregex_iterator at(text.begin(), text.end(), name), end; at != end; ++at) {
    out.insert((*at)[1].str());
  }
  return out;
}

std::string code_of_pages() {
  std::ostringstream out;
  for (const auto& each : std::filesystem::directory_iterator(CARDSEAL_SOURCE_DIR "/lib/page")) {
    if (each.path().extension() == ".cpp") {
      out << std::ifstream(each.path()).rdbuf();
    }
  }
  return out.str();
}

std::string all_templates() {
  std::string out;
  for (const page::EmbeddedFile& file : page::embedded_files()) {
    out += file.name.ends_with(".html") ? file.text : "";
  }
  return out;
}

bool is_made_of_another(const std::string& name) { // see put_limit
  return name.ends_with("_MV") || name.ends_with("_separator");
}

} // namespace

TEST_CASE("every name of a template is filled by the code, and every name filled is asked for") {
  const std::set<std::string> filled = names_in(code_of_pages(), "\"([A-Z][A-Z0-9_]+)\"");
  const std::set<std::string> asked =
      names_in(all_templates(), "\\{\\{#?([A-Z][A-Z0-9_]+(?:_separator)?)(?::none)?\\}\\}");
  CHECK(filled.size() > 150);
  for (const std::string& name : asked) {
    INFO(name);
    CHECK((filled.contains(name) || is_made_of_another(name)));
  }
  for (const std::string& name : filled) {
    INFO(name);
    CHECK(asked.contains(name));
  }
}
