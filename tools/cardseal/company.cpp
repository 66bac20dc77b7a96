#include "company.h"

#include "xml/element.h"

namespace cardseal::tool {
namespace {

std::string seen_from_here(const std::string& company, const std::string& file) {
  return (io::Path(company).parent_path() / file).lexically_normal().string();
}

std::string file_of(const xml::Element& element, const std::string& company) {
  const std::string file = element.text("file", 1, 1000);
  return element.sound() ? seen_from_here(company, file) : std::string();
}

void read_key(const xml::Element& element, Company& company) {
  const KeyUse use = element.choice<KeyUse>("role", key_use_words);
  std::string& key = company.keys[static_cast<std::size_t>(use)];
  if (element.sound() && !key.empty()) {
    element.refuse("role", "two keys of one role", std::string(element.raw("role")),
                   "one key a role", "name the key that this desk signs with");
  }
  key = file_of(element, company.file);
}

} // namespace

xml::All<Company> read_company(io::System& system, const io::Path& file) {
  Try<xml::Document> document = xml::Document::read(system, file);
  if (!document) {
    return Unexpected(xml::Errors{std::move(document).error()});
  }
  xml::Reader reader(*document);
  const xml::Element root = reader.root("company");
  (void)root.uint("schema", 1, 1);
  Company company;
  company.file = file.string();
  company.root = file_of(root.one("root"), company.file);
  if (const xml::Element trust = root.maybe("trust")) {
    company.trust = file_of(trust, company.file);
  }
  if (const xml::Element registered = root.maybe("register")) {
    company.registered = file_of(registered, company.file);
  }
  if (const xml::Element archive = root.maybe("archive")) {
    company.archive = seen_from_here(company.file, archive.text("folder", 1, 1000));
  }
  for (const xml::Element& key : root.many("key", 0, key_use_words.size())) {
    read_key(key, company);
  }
  return reader.result(std::move(company));
}

} // namespace cardseal::tool
