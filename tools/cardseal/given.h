// What a page or an answer is made of beside its file, and how it names that: packages, registers.
#pragma once

#include "common.h"
#include "package/package.h"
#include "page/lot_pages.h"
#include "register/register.h"

namespace cardseal::tool {

// Each held against itself first: what is told of it is the sealed manifest's, or nothing is.
Try<std::vector<package::Package>> read_whole_packages(const std::vector<std::string>& files);

std::vector<const package::Package*> pointers_to(const std::vector<package::Package>& packages);

std::string source_of(const package::Package& package);
std::string source_of(const std::string& register_file, const registry::Head& head);

// The cards of a work order and of those merged into it, with their notes, in the register's order.
// Error: work-order-unknown.
Try<std::vector<page::CardOfSet>>
cards_of_lot(registry::Register& numbers, const std::string& work_order, const std::string& file);

} // namespace cardseal::tool
