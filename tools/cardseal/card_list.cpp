#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "fat32/reader.h"
#include "view/json.h"

namespace cardseal::tool {

Ran run_card_list(const CardListOptions& options) {
  TRY(file, io::ReadFile::open(io::real_system(), options.card));
  fat32::FileSource source(file);
  Try<fat32::Volume> opened = fat32::Volume::open(source);
  if (!opened && opened.error().kind == ErrorKind::refused) {
    opened.error().kind = ErrorKind::bad_data; // listing judges nothing
  }
  TRY(volume, opened);
  if (options.json) {
    say(view::json_of_volume(volume));
    return 0;
  }
  const fat32::FoundShape& shape = volume.shape();
  say(fmt::format("{}  FAT32, {} sectors, {} clusters of {} bytes, {}", escaped(options.card),
                  shape.total_sectors, shape.cluster_count, shape.cluster_bytes(),
                  shape.partitioned ? fmt::format("partition at sector {}", shape.partition_lba)
                                    : std::string("no partition table")));
  for (const fat32::Entry& entry : volume.entries()) {
    say(fmt::format("  {:<24} {:>10}  {}", escaped(entry.path) + (entry.folder ? "/" : ""),
                    entry.folder ? std::string() : fmt::format("{}", entry.size),
                    words(entry.written)));
  }
  note("listed as it stands; nothing was verified (cardseal card verify does)");
  return 0;
}

} // namespace cardseal::tool
