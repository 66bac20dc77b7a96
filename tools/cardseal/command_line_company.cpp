#include "command_line_company.h"

#include <algorithm>

#include <fmt/format.h>

#include "common.h"

namespace cardseal::tool {
namespace {

// Not where it is named, contradicts what is named, or needs what is not.
bool may_give(const CLI::Option& option) {
  const auto named = [](const CLI::Option* other) { return other->count() > 0; };
  const auto& others = option.get_excludes();
  const auto& needed = option.get_needs();
  return option.count() == 0 && std::none_of(others.begin(), others.end(), named) &&
         std::all_of(needed.begin(), needed.end(), named);
}

// Adds the option, and what was added to `given`.
void give(CLI::App& app, const char* name, const std::string& value, std::string& given) {
  CLI::Option* option = app.get_option_no_throw(name);
  if (value.empty() || option == nullptr || !may_give(*option)) {
    return;
  }
  option->add_result(value);
  given += fmt::format(" {} {}", name, value);
}

std::string sign_off_key(const Company& company, const CLI::App& sign) {
  const CLI::Option* role = sign.get_option("--role");
  const std::string word = role->count() == 1 ? role->results().front() : "";
  const auto* at = std::find(key_use_words.begin(), key_use_words.end(), word);
  const bool signs_off = word == "release" || word == "quality" || word == "engineering";
  return signs_off ? company.keys[static_cast<std::size_t>(at - key_use_words.begin())] : "";
}

// The key that this command signs with.
std::string key_for(const Company& company, const CLI::App& app) {
  const std::string& above = app.get_parent()->get_name();
  const std::string& name = app.get_name();
  if (above == "lot") {
    return company.key(name == "cards" ? KeyUse::allot : KeyUse::quality);
  }
  if (above == "card" && name == "make") {
    return company.key(KeyUse::allot);
  }
  if (above == "trust" && name == "stop") {
    const std::string& own = company.key(KeyUse::withdraw);
    return own.empty() ? company.key(KeyUse::quality) : own;
  }
  if (above == "trust" && name == "sign") {
    return company.key(KeyUse::root);
  }
  return above == "cardseal" && name == "sign" ? sign_off_key(company, app) : "";
}

void apply_to(const Company& company, CLI::App& app, std::string& given) {
  for (CLI::App* sub : app.get_subcommands()) { // those that were chosen
    give(*sub, "--root", company.root, given);
    give(*sub, "--trust", company.trust, given);
    give(*sub, "--register", company.registered, given);
    give(*sub, "--archive", company.archive, given);
    give(*sub, "--key", key_for(company, *sub), given);
    apply_to(company, *sub, given);
  }
}

} // namespace

void apply(const Company& company, CLI::App& app) {
  std::string given;
  apply_to(company, app, given);
  if (!given.empty()) {
    note(fmt::format("{} gives{}", company.file, given));
  }
}

} // namespace cardseal::tool
