// Files and folders that desktop systems put on a card that was merely in their reader.
#pragma once

#include <set>
#include <string>

#include "fat32/reader.h"

namespace cardseal::card {

// Only what no station can take for a planned file: in a folder of a desktop system's own or one of
// its files in the top folder, and neither its long nor its short name has the ending of a file
// that is planned. What a repair makes is none of it: there something was wrong. `planned`: paths.
// Names from memory, checked against no source.
bool is_left_over(const fat32::Entry& entry, const std::set<std::string>& planned);

} // namespace cardseal::card
