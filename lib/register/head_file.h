// A file beside the register that names the newest entry which was ever made: how many, and the
// digest of the last. A register that lacks that entry is an older copy, or the history of another
// one; a register without the file was copied or moved without it. Neither gives numbers.
//
// Written after each commit and under the register's lock, so it never goes back, and after a crash
// it names an entry that is there. A folder that is set back as a whole, this file too, is not
// noticed here: cards made since show it (Register::meet).
#pragma once

#include <optional>

#include "io/system.h"
#include "register/types.h"

namespace cardseal::registry {

io::Path head_path(const io::Path& register_file); // the same name with ".head" behind it

// None: there is no such file. Errors: bad_data "register-head" for one that is no head file.
Try<std::optional<Head>> read_head(io::System& system, const io::Path& path);
Try<void> write_head(io::System& system, const io::Path& path, const Head& head);

} // namespace cardseal::registry
