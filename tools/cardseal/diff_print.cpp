#include "diff_print.h"

#include <fmt/format.h>

#include "common.h"
#include "crypto/sha256.h"
#include "image/spell.h"
#include "words.h"

namespace cardseal::tool {
namespace {

constexpr std::size_t ranges_listed = 16; // of one region

std::string signers(const compare::Side& side) {
  std::string out;
  for (const package::SignoffEntry& entry : side.package.signoffs) {
    const auto role = static_cast<std::size_t>(entry.signoff.role);
    out += fmt::format("{}{} ({})", out.empty() ? "signed by " : ", ", entry.signoff.person.view(),
                       format::role_words[role]);
  }
  return out.empty() ? "signed by nobody" : out;
}

void print_side(std::string_view place, const compare::Side& side) {
  const std::string name = release_name(side.package.manifest);
  say(fmt::format("{:<8}{}: {} {}", place, escaped(name),
                  side.sealed ? "release package" : "authored release",
                  escaped(side.package.file)));
  if (side.sealed) {
    say(fmt::format("        {}", crypto::spell_digest(side.package.manifest_digest)));
    say(fmt::format("        {}", escaped(signers(side))));
  }
}

std::string first_bytes(const std::vector<std::uint8_t>& bytes, std::uint64_t length) {
  return bytes.empty() ? std::string("not there")
                       : crypto::hex(bytes) + (bytes.size() < length ? "..." : "");
}

void print_bytes(const image::Comparison& bytes) {
  constexpr std::string_view kinds[] = {"changed", "removed", "added"};
  say(fmt::format("      {} changed, {} removed, {} added, in {}",
                  image::spell_count(bytes.different_bytes, "byte"), bytes.only_in_a,
                  bytes.only_in_b, image::spell_count(bytes.range_count, "range")));
  const std::size_t listed = std::min(bytes.ranges.size(), ranges_listed);
  for (const image::DifferentRange& each : std::span(bytes.ranges).first(listed)) {
    say(fmt::format(
        "      {} 0x{:08X} to 0x{:08X}, {}: {} -> {}", kinds[static_cast<std::size_t>(each.what)],
        each.range.address, each.range.end() - 1, image::spell_count(each.range.length, "byte"),
        first_bytes(each.a, each.range.length), first_bytes(each.b, each.range.length)));
  }
  if (bytes.range_count > listed) {
    say(fmt::format("      and {} more", image::spell_count(bytes.range_count - listed, "range")));
  }
}

void print_one(const compare::Difference& one) {
  say(fmt::format("  {} {}: {} -> {}", one.risk == compare::Risk::damage ? '!' : ' ',
                  escaped(one.what), escaped(one.a.value_or("not there")),
                  escaped(one.b.value_or("not there"))));
  if (one.bytes) {
    print_bytes(*one.bytes);
  }
}

} // namespace

void print(const compare::Side& first, const compare::Side& second, const compare::Report& report) {
  print_side("first", first);
  print_side("second", second);
  std::optional<compare::Area> area;
  for (const compare::Difference& one : report.differences) {
    if (area != one.area) {
      say(compare::area_words[static_cast<std::size_t>(one.area)]);
      area = one.area;
    }
    print_one(one);
  }
  say(compare::closing_sentence(report) + (report.can_damage != 0 ? " (marked !)" : ""));
}

} // namespace cardseal::tool
