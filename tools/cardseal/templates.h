// The author's templates (templates/author), built in so that the program needs no other file.
#pragma once

#include <span>
#include <string_view>

namespace cardseal::tool {

struct Template {
  std::string_view path; // in a release folder
  std::string_view content;
};

std::span<const Template> author_templates();
std::string_view order_template();

} // namespace cardseal::tool
