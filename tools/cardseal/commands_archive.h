// What the subcommands of `archive` are asked for.
#pragma once

#include <string>
#include <vector>

#include "commands.h"

namespace cardseal::tool {

struct ArchiveNewOptions {
  std::string folder;
};
Ran run_archive_new(const ArchiveNewOptions& options);

struct ArchiveAddOptions {
  std::vector<std::string> files;
  std::string archive;
  std::string root;
  std::string trust;
};
Ran run_archive_add(const ArchiveAddOptions& options);

struct ArchiveListOptions {
  std::string archive;
  bool json = false;
};
Ran run_archive_list(const ArchiveListOptions& options);
Ran run_archive_scrub(const ArchiveListOptions& options);

struct ArchiveGetOptions {
  std::string item; // its digest, or its first digits
  std::string archive;
  std::string output; // a new folder
};
Ran run_archive_get(const ArchiveGetOptions& options);

struct ArchiveCopyOptions {
  std::string archive;
  std::string other;              // for export: made when it is not there
  std::vector<std::string> items; // none: all
};
Ran run_archive_export(const ArchiveCopyOptions& options);
Ran run_archive_import(const ArchiveCopyOptions& options);

} // namespace cardseal::tool
