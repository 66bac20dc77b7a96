#include "card_outputs.h"

#include <filesystem>

#include "card/evidence.h"
#include "register/head_file.h"

namespace cardseal::tool {
namespace {

Error wrong_output(ErrorKind kind, const char* code, std::string what, const std::string& file,
                   std::string hint) {
  return at(error_of(kind, code, std::move(what), "", "", std::move(hint)), file);
}

} // namespace

bool is_same_file(const io::Path& one, const io::Path& other) {
  std::error_code ignored;
  return std::filesystem::weakly_canonical(one, ignored) ==
         std::filesystem::weakly_canonical(other, ignored);
}

Try<void> check_output(io::System& system, const std::string& file,
                       const std::string& registered_file, bool force) {
  if (file == "-") {
    return Unexpected(usage_error("a card image is no text to be printed", file, "a file's name"));
  }
  const io::Path registered(registered_file);
  for (const io::Path& own :
       {registered, card::newest_path(registered), registry::head_path(registered)}) {
    if (is_same_file(file, own)) {
      return Unexpected(wrong_output(ErrorKind::usage, "output-is-register",
                                     "this output is the register itself, or stands for it", file,
                                     "name another file"));
    }
  }
  if (!force && system.stat(file)) {
    return Unexpected(wrong_output(ErrorKind::no_create, "output-exists",
                                   "this output is there already", file,
                                   "name another, or replace it with --force"));
  }
  const io::Path folder = io::Path(file).has_parent_path() ? io::Path(file).parent_path() : ".";
  if (!std::filesystem::is_directory(folder)) {
    return Unexpected(wrong_output(ErrorKind::no_create, "no-folder",
                                   "the folder for this output is not there", file,
                                   "make the folder, or name another"));
  }
  return {};
}

void note_results(format::StationReads reads) {
  if (reads == format::StationReads::signed_no_log) {
    note("the station of this card writes no log: enrol it so (station-check --enrol ... "
         "--no-log); two "
         "people count, and the tally is entered with cardseal reconcile --tally");
  }
}

} // namespace cardseal::tool
