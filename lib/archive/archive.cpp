#include "archive/archive.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "archive/item_text.h"
#include "base/number.h"
#include "io/clock.h"

namespace cardseal::archive {
namespace {

constexpr std::string_view mark = "cardseal-archive 1\n";
constexpr std::uint64_t largest_object = 0x7FFF'FFFF;
constexpr std::size_t largest_item = 65'536;

Error fault(const char* code, ErrorKind kind, std::string what, const io::Path& file,
            std::string hint) {
  Error error;
  error.kind = kind;
  error.code = code;
  error.what = std::move(what);
  error.place.file = file.string();
  error.hint = std::move(hint);
  return error;
}

Try<void> make_folder(io::System& system, const io::Path& path) {
  if (io::Sys<void> made = system.make_folder(path); !made) {
    return Unexpected(io::error_from(made.error(), path, "create"));
  }
  return {};
}

std::string time_now() {
  char out[utc_length];
  return {out, spell_utc(io::now(), out)};
}

// The name of a path that parts may have.
std::string plain_name(const std::string& path) {
  return io::Path(path).filename().string();
}

std::string source_name(const std::vector<Source>& sources) {
  return sources.empty() ? std::string() : sources.front().name;
}

} // namespace

Try<Archive> Archive::create(io::System& system, const io::Path& folder) {
  Try<void> step = make_folder(system, folder);
  for (const char* inner : {"objects", "items"}) {
    step = step ? make_folder(system, folder / inner) : std::move(step);
  }
  // Last, since a folder is an archive by it.
  step = step ? io::write_file(system, folder / "archive.txt", bytes_of(mark), io::IfExists::refuse)
              : std::move(step);
  return step ? Try<Archive>(Archive(system, folder)) : Unexpected(std::move(step).error());
}

Try<Archive> Archive::open(io::System& system, const io::Path& folder) {
  const Try<io::Bytes> text = io::read_file(system, folder / "archive.txt", mark.size() + 1);
  if (!text || text_of(ByteView(*text)) != mark) {
    return Unexpected(fault("archive-none", ErrorKind::no_input, "there is no archive here", folder,
                            "cardseal archive new makes one"));
  }
  return Archive(system, folder);
}

io::Path Archive::object_path(const crypto::Digest& digest) const {
  const std::string name = crypto::hex(digest);
  return folder_ / "objects" / name.substr(0, 2) / name;
}

io::Path Archive::item_path(const crypto::Digest& digest) const {
  return folder_ / "items" / fmt::format("{}.txt", crypto::hex(digest));
}

Try<io::Bytes> Archive::object(const crypto::Digest& digest) const {
  const io::Path path = object_path(digest);
  Try<io::Bytes> bytes = io::read_file(*system_, path, largest_object);
  if (bytes && crypto::sha256(*bytes) != digest) {
    return Unexpected(fault("archive-object", ErrorKind::bad_data,
                            "these bytes are not what they were when they were kept", path,
                            "take the item from another copy of the archive"));
  }
  return bytes;
}

Try<void> Archive::put_object(const crypto::Digest& digest, ByteView bytes) {
  const io::Path path = object_path(digest);
  if (const Try<io::Bytes> there = object(digest)) {
    return {};
  }
  if (!system_->stat(path.parent_path())) {
    if (Try<void> made = make_folder(*system_, path.parent_path()); !made) {
      return made;
    }
  }
  // One that was spoilt is made good again.
  return io::write_file(*system_, path, bytes, io::IfExists::replace);
}

Try<void> Archive::put_item(const Item& item) {
  return io::write_file(*system_, item_path(item.id()), bytes_of(spell(item)),
                        io::IfExists::refuse);
}

Try<Archive::Added> Archive::add(Kind kind, const std::string& title,
                                 const std::vector<Source>& sources) {
  Item item;
  item.kind = kind;
  item.title = title;
  item.time = time_now();
  std::vector<io::Bytes> kept;
  for (const Source& source : sources) {
    Part part;
    part.name = plain_name(source.name);
    if (std::any_of(item.parts.begin(), item.parts.end(),
                    [&](const Part& other) { return other.name == part.name; })) {
      return Unexpected(fault("archive-names", ErrorKind::usage,
                              "two files that belong together have one name", source.name,
                              "rename one of them"));
    }
    Try<io::Bytes> bytes(source.bytes);
    part.size = source.bytes.size();
    if (source.image) {
      const Try<io::ReadFile> file = io::ReadFile::open(*system_, *source.image);
      bytes = file ? without_holes(*file) : Unexpected(file.error());
      part.size = file ? file->size() : 0;
      part.sparse = true;
    }
    if (!bytes) {
      return Unexpected(std::move(bytes).error());
    }
    part.digest = crypto::sha256(*bytes);
    item.parts.push_back(std::move(part));
    kept.push_back(std::move(*bytes));
  }
  if (const Try<Item> again = parse(spell(item), source_name(sources)); !again) {
    return Unexpected(fault("archive-names", ErrorKind::usage,
                            "an archive can't keep a file of that name", source_name(sources),
                            "a name without line ends and '\\' that begins with no dot, up to 200 "
                            "characters: rename it"));
  }
  if (system_->stat(item_path(item.id()))) {
    Try<Item> there = find(crypto::hex(item.id()));
    // Its parts are put again: one that was spoilt is made good.
    Try<void> mended;
    for (std::size_t i = 0; there && mended && i < kept.size(); ++i) {
      mended = put_object(item.parts[i].digest, kept[i]);
    }
    if (!mended) {
      return Unexpected(std::move(mended).error());
    }
    return there ? Try<Added>(Added{std::move(*there), false})
                 : Unexpected(std::move(there).error());
  }
  Try<void> step;
  for (std::size_t i = 0; step && i < kept.size(); ++i) {
    step = put_object(item.parts[i].digest, kept[i]);
  }
  step = step ? put_item(item) : std::move(step);
  return step ? Try<Added>(Added{std::move(item), true}) : Unexpected(std::move(step).error());
}

Try<std::vector<io::Path>> Archive::item_files() const {
  std::vector<io::Path> files;
  std::error_code code;
  for (const auto& entry : std::filesystem::directory_iterator(folder_ / "items", code)) {
    if (entry.path().extension() == ".txt") {
      files.push_back(entry.path());
    }
  }
  if (code) {
    return Unexpected(io::error_from({code.value()}, folder_ / "items", "read"));
  }
  std::sort(files.begin(), files.end());
  return files;
}

Try<std::vector<Item>> Archive::items() const {
  const Try<std::vector<io::Path>> files = item_files();
  if (!files) {
    return Unexpected(files.error());
  }
  std::vector<Item> items;
  for (const io::Path& file : *files) {
    const Try<io::Bytes> text = io::read_file(*system_, file, largest_item);
    Try<Item> item = text ? parse(text_of(ByteView(*text)), file) : Unexpected(text.error());
    if (!item) {
      return Unexpected(std::move(item).error());
    }
    items.push_back(std::move(*item));
  }
  std::stable_sort(items.begin(), items.end(), [](const Item& one, const Item& other) {
    return std::tie(one.kind, one.title) < std::tie(other.kind, other.title);
  });
  return items;
}

Try<Item> Archive::find(const std::string& digits) const {
  const std::string_view hex =
      std::string_view(digits).starts_with("sha256:") ? slice(digits, 7, 64) : digits;
  const Try<std::vector<io::Path>> files = item_files();
  if (!files) {
    return Unexpected(files.error());
  }
  std::vector<io::Path> found;
  for (const io::Path& file : *files) {
    if (hex.size() >= 8 && file.stem().string().starts_with(hex)) {
      found.push_back(file);
    }
  }
  if (found.size() != 1) {
    Error error = fault("archive-missing", ErrorKind::no_input,
                        found.empty() ? "no item of this archive begins so"
                                      : "several items of this archive begin so",
                        folder_, "cardseal archive list shows them");
    error.found = digits;
    error.expected = "at least 8 digits of one item's digest";
    return Unexpected(std::move(error));
  }
  const Try<io::Bytes> text = io::read_file(*system_, found[0], largest_item);
  return text ? parse(text_of(ByteView(*text)), found[0]) : Unexpected(text.error());
}

Try<void> Archive::take_out(const Item& item, const io::Path& folder) const {
  std::vector<io::Bytes> parts;
  for (const Part& part : item.parts) { // all are sound before the folder is made
    Try<io::Bytes> bytes = object(part.digest);
    if (!bytes) {
      return Unexpected(std::move(bytes).error());
    }
    parts.push_back(std::move(*bytes));
  }
  Try<void> step = make_folder(*system_, folder);
  for (std::size_t i = 0; step && i < parts.size(); ++i) {
    const Part& part = item.parts[i];
    if (!part.sparse) {
      step = io::write_file(*system_, folder / part.name, parts[i], io::IfExists::refuse);
      continue;
    }
    Try<io::NewFile> file = io::NewFile::create(*system_, folder / part.name, io::IfExists::refuse);
    step = file ? with_holes(parts[i], *file, object_path(part.digest)) : Unexpected(file.error());
    step = step ? file->commit() : std::move(step);
  }
  return step;
}

Try<std::vector<std::string>> Archive::scrub(std::uint64_t& objects) const {
  objects = 0;
  const Try<std::vector<io::Path>> files = item_files();
  if (!files) {
    return Unexpected(files.error());
  }
  std::vector<std::string> problems;
  std::set<crypto::Digest> looked_at;
  for (const io::Path& file : *files) {
    const Try<io::Bytes> text = io::read_file(*system_, file, largest_item);
    const Try<Item> item = text ? parse(text_of(ByteView(*text)), file) : Unexpected(text.error());
    if (!item) {
      problems.push_back(describe(item.error()));
      continue;
    }
    if (file.stem().string() != crypto::hex(item->id())) {
      problems.push_back(fmt::format("{}: not named by its first part", file.string()));
    }
    for (const Part& part : item->parts) {
      if (!looked_at.insert(part.digest).second) {
        continue;
      }
      ++objects;
      if (const Try<io::Bytes> bytes = object(part.digest); !bytes) {
        problems.push_back(
            fmt::format("{} of {}: {}", part.name, item->title, describe(bytes.error())));
      }
    }
  }
  return problems;
}

Try<bool> Archive::copy_to(Archive& other, const Item& item) const {
  for (const Part& part : item.parts) { // also of an item that is there: its parts may be spoilt
    const Try<io::Bytes> bytes = object(part.digest);
    Try<void> step = bytes ? other.put_object(part.digest, *bytes) : Unexpected(bytes.error());
    if (!step) {
      return Unexpected(std::move(step).error());
    }
  }
  if (other.system_->stat(other.item_path(item.id()))) {
    return false;
  }
  Try<void> step = other.put_item(item);
  return step ? Try<bool>(true) : Unexpected(std::move(step).error());
}

} // namespace cardseal::archive
