#include "package/container_file.h"

#include <archive.h>
#include <archive_entry.h>
#include <memory>

#include <fmt/format.h>

#include "format/container.h"

namespace cardseal::package {
namespace {

using Writer = std::unique_ptr<archive, decltype(&archive_write_free)>;
using Reader = std::unique_ptr<archive, decltype(&archive_read_free)>;
using EntryHandle = std::unique_ptr<archive_entry, decltype(&archive_entry_free)>;

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

la_ssize_t append(archive*, void* context, const void* buffer, std::size_t size) {
  auto& out = *static_cast<io::Bytes*>(context);
  const auto* bytes = static_cast<const std::uint8_t*>(buffer);
  out.insert(out.end(), bytes, bytes + size);
  return static_cast<la_ssize_t>(size);
}

bool write_entry(archive* writer, const Entry& entry) {
  const EntryHandle handle(archive_entry_new(), archive_entry_free);
  archive_entry_set_pathname(handle.get(), entry.name.c_str());
  archive_entry_set_filetype(handle.get(), AE_IFREG);
  archive_entry_set_perm(handle.get(), 0644);
  archive_entry_set_mtime(handle.get(), 0, 0);
  archive_entry_set_size(handle.get(), static_cast<la_int64_t>(entry.content.size()));
  return archive_write_header(writer, handle.get()) == ARCHIVE_OK &&
         archive_write_data(writer, entry.content.data(), entry.content.size()) ==
             static_cast<la_ssize_t>(entry.content.size());
}

Try<ReadEntry> read_entry(archive* reader, archive_entry* header) {
  const char* name = archive_entry_pathname(header);
  if (name == nullptr || archive_entry_filetype(header) != AE_IFREG ||
      archive_entry_hardlink(header) != nullptr || archive_entry_sparse_count(header) != 0) {
    Error error;
    error.kind = ErrorKind::bad_data;
    error.code = "container-entry";
    error.what = "an entry of the container is not a plain file";
    error.place.item = name == nullptr ? "" : name;
    error.hint = "get the file again from the person who sent it";
    return Unexpected(std::move(error));
  }
  ReadEntry entry{name, {}};
  std::uint8_t piece[16384];
  for (;;) {
    const la_ssize_t size = archive_read_data(reader, piece, sizeof piece);
    if (size < 0) {
      return Unexpected(library_error(reader, "reading"));
    }
    if (size == 0) {
      return entry;
    }
    entry.content.insert(entry.content.end(), piece, piece + size);
  }
}

} // namespace

Try<io::Bytes> write_container(const std::vector<Entry>& entries) {
  io::Bytes out;
  const Writer writer(archive_write_new(), archive_write_free);
  archive_write_set_format_ustar(writer.get());
  archive_write_set_bytes_per_block(writer.get(), static_cast<int>(format::tar_block));
  archive_write_set_bytes_in_last_block(writer.get(), 1);
  if (archive_write_open(writer.get(), &out, nullptr, append, nullptr) != ARCHIVE_OK) {
    return Unexpected(library_error(writer.get(), "writing"));
  }
  for (const Entry& entry : entries) {
    if (!write_entry(writer.get(), entry)) {
      return Unexpected(library_error(writer.get(), "writing"));
    }
  }
  if (archive_write_close(writer.get()) != ARCHIVE_OK) {
    return Unexpected(library_error(writer.get(), "writing"));
  }
  return out;
}

Try<std::vector<ReadEntry>> read_container(ByteView bytes) {
  const Reader reader(archive_read_new(), archive_read_free);
  archive_read_support_format_tar(reader.get());
  if (archive_read_open_memory(reader.get(), bytes.data(), bytes.size()) != ARCHIVE_OK) {
    return Unexpected(library_error(reader.get(), "reading"));
  }
  std::vector<ReadEntry> entries;
  for (;;) {
    archive_entry* header = nullptr;
    const int status = archive_read_next_header(reader.get(), &header);
    if (status == ARCHIVE_EOF) {
      return entries;
    }
    if (status != ARCHIVE_OK) {
      return Unexpected(library_error(reader.get(), "reading"));
    }
    Try<ReadEntry> entry = read_entry(reader.get(), header);
    if (!entry) {
      return Unexpected(std::move(entry).error());
    }
    entries.push_back(std::move(*entry));
  }
}

Try<void> same_when_written_again(ByteView bytes, const std::string& file) {
  Try<std::vector<ReadEntry>> entries = read_container(bytes);
  if (!entries) {
    Error error = std::move(entries).error();
    error.place.file = file;
    return Unexpected(std::move(error));
  }
  std::vector<Entry> again;
  for (const ReadEntry& entry : *entries) {
    again.push_back({entry.name, entry.content});
  }
  Try<io::Bytes> written = write_container(again);
  if (!written) {
    return Unexpected(std::move(written).error());
  }
  if (!equal(*written, bytes)) {
    return Unexpected(error_from(refuse(Fault::container_header), file));
  }
  return {};
}

} // namespace cardseal::package
