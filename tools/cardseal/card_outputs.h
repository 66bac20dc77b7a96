// Where cards and their sheets go, looked at before a number is spent.
#pragma once

#include "card/make.h"
#include "common.h"

namespace cardseal::tool {

// By any path that leads to it.
bool is_same_file(const io::Path& one, const io::Path& other);

// Refused: output-is-register, output-exists without `force`, no-folder, standard output.
Try<void> check_output(io::System& system, const std::string& file,
                       const std::string& registered_file, bool force);

// What the floor has to do where no log comes back from a station that checks signatures.
void note_results(format::StationReads reads);

} // namespace cardseal::tool
