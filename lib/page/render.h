// A page from a template of templates/pages. The template library is met in render.cpp alone.
// Whatever a value holds, it is escaped for the place where the template puts it. Inside this
// module.
#pragma once

#include <string>
#include <string_view>

#include "page/fields.h"

namespace cardseal::page {

// `name` is one of the embedded files; what it names as {{>other.html}} is put in its place.
std::string render(std::string_view name, const Fields& fields);

} // namespace cardseal::page
