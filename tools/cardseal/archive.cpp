// An archive: made, listed, read through, taken from, copied.
#include "archive/archive.h"

#include <fmt/format.h>

#include "commands_archive.h"
#include "common.h"
#include "crypto/sha256.h"
#include "view/archive_json.h"

namespace cardseal::tool {
namespace {

using archive::Archive;
using archive::Item;

Try<std::vector<Item>> chosen(const Archive& from, const std::vector<std::string>& names) {
  if (names.empty()) {
    return from.items();
  }
  std::vector<Item> items;
  for (const std::string& name : names) {
    TRY(item, from.find(name));
    items.push_back(std::move(item));
  }
  return items;
}

Ran copy(const Archive& from, Archive& to, const std::vector<std::string>& names) {
  TRY(items, chosen(from, names));
  std::size_t copied = 0;
  for (const Item& item : items) {
    TRY(fresh, from.copy_to(to, item));
    copied += fresh ? 1U : 0U;
  }
  say(fmt::format("copied  {} items, each part checked by its digest; {} were there already",
                  copied, items.size() - copied));
  return 0;
}

} // namespace

Ran run_archive_new(const ArchiveNewOptions& options) {
  TRY(made, Archive::create(io::real_system(), options.folder));
  (void)made;
  say(fmt::format("archive  {}", options.folder));
  note("keep a copy of it elsewhere (cardseal archive export), and read both through at times "
       "(cardseal archive scrub)");
  return 0;
}

Ran run_archive_list(const ArchiveListOptions& options) {
  TRY(opened, Archive::open(io::real_system(), options.archive));
  TRY(items, opened.items());
  if (options.json) {
    say(view::json_of(items));
    return 0;
  }
  for (const Item& item : items) {
    say(fmt::format("{}  {:<9}  {}  {} (claimed)", crypto::hex(item.id()).substr(0, 16),
                    archive::kind_words[static_cast<std::size_t>(item.kind)], escaped(item.title),
                    escaped(item.time)));
  }
  return 0;
}

Ran run_archive_scrub(const ArchiveListOptions& options) {
  TRY(opened, Archive::open(io::real_system(), options.archive));
  std::uint64_t objects = 0;
  TRY(problems, opened.scrub(objects));
  if (options.json) {
    say(view::json_of_scrub(objects, problems));
    return problems.empty() ? 0 : 1;
  }
  for (const std::string& problem : problems) {
    say(escaped(problem));
  }
  say(fmt::format("{}    {} files read and held against their digests, {} problems",
                  problems.empty() ? "good" : "FAULT", objects, problems.size()));
  return problems.empty() ? 0 : 1;
}

Ran run_archive_get(const ArchiveGetOptions& options) {
  TRY(opened, Archive::open(io::real_system(), options.archive));
  TRY(item, opened.find(options.item));
  TRY_VOID(opened.take_out(item, options.output));
  for (const archive::Part& part : item.parts) {
    say(fmt::format("{}", (io::Path(options.output) / part.name).string()));
  }
  return 0;
}

Ran run_archive_export(const ArchiveCopyOptions& options) {
  TRY(from, Archive::open(io::real_system(), options.archive));
  if (!io::real_system().stat(options.other)) {
    TRY(made, Archive::create(io::real_system(), options.other));
    return copy(from, made, options.items);
  }
  TRY(to, Archive::open(io::real_system(), options.other));
  return copy(from, to, options.items);
}

Ran run_archive_import(const ArchiveCopyOptions& options) {
  TRY(to, Archive::open(io::real_system(), options.archive));
  TRY(from, Archive::open(io::real_system(), options.other));
  return copy(from, to, options.items);
}

} // namespace cardseal::tool
