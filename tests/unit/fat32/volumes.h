// A sample tree that has every kind of name and size, content that tells its place, and volumes in
// memory that were full of junk before.
#pragma once

#include <stdexcept>
#include <string>
#include <vector>

#include "fat32/checker.h"
#include "fat32/memory.h"
#include "fat32/writer.h"

namespace cardseal::fat32::testing {

inline std::string numbered(std::string text, std::size_t number) {
  text += std::to_string(number);
  return text;
}

inline Node file(std::string short_name, std::string long_name, std::uint64_t size) {
  return {std::move(short_name), std::move(long_name), false, size, {}};
}

inline Node folder(std::string short_name, std::string long_name, std::vector<Node> children) {
  return {std::move(short_name), std::move(long_name), true, 0, std::move(children)};
}

// Name lengths 1, 12, 13, 14, 26 and 255 are those at which the number of long-name entries turns.
inline std::vector<Node> sample_tree() {
  std::vector<Node> documents;
  for (const std::size_t length : {1U, 12U, 13U, 14U, 26U, 27U, 255U}) {
    std::string name = numbered("n", length);
    name.resize(length, 'x');
    documents.push_back(file("", name, 100 * length));
  }
  documents.push_back(file("", "Frost node release notes.pdf", 70'001));
  documents.push_back(file("", "Frost node review.pdf", 4096));
  documents.push_back(file("", "M\u00E5ned \u20AC \U0001F34E.txt", 33));
  documents.push_back(file("", "readme.TXT", 12));
  std::vector<Node> deep = {file("DEEP.BIN", "", 513)};
  for (int level = 6; level > 0; --level) {
    deep = {folder(numbered("L", static_cast<std::size_t>(level)), "", std::move(deep))};
  }
  return {file("FROST.CRP", "", 123'457),
          file("EMPTY.TXT", "", 0),
          file("ONE.BIN", "", 1),
          file("CARD.SIG", "", 64),
          file("RUN.LOG", "", 65'536),
          folder("DOCS", "Documents for people", std::move(documents)),
          folder("DEEP", "", std::move(deep)),
          folder("NOTHING", "", {}),
          file("LAST.BIN", "", 40'000)};
}

inline VolumeOptions sample_options() {
  VolumeOptions options;
  options.image_sectors = smallest_image;
  options.sectors_per_cluster = 1;
  options.label = "TARN ALDER";
  options.volume_serial = 0x1234ABCD;
  options.time = {2025, 3, 9, 14, 27, 31};
  return options;
}

inline std::uint8_t content_byte(std::uint32_t first_cluster, std::uint64_t offset) {
  const std::uint64_t mixed = (offset + 1) * 0x9E3779B97F4A7C15ULL + first_cluster;
  return static_cast<std::uint8_t>(mixed >> 56);
}

// RUN.LOG is all zeros, everything else depends on place and offset.
inline Try<void> sample_content(const PlannedFile& planned, std::uint64_t offset, ByteSpan out) {
  for (std::size_t i = 0; i < out.size(); ++i) {
    out[i] = planned.path == "RUN.LOG" ? std::uint8_t{0}
                                       : content_byte(planned.first_cluster, offset + i);
  }
  return {};
}

inline std::vector<std::uint8_t> content_of(const PlannedFile& planned) {
  std::vector<std::uint8_t> bytes(static_cast<std::size_t>(planned.size));
  (void)sample_content(planned, 0, bytes);
  return bytes;
}

inline constexpr std::uint8_t junk = 0xA5;

struct MadeVolume {
  VolumePlan plan;
  MemoryCard card;
};

inline MadeVolume make_volume(const VolumeOptions& options, const std::vector<Node>& tree) {
  Try<VolumePlan> plan = plan_volume(options, tree);
  if (!plan) {
    throw std::runtime_error(describe(plan.error()));
  }
  MemoryCard card(plan->shape.image_sectors, junk);
  if (Try<void> done = write_volume(*plan, sample_content, card); !done) {
    throw std::runtime_error(describe(done.error()));
  }
  return {std::move(*plan), std::move(card)};
}

inline Sector sector_of(MemoryCard& card, std::uint32_t lba) {
  Sector sector{};
  (void)card.read(lba, sector);
  return sector;
}

} // namespace cardseal::fat32::testing
