// The firmware as a file for stations that read nothing else.
#pragma once

#include "card/layout.h"
#include "image/sparse_image.h"
#include "package/package.h"

namespace cardseal::card {

// What the facts say of this model; null when it reads signed packages or is not named.
const format::StationFacts* find_station(const format::Facts& facts, const format::Id& model);
const format::PlainFileFacts* find_plain_file(const format::Facts& facts, const format::Id& model);

// The package's image in the form that the model reads.
Try<io::Bytes> write_plain_file(const package::Package& package,
                                const format::PlainFileFacts& facts);

// '#' in the path: the model takes a file for each board, with the board's serial in it.
bool is_for_each_unit(const format::PlainFileFacts& facts);
// The path for an ordinal; empty when the ordinal has more digits than there are '#'.
std::string unit_path(const format::PlainFileFacts& facts, std::uint64_t ordinal);

// The image with the serial of one unit of an allotment.
Try<io::Bytes> write_unit_file(const package::Package& package, const format::PlainFileFacts& facts,
                               const format::Allotment& allotment, std::uint64_t ordinal);

// All that one job has on a card: one file, or one for each unit, ascending by ordinal. `room`:
// bytes that there are for them.
Try<std::vector<CardFile>> plain_files(const package::Package& package,
                                       const format::PlainFileFacts& facts,
                                       const format::Allotment& allotment, std::uint64_t room);

} // namespace cardseal::card
