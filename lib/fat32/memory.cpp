#include "fat32/memory.h"

#include <algorithm>

#include "format/fat32_layout.h"

namespace cardseal::fat32 {
namespace {

using format::fat::sector_bytes;
constexpr std::uint32_t piece_sectors = 128;
constexpr std::size_t piece_bytes = std::size_t{piece_sectors} * sector_bytes;

Error out_of_card(std::uint64_t end, std::uint32_t sector_count) {
  return {.kind = ErrorKind::io,
          .code = "card-end",
          .what = "access past the end of the card",
          .place = {},
          .found = "sector " + std::to_string(end - 1),
          .expected = "at most " + std::to_string(sector_count) + " sectors",
          .hint = {}};
}

// Calls work(piece number, offset in the piece, bytes) for each part of a run of sectors.
template <class Work>
void for_each_piece(std::uint32_t lba, std::size_t sectors, Work work) {
  while (sectors != 0) {
    const std::uint32_t at = lba % piece_sectors;
    const std::size_t now = std::min<std::size_t>(sectors, piece_sectors - at);
    work(lba / piece_sectors, std::size_t{at} * sector_bytes, now * sector_bytes);
    lba += static_cast<std::uint32_t>(now);
    sectors -= now;
  }
}

} // namespace

MemoryCard::MemoryCard(std::uint32_t sector_count, std::uint8_t untouched)
    : sector_count_(sector_count), untouched_(untouched) {}

MemoryCard::Piece& MemoryCard::piece(std::uint32_t number) {
  const auto [at, is_new] = pieces_.try_emplace(number);
  if (is_new) {
    at->second.assign(piece_bytes, untouched_);
  } else if (at->second.empty()) {
    at->second.assign(piece_bytes, 0);
  }
  return at->second;
}

Try<void> MemoryCard::read(std::uint32_t lba, ByteSpan out) {
  const std::uint64_t end = std::uint64_t{lba} + out.size() / sector_bytes;
  if (end > sector_count_) {
    return Unexpected(out_of_card(end, sector_count_));
  }
  for_each_piece(lba, out.size() / sector_bytes,
                 [&](std::uint32_t number, std::size_t offset, std::size_t bytes) {
                   const ByteSpan part = out.first(bytes);
                   const auto found = pieces_.find(number);
                   if (found == pieces_.end()) {
                     fill(part, untouched_);
                   } else if (found->second.empty()) {
                     fill(part, 0);
                   } else {
                     copy(part, ByteView(found->second).subspan(offset, bytes));
                   }
                   out = out.subspan(bytes);
                 });
  return {};
}

Try<void> MemoryCard::begin(std::uint32_t sector_count) {
  if (sector_count > sector_count_) {
    return Unexpected(out_of_card(sector_count, sector_count_));
  }
  return {};
}

Try<void> MemoryCard::write(std::uint32_t lba, ByteView sectors) {
  const std::uint64_t end = std::uint64_t{lba} + sectors.size() / sector_bytes;
  if (end > sector_count_) {
    return Unexpected(out_of_card(end, sector_count_));
  }
  for_each_piece(lba, sectors.size() / sector_bytes,
                 [&](std::uint32_t number, std::size_t offset, std::size_t bytes) {
                   copy(ByteSpan(piece(number)).subspan(offset, bytes), sectors.first(bytes));
                   sectors = sectors.subspan(bytes);
                 });
  return {};
}

Try<void> MemoryCard::zero(std::uint32_t lba, std::uint32_t count) {
  const std::uint64_t end = std::uint64_t{lba} + count;
  if (end > sector_count_) {
    return Unexpected(out_of_card(end, sector_count_));
  }
  for_each_piece(lba, count, [&](std::uint32_t number, std::size_t offset, std::size_t bytes) {
    if (bytes == piece_bytes) {
      pieces_[number] = {};
    } else {
      fill(ByteSpan(piece(number)).subspan(offset, bytes), 0);
    }
  });
  return {};
}

} // namespace cardseal::fat32
