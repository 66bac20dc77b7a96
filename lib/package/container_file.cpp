#include "package/container_file.h"

#include <algorithm>
#include <archive.h>
#include <archive_entry.h>
#include <functional>
#include <memory>

#include <fmt/format.h>

#include "format/container.h"

namespace cardseal::package {
namespace {

using Writer = std::unique_ptr<archive, decltype(&archive_write_free)>;
using Reader = std::unique_ptr<archive, decltype(&archive_read_free)>;
using Header = std::unique_ptr<archive_entry, decltype(&archive_entry_free)>;

Error library_error(archive* handle, const char* doing) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "container";
  error.what = fmt::format("{} the container failed", doing);
  const char* text = archive_error_string(handle);
  error.found = text == nullptr ? "no reason given" : text;
  error.hint = "get the file again from the person who sent it";
  return error;
}

// Where a container's bytes go.
using Take = std::function<void(ByteView)>;

la_ssize_t hand_over(archive*, void* context, const void* buffer, std::size_t size) {
  (*static_cast<const Take*>(context))({static_cast<const std::uint8_t*>(buffer), size});
  return static_cast<la_ssize_t>(size);
}

class Out {
public:
  explicit Out(Take take)
      : take_(std::move(take)), writer_(archive_write_new(), archive_write_free) {}
  Out(const Out&) = delete; // libarchive has the address of `take_`
  Out& operator=(const Out&) = delete;

  bool open() {
    archive_write_set_format_ustar(writer_.get());
    archive_write_set_bytes_per_block(writer_.get(), static_cast<int>(format::tar_block));
    archive_write_set_bytes_in_last_block(writer_.get(), 1);
    return archive_write_open(writer_.get(), &take_, nullptr, hand_over, nullptr) == ARCHIVE_OK;
  }
  bool start(const char* name, la_int64_t size) {
    const Header header(archive_entry_new(), archive_entry_free);
    archive_entry_set_pathname(header.get(), name);
    archive_entry_set_filetype(header.get(), AE_IFREG);
    archive_entry_set_perm(header.get(), 0644);
    archive_entry_set_mtime(header.get(), 0, 0);
    archive_entry_set_size(header.get(), size);
    return archive_write_header(writer_.get(), header.get()) == ARCHIVE_OK;
  }
  bool add(ByteView bytes) {
    return archive_write_data(writer_.get(), bytes.data(), bytes.size()) ==
           static_cast<la_ssize_t>(bytes.size());
  }
  bool close() { return archive_write_close(writer_.get()) == ARCHIVE_OK; }
  Error error() const { return library_error(writer_.get(), "writing"); }

private:
  Take take_;
  Writer writer_;
};

Error not_plain(const char* name) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "container-entry";
  error.what = "an entry of the container is not a plain file";
  error.place.item = name == nullptr ? "" : name;
  error.hint = "get the file again from the person who sent it";
  return error;
}

// From libarchive's memory into libarchive's hands, block by block: nothing is kept.
Try<void> copy_entry(archive* reader, archive_entry* header, Out& out) {
  const char* name = archive_entry_pathname(header);
  if (name == nullptr || archive_entry_filetype(header) != AE_IFREG ||
      archive_entry_hardlink(header) != nullptr || archive_entry_sparse_count(header) != 0) {
    return Unexpected(not_plain(name));
  }
  if (!out.start(name, archive_entry_size(header))) {
    return Unexpected(out.error());
  }
  for (;;) {
    const void* block = nullptr;
    std::size_t size = 0;
    la_int64_t offset = 0;
    const int status = archive_read_data_block(reader, &block, &size, &offset);
    if (status == ARCHIVE_EOF) {
      return {};
    }
    if (status != ARCHIVE_OK) {
      return Unexpected(library_error(reader, "reading"));
    }
    if (!out.add({static_cast<const std::uint8_t*>(block), size})) {
      return Unexpected(out.error());
    }
  }
}

Try<void> copy_all(ByteView bytes, Out& out) {
  const Reader reader(archive_read_new(), archive_read_free);
  archive_read_support_format_tar(reader.get());
  if (archive_read_open_memory(reader.get(), bytes.data(), bytes.size()) != ARCHIVE_OK) {
    return Unexpected(library_error(reader.get(), "reading"));
  }
  if (!out.open()) {
    return Unexpected(out.error());
  }
  for (;;) {
    archive_entry* header = nullptr;
    const int status = archive_read_next_header(reader.get(), &header);
    if (status == ARCHIVE_EOF) {
      if (!out.close()) {
        return Unexpected(out.error());
      }
      return {};
    }
    if (status != ARCHIVE_OK) {
      return Unexpected(library_error(reader.get(), "reading"));
    }
    if (Try<void> copied = copy_entry(reader.get(), header, out); !copied) {
      return copied;
    }
  }
}

} // namespace

Try<io::Bytes> write_container(const std::vector<Entry>& entries) {
  io::Bytes bytes;
  std::size_t most = 2 * format::tar_block;
  for (const Entry& entry : entries) {
    most += entry.content.size() + 2 * format::tar_block;
  }
  bytes.reserve(most); // nothing may be thrown through libarchive
  Out out([&bytes](ByteView more) { bytes.insert(bytes.end(), more.begin(), more.end()); });
  bool good = out.open();
  for (const Entry& entry : entries) {
    good = good && out.start(entry.name.c_str(), static_cast<la_int64_t>(entry.content.size())) &&
           out.add(entry.content);
  }
  return good && out.close() ? Try<io::Bytes>(std::move(bytes)) : Unexpected(out.error());
}

Try<void> same_when_written_again(ByteView bytes, const std::string& file) {
  bool same = true;
  ByteView rest = bytes;
  Out out([&](ByteView piece) {
    same = same && piece.size() <= rest.size() && equal(piece, rest.first(piece.size()));
    rest = rest.subspan(std::min(piece.size(), rest.size()));
  });
  if (const Try<void> copied = copy_all(bytes, out); !copied) {
    Error error = copied.error();
    error.place.file = file;
    return Unexpected(std::move(error));
  }
  if (!same || !rest.empty()) {
    return Unexpected(error_from(refuse(Fault::container_header), file));
  }
  return {};
}

} // namespace cardseal::package
