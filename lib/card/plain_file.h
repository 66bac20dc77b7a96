// The firmware as a file for stations that read nothing else.
#pragma once

#include "image/sparse_image.h"
#include "package/package.h"

namespace cardseal::card {

// What the facts say of this model; null when it reads signed packages or is not named.
const format::StationFacts* find_station(const format::Facts& facts, const format::Id& model);
const format::PlainFileFacts* find_plain_file(const format::Facts& facts, const format::Id& model);

// The package's image in the form that the model reads.
Try<io::Bytes> write_plain_file(const package::Package& package,
                                const format::PlainFileFacts& facts);

} // namespace cardseal::card
