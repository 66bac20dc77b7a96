// What stands around every page. Inside this module.
#pragma once

#include <string_view>

#include "page/fields.h"

namespace cardseal::page {

// Lines for whoever reads the printed copy; `kind` is the page's name in templates/pages/words.txt.
void put_printed_copy(Fields& page, std::string_view kind);

} // namespace cardseal::page
