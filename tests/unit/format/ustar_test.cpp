// The header against its specification and against other people's tar programs.
#include "packages.h"

#include <archive.h>
#include <archive_entry.h>
#include <memory>

#include <fmt/format.h>

#include "support/outside.h"
#include "support/temp_folder.h"

using namespace cardseal;
using namespace cardseal::test;

namespace {

// The header as the table of SPEC.md tells it.
Header from_table(const std::string& name, std::uint32_t size) {
  Header out{};
  const Table table = spec().tables("### Header").at(0);
  for (const TableRow& row : table) {
    const std::string cell = plain(row[2]);
    std::string bytes;
    if (cell[0] == '"') {
      for (std::size_t i = 1; i + 1 < cell.size(); ++i) {
        const bool zero = cell.compare(i, 2, "\\0") == 0;
        bytes += zero ? '\0' : cell[i];
        i += zero ? 1 : 0;
      }
    } else if (cell == "the name") {
      bytes = name;
    } else if (cell.find("the size") != std::string::npos) {
      bytes = fmt::format("{:011o} ", size);
    } else if (cell.find("the checksum") != std::string::npos) {
      bytes = std::string(8, ' ');
    } else {
      FAIL(cell);
    }
    CAPTURE(cell);
    CHECK(bytes.size() <= std::stoul(row[1]));
    CHECK((cell == "the name" || bytes.size() == std::stoul(row[1])));
    std::copy(bytes.begin(), bytes.end(), out.begin() + std::stol(row[0]));
  }
  std::uint32_t sum = 0;
  for (const std::uint8_t byte : out) {
    sum += byte;
  }
  const std::string digits = fmt::format("{:06o}", sum);
  std::copy(digits.begin(), digits.end(), out.begin() + 148);
  out[154] = 0;
  return out;
}

la_ssize_t append(archive*, void* context, const void* buffer, std::size_t size) {
  auto& out = *static_cast<Bytes*>(context);
  const auto* bytes = static_cast<const std::uint8_t*>(buffer);
  out.insert(out.end(), bytes, bytes + size);
  return static_cast<la_ssize_t>(size);
}

// The same entries as libarchive's own ustar writer puts them.
Bytes written_by_libarchive(const std::vector<Entry>& entries) {
  Bytes out;
  const std::unique_ptr<archive, decltype(&archive_write_free)> writer(archive_write_new(),
                                                                       archive_write_free);
  archive_write_set_format_ustar(writer.get());
  archive_write_set_bytes_per_block(writer.get(), 512);
  archive_write_set_bytes_in_last_block(writer.get(), 1);
  REQUIRE(archive_write_open(writer.get(), &out, nullptr, append, nullptr) == ARCHIVE_OK);
  for (const Entry& entry : entries) {
    const std::unique_ptr<archive_entry, decltype(&archive_entry_free)> header(archive_entry_new(),
                                                                               archive_entry_free);
    archive_entry_set_pathname(header.get(), entry.name.c_str());
    archive_entry_set_filetype(header.get(), AE_IFREG);
    archive_entry_set_perm(header.get(), 0644);
    archive_entry_set_mtime(header.get(), 0, 0);
    archive_entry_set_size(header.get(), static_cast<la_int64_t>(entry.content.size()));
    REQUIRE(archive_write_header(writer.get(), header.get()) == ARCHIVE_OK);
    REQUIRE(archive_write_data(writer.get(), entry.content.data(), entry.content.size()) ==
            static_cast<la_ssize_t>(entry.content.size()));
  }
  REQUIRE(archive_write_close(writer.get()) == ARCHIVE_OK);
  return out;
}

void write_file(const std::filesystem::path& path, ByteView bytes) {
  std::ofstream file(path, std::ios::binary);
  file.write(reinterpret_cast<const char*>(bytes.data()),
             static_cast<std::streamsize>(bytes.size()));
  REQUIRE(file.good());
}

} // namespace

TEST_CASE("the header is the table's, for short and longest names and sizes") {
  const std::string longest(99, 'n');
  for (const std::string& name : {std::string("manifest"), std::string("doc/NOTES.txt"), longest}) {
    for (const std::uint32_t size : {0U, 1U, 511U, 978U, 0x7FFF'FFFFU}) {
      CAPTURE(name, size);
      CHECK(header_of(name, size) == from_table(name, size));
    }
  }
}

TEST_CASE("the example's header is the one of the example's manifest") {
  const Bytes example = spec().hex_example("example-header");
  const auto size = static_cast<std::uint32_t>(example_of<format::Manifest>().size());
  CHECK(equal(example, header_of("manifest", size)));
}

TEST_CASE("libarchive writes the example's package to the same bytes") {
  CHECK(written_by_libarchive(example_entries()) == package_of(example_entries()));
}

TEST_CASE("GNU tar lists the example's package with its names and sizes") {
  if (!have("tar")) {
    return;
  }
  const TempFolder folder;
  write_file(folder / "example.crp", package_of(example_entries()));
  const Ran listed =
      run("LC_ALL=C TZ=UTC tar --numeric-owner -tvf " + shell((folder / "example.crp").string()));
  CAPTURE(listed.output);
  CHECK(listed.exit_code == 0);
  for (const Entry& entry : example_entries()) {
    const std::string size = std::to_string(entry.content.size());
    CHECK_THAT(listed.output, ContainsSubstring("-rw-r--r-- 0/0"));
    CHECK_THAT(listed.output,
               ContainsSubstring(" " + size + " 1970-01-01 00:00 " + entry.name + "\n"));
  }
}

TEST_CASE("the chain's worked example is what sha256sum makes of its blocks") {
  if (!have("sha256sum")) {
    return;
  }
  const TempFolder folder;
  const Bytes chain = spec().hex_example("example-chain");
  REQUIRE(chain.size() == 64);
  const Bytes image = example_image();
  CHECK(format::block_count(static_cast<std::uint32_t>(image.size())) == 2);
  Bytes last(image.begin() + 4096, image.end());
  last.resize(last.size() + 32);
  Bytes first(image.begin(), image.begin() + 4096);
  first.insert(first.end(), chain.begin() + 32, chain.end());
  write_file(folder / "0", first);
  write_file(folder / "1", last);
  for (const std::size_t i : {std::size_t{0}, std::size_t{1}}) {
    const Ran sum = run("sha256sum < " + shell((folder / std::to_string(i)).string()));
    CHECK(unhex(sum.output.substr(0, 64)) ==
          Bytes(chain.begin() + static_cast<std::ptrdiff_t>(32 * i),
                chain.begin() + static_cast<std::ptrdiff_t>(32 * i + 32)));
  }
}

TEST_CASE("blocks are counted up to the largest image") {
  CHECK(format::block_count(1) == 1);
  CHECK(format::block_count(4096) == 1);
  CHECK(format::block_count(4097) == 2);
  CHECK(format::block_count(0x7FFF'FFFF) == 524'288);
}
