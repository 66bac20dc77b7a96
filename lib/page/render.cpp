#include "page/render.h"

#include <cstdlib>
#include <set>

#include <ctemplate/template.h>
#include <ctemplate/template_cache.h>
#include <ctemplate/template_dictionary.h>

#include "page/embedded.h"

namespace cardseal::page {
namespace {

constexpr std::string_view part_start = "{{>";
constexpr std::string_view part_end = "}}";

// Parts are joined as text, so that escaping sees the whole page and knows where each value stands.
std::string with_parts(std::string_view name) {
  const std::string_view text = embedded(name);
  std::string out;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t start = text.find(part_start, at);
    out += text.substr(at, start - at);
    if (start == std::string_view::npos) {
      break;
    }
    const std::size_t from = start + part_start.size();
    const std::size_t end = text.find(part_end, from);
    out += with_parts(text.substr(from, end - from));
    at = end + part_end.size();
  }
  return out;
}

void fill(ctemplate::TemplateDictionary& dictionary, const Fields& fields) {
  for (const auto& [name, value] : fields.values()) {
    dictionary.SetValue(name, value);
  }
  for (const auto& [name, rows] : fields.sections()) {
    for (const Fields& row : rows) {
      fill(*dictionary.AddSectionDictionary(name), row);
    }
  }
}

// Parsed once. A template that is built in and can't be read is our mistake.
ctemplate::TemplateCache& parsed(const std::string& name) {
  static ctemplate::TemplateCache cache;
  static std::set<std::string> names;
  if (names.insert(name).second &&
      !cache.StringToTemplateCache(name, with_parts(name), ctemplate::STRIP_BLANK_LINES)) {
    std::abort();
  }
  return cache;
}

} // namespace

std::string_view embedded(std::string_view name) {
  for (const EmbeddedFile& file : embedded_files()) {
    if (file.name == name) {
      return file.text;
    }
  }
  return {};
}

std::string render(std::string_view name, const Fields& fields) {
  const std::string key(name);
  ctemplate::TemplateDictionary dictionary(key);
  fill(dictionary, fields);
  dictionary.SetValue("STYLE", std::string(embedded("style.css"))); // ours, so not escaped there
  std::string out;
  ctemplate::StringEmitter emitter(&out);
  if (!parsed(key).ExpandWithData(key, ctemplate::STRIP_BLANK_LINES, &dictionary, nullptr,
                                  &emitter)) {
    std::abort();
  }
  return out;
}

} // namespace cardseal::page
