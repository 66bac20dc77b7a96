// The files of templates/pages, built in so that the program needs no other file (embed.cmake).
// Inside this module.
#pragma once

#include <span>
#include <string_view>

namespace cardseal::page {

struct EmbeddedFile {
  std::string_view name; // "review.html"
  std::string_view text;
};

std::span<const EmbeddedFile> embedded_files();
std::string_view embedded(std::string_view name); // empty when there is none

} // namespace cardseal::page
