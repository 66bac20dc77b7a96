#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "templates.h"

namespace cardseal::tool {
namespace {

Try<void> make_folder(const io::Path& path) {
  if (io::Sys<void> made = io::real_system().make_folder(path); !made) {
    return Unexpected(io::error_from(made.error(), path, "create"));
  }
  return {};
}

Try<void> fill_folder(const io::Path& folder) {
  for (const char* inner : {"", "profiles", "firmware"}) {
    TRY_VOID(make_folder(*inner == '\0' ? folder : folder / inner));
  }
  for (const Template& each : author_templates()) {
    TRY_VOID(io::write_file(io::real_system(), folder / each.path, bytes_of(each.content),
                            io::IfExists::refuse));
  }
  return {};
}

} // namespace

// Built beside its place and renamed, so that a half-made folder is never taken for a whole one.
Ran run_new(const NewOptions& options) {
  io::System& system = io::real_system();
  const io::Path folder(options.folder);
  io::Path draft = folder;
  draft += ".part";
  Try<void> made = fill_folder(draft);
  if (made) {
    if (io::Sys<void> placed = system.rename(draft, folder, false); !placed) {
      made = Unexpected(io::error_from(placed.error(), folder, "create"));
    }
  }
  if (!made) {
    std::error_code ignored;
    std::filesystem::remove_all(draft, ignored);
    return Unexpected(std::move(made).error());
  }
  say(fmt::format("release folder  {}", options.folder));
  for (const Template& each : author_templates()) {
    say(fmt::format("  {}", each.path));
  }
  note(fmt::format("next: put your firmware into {0}/firmware, fill in the four files, then "
                   "cardseal check {0}/release.xml",
                   options.folder));
  return 0;
}

} // namespace cardseal::tool
