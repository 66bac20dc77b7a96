#include "fat32/reader.h"

#include <algorithm>
#include <array>
#include <iterator>

#include "fat32/checker.h"
#include "fat32/tree.h"

namespace cardseal::fat32 {
namespace {

namespace fat = format::fat;

Error refused(const Finding& finding) {
  return {.kind = ErrorKind::refused,
          .code = std::string(finding.rule->id),
          .what = std::string(finding.rule->title),
          .place = finding.place,
          .found = finding.text,
          .expected = {},
          .hint = finding.hint};
}

bool stops_reading(const Rule& rule) {
  return std::find(std::begin(rules::stop_reading), std::end(rules::stop_reading), &rule) !=
         std::end(rules::stop_reading);
}

bool same_ascii(std::string_view a, std::string_view b) {
  const auto upper = [](char c) { return c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c; };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [&](char x, char y) { return upper(x) == upper(y); });
}

// The run of sectors at a byte of the file, and where in it; nothing past the last.
struct FileSpot {
  std::uint32_t lba = 0;
  std::uint32_t sectors_left = 0;
  std::size_t offset = 0; // in the first sector
};

std::optional<FileSpot> spot_of(const std::vector<Extent>& extents, std::uint64_t offset) {
  std::uint64_t sector = offset / fat::sector_bytes;
  for (const Extent& extent : extents) {
    if (sector < extent.sector_count) {
      const auto in_run = static_cast<std::uint32_t>(sector);
      return FileSpot{extent.first_lba + in_run, extent.sector_count - in_run,
                      static_cast<std::size_t>(offset % fat::sector_bytes)};
    }
    sector -= extent.sector_count;
  }
  return std::nullopt;
}

} // namespace

Volume::Volume(SectorSource& source, FoundShape shape, std::vector<Entry> entries,
               Findings findings)
    : source_(&source), shape_(std::move(shape)), entries_(std::move(entries)),
      findings_(std::move(findings)) {}

Try<Volume> Volume::open(SectorSource& source) {
  Try<CheckReport> report = check_volume(source);
  if (!report) {
    return Unexpected(std::move(report.error()));
  }
  return of(source, *report);
}

Try<Volume> Volume::of(SectorSource& source, const CheckReport& report) {
  for (const Finding& finding : report.findings.kept()) {
    if (stops_reading(*finding.rule)) {
      return Unexpected(refused(finding));
    }
  }
  return Volume(source, *report.shape, report.entries, report.findings);
}

const Entry* Volume::find(std::string_view path) const {
  const auto at = std::find_if(entries_.begin(), entries_.end(),
                               [&](const Entry& each) { return same_ascii(each.path, path); });
  return at == entries_.end() ? nullptr : &*at;
}

Try<void> Volume::read(const Entry& file, std::uint64_t offset, ByteSpan out) {
  if (offset > file.size || out.size() > file.size - offset) {
    return Unexpected(Error{.kind = ErrorKind::io,
                            .code = "fat32-read",
                            .what = "read past the end of a file",
                            .place = {.file = source_->name(), .item = escaped(file.path)},
                            .found = std::to_string(offset) + " + " + std::to_string(out.size()),
                            .expected = "at most " + std::to_string(file.size) + " bytes",
                            .hint = {}});
  }
  std::array<std::uint8_t, fat::sector_bytes> sector{};
  while (!out.empty()) {
    const auto spot = spot_of(file.extents, offset);
    if (!spot) {
      return Unexpected(Error{.kind = ErrorKind::internal,
                              .code = "fat32-read",
                              .what = "file is longer than its clusters",
                              .place = {.file = source_->name(), .item = escaped(file.path)},
                              .found = std::to_string(offset),
                              .expected = {},
                              .hint = {}});
    }
    std::size_t now = 0;
    if (spot->offset == 0 && out.size() >= fat::sector_bytes) {
      now = std::min(out.size() / fat::sector_bytes, std::size_t{spot->sectors_left}) *
            fat::sector_bytes;
      if (Try<void> done = source_->read(spot->lba, out.first(now)); !done) {
        return done;
      }
    } else {
      if (Try<void> done = source_->read(spot->lba, sector); !done) {
        return done;
      }
      now = std::min(out.size(), fat::sector_bytes - spot->offset);
      copy(out.first(now), ByteView(sector).subspan(spot->offset, now));
    }
    out = out.subspan(now);
    offset += now;
  }
  return {};
}

Try<io::Bytes> Volume::read_all(const Entry& file, std::uint64_t limit) {
  if (file.size > limit) {
    return Unexpected(Error{.kind = ErrorKind::bad_data,
                            .code = "fat32-file-size",
                            .what = "file is larger than it may be",
                            .place = {.file = source_->name(), .item = escaped(file.path)},
                            .found = std::to_string(file.size) + " bytes",
                            .expected = "at most " + std::to_string(limit) + " bytes",
                            .hint = {}});
  }
  io::Bytes bytes(static_cast<std::size_t>(file.size));
  if (Try<void> done = read(file, 0, bytes); !done) {
    return Unexpected(std::move(done.error()));
  }
  return bytes;
}

} // namespace cardseal::fat32
