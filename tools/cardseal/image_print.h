// What `cardseal image` prints for people.
#pragma once

#include <vector>

#include "image/compare.h"
#include "image/load.h"
#include "image/operations.h"
#include "image/read_back.h"

namespace cardseal::tool {

void print(const image::Loaded& loaded, const std::vector<image::Loaded>& merged);
void print(const std::vector<image::NamedRange>& regions, const image::Split& split);
void print(const image::Comparison& comparison, const image::SparseImage& first,
           const image::SparseImage& second);
void print(const image::ReadBackReport& report);

} // namespace cardseal::tool
