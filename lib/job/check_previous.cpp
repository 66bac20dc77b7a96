// The release against the package before it, as its change order tells.
#include <algorithm>
#include <charconv>
#include <optional>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "image/compare.h"
#include "image/operations.h"
#include "image/spell.h"
#include "job/checks.h"
#include "job/rules.h"
#include "job/sealed_texts.h"
#include "package/scheme_definition.h"
#include "serial/collide.h"
#include "unit/unit.h"

namespace cardseal::job {
namespace {

// "2.4.1" as numbers, without zeros at the end; nothing for a version that is spelled otherwise.
std::optional<std::vector<std::uint32_t>> version_numbers(std::string_view text) {
  std::vector<std::uint32_t> out;
  const char* at = text.data();
  const char* const end = text.data() + text.size();
  while (true) {
    std::uint32_t number = 0;
    const auto [next, fault] = std::from_chars(at, end, number);
    if (fault != std::errc() || (next != end && *next != '.')) {
      return std::nullopt;
    }
    out.push_back(number);
    if (next == end) {
      break;
    }
    at = next + 1;
  }
  while (!out.empty() && out.back() == 0) {
    out.pop_back();
  }
  return out;
}

class PreviousCheck {
public:
  PreviousCheck(const ReleaseFile& release, const Inputs& in, Findings& findings)
      : release_(release), in_(in), findings_(findings) {}

  void run() {
    if (!release_.changes) {
      if (release_.previous) {
        findings_.add(rules::previous_not_given,
                      fmt::format("the release follows package {}, but names 0 files of it",
                                  crypto::hex(*release_.previous)),
                      release_.place, "add <changes> with the package's file");
      }
      return;
    }
    check_identity();
    const Try<image::SparseImage> before = package::image_of(*in_.previous);
    if (!before) {
      add(rules::previous_differs,
          fmt::format("image of {} can't be read: {}", file_name(release_.changes->package),
                      before.error().what),
          "take the package from the archive again");
      return;
    }
    check_sequence();
    check_version();
    check_scheme();
    check_bytes(*before);
  }

private:
  void add(const Rule& rule, std::string text, std::string hint) {
    findings_.add(rule, std::move(text), release_.changes->place, std::move(hint));
  }

  void check_identity() {
    const package::Package& before = *in_.previous;
    const std::string name = file_name(release_.changes->package);
    if (before.manifest.product.view() != release_.product) {
      add(rules::previous_differs,
          fmt::format("{} is of product {}, the release of {}", name,
                      before.manifest.product.view(), release_.product),
          "name the package of this product");
    }
    if (before.manifest_digest != *release_.previous) {
      add(rules::previous_differs,
          fmt::format("{} has identity {}, the release follows {}", name,
                      crypto::hex(before.manifest_digest), crypto::hex(*release_.previous)),
          "name the file of the package that was approved last");
    }
  }

  // One id means one text an ordinal, in every release.
  void check_scheme() {
    const format::Manifest& before = in_.previous->manifest;
    if (!release_.serial || !before.scheme.present) {
      return;
    }
    const std::string_view was = before.scheme.value.id.view();
    const std::string_view is = release_.serial->numbers.id.view();
    if (was == is) {
      if (package::scheme_definition(before) !=
          package::scheme_definition(manifest_of(release_, in_, {}))) {
        add_serial(rules::serial_changed,
                   fmt::format("scheme {} has another first number, step, exclusion, alphabet or "
                               "text than in {}",
                               is, file_name(release_.changes->package)),
                   "give the changed scheme an id of its own");
      }
      return;
    }
    const serial::UnitRange old{unit::serials_of(before, nullptr), 0,
                                before.scheme.value.capacity - 1};
    const serial::UnitRange now{release_.serial->serials(), 0,
                                release_.serial->numbers.capacity - 1};
    const serial::TextCollision found = serial::common_text(old, now);
    if (found.answer != serial::TextAnswer::never) {
      add_serial(rules::serial_repeats,
                 fmt::format("schemes {} of {} and {}: {}", was,
                             file_name(release_.changes->package), is, found.reason),
                 "choose a text that tells them apart, or let the new numbers begin above");
    }
  }

  void add_serial(const Rule& rule, std::string text, std::string hint) {
    findings_.add(rule, std::move(text), release_.serial->place, std::move(hint));
  }

  void check_version() {
    const std::string_view before = in_.previous->manifest.release.view();
    const auto was = version_numbers(before);
    const auto is = version_numbers(release_.version);
    if (was && is && *is < *was) {
      add(rules::version_back,
          fmt::format("version {} is below {} of {}", release_.version, before,
                      file_name(release_.changes->package)),
          "give the release a version above, or say why it goes back");
    } else if ((!was || !is) && before != release_.version) {
      add(rules::version_unlike,
          fmt::format("version {} follows {} of {}", release_.version, before,
                      file_name(release_.changes->package)),
          "look whether it is the later one");
    }
  }

  // A station that has worked with the package before takes only what is above it.
  void check_sequence() {
    const format::Manifest& before = in_.previous->manifest;
    if (release_.epoch < before.epoch ||
        (release_.epoch == before.epoch && release_.sequence <= before.sequence)) {
      add(rules::sequence_back,
          fmt::format("epoch {}, sequence {} follows epoch {}, sequence {} of {}", release_.epoch,
                      release_.sequence, before.epoch, before.sequence,
                      file_name(release_.changes->package)),
          "count the sequence on: stations refuse what is not above");
    }
  }

  bool declared(const ChangedRange& range) {
    const profile::Region* region = in_.device.find_region(range.region);
    const std::uint64_t end = std::uint64_t{range.address} + range.length;
    if (region != nullptr && range.address >= region->address && end <= region->end()) {
      return true;
    }
    findings_.add(rules::outside_order,
                  fmt::format("change order {} names {} in {}; {} has {}", release_.changes->order,
                              spell_range(range.address, end), range.region, in_.device.id,
                              spell_regions(in_.device)),
                  range.place, "correct the range");
    return false;
  }

  // The addresses that no range of the order covers.
  std::vector<image::Segment> undeclared() {
    std::vector<image::Segment> named;
    for (const ChangedRange& range : release_.changes->ranges) {
      if (declared(range)) {
        named.push_back({range.address, range.length});
      }
    }
    std::sort(named.begin(), named.end(),
              [](const auto& a, const auto& b) { return a.address < b.address; });
    std::vector<image::Segment> rest;
    std::uint64_t from = 0;
    for (const image::Segment& range : named) {
      if (range.address > from) {
        rest.push_back({from, range.address - from});
      }
      from = std::max(from, range.end());
    }
    rest.push_back({from, ~std::uint64_t{0} - from});
    return rest;
  }

  void check_bytes(const image::SparseImage& before) {
    const image::SparseImage& now = in_.firmware.firmware.image;
    const std::vector<image::Segment> rest = undeclared();
    const image::Comparison all = image::compare(before, now, 1);
    if (all.same()) {
      return;
    }
    const std::uint64_t changed = all.different_bytes + all.only_in_a + all.only_in_b;
    if (in_.previous->manifest.release.view() == release_.version) {
      add(rules::version_same,
          fmt::format("{} differ from {}, first at {}; both have version {}",
                      image::spell_count(changed, "byte"), file_name(release_.changes->package),
                      image::spell_address(all.ranges.front().range.address), release_.version),
          "give the release a version of its own");
    }
    const image::Comparison outside =
        image::compare(image::crop(before, rest), image::crop(now, rest), 1);
    if (!outside.same()) {
      const image::Segment& first = outside.ranges.front().range;
      add(rules::outside_order,
          fmt::format("{} of {} that changed lie outside of change order {}, first {}",
                      outside.different_bytes + outside.only_in_a + outside.only_in_b,
                      image::spell_count(changed, "byte"), release_.changes->order,
                      spell_range(first.address, first.end())),
          "have the order name the range, or build the firmware so that it stays");
    }
  }

  const ReleaseFile& release_;
  const Inputs& in_;
  Findings& findings_;
};

} // namespace

void check_previous(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  PreviousCheck(release, in, findings).run();
}

} // namespace cardseal::job
