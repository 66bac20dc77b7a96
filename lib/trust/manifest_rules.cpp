#include "trust/manifest_rules.h"

#include "trust/checks.h"

namespace cardseal::trust {
namespace {

const format::Product* find_product(const format::TrustList& list, const format::Id& id) {
  for (const format::Product& product : list.products.view()) {
    if (product.id == id) {
      return &product;
    }
  }
  return nullptr;
}

bool is_withdrawn(const format::TrustList& list, const format::Digest& digest) {
  for (const format::Digest& withdrawn : list.withdrawn.view()) {
    if (withdrawn == digest) {
      return true;
    }
  }
  return false;
}

bool starts_not_ship(std::string_view title) {
  return slice(title, 0, 8) == "NOT SHIP";
}

// Maximal segments in address order: each starts above the end of the one before, with a gap.
bool segments_good(const format::Manifest& manifest) {
  std::uint64_t total = 0;
  std::uint64_t end = 0;
  for (std::uint16_t i = 0; i < manifest.segments.count; ++i) {
    const format::Segment& segment = manifest.segments.items[i];
    const std::uint64_t last = std::uint64_t{segment.address} + segment.length - 1;
    if (last > 0xFFFF'FFFFU || (i > 0 && segment.address <= end)) {
      return false;
    }
    end = last + 1;
    total += segment.length;
  }
  return total == manifest.image_size;
}

bool placement_fits(const format::Manifest& manifest, const format::Placement& placement) {
  const std::uint64_t last = std::uint64_t{placement.address} + placement.length - 1;
  return last <= 0xFFFF'FFFFU && format::placement_good(placement, manifest.parts.view(),
                                                        manifest.alphabet, manifest.serial_crc);
}

bool overlap(const format::Placement& a, const format::Placement& b) {
  const std::uint64_t a_end = std::uint64_t{a.address} + a.length;
  const std::uint64_t b_end = std::uint64_t{b.address} + b.length;
  return a.region == b.region && a.address < b_end && b.address < a_end;
}

bool placements_good(const format::Manifest& manifest) {
  for (std::uint16_t i = 0; i < manifest.placements.count; ++i) {
    const format::Placement& placement = manifest.placements.items[i];
    if (!placement_fits(manifest, placement)) {
      return false;
    }
    for (std::uint16_t j = 0; j < i; ++j) {
      if (overlap(placement, manifest.placements.items[j])) {
        return false;
      }
    }
  }
  return true;
}

} // namespace

Outcome judge_manifest(const format::Manifest& manifest, const format::Digest& digest,
                       bool engineering, const RootView& root, const format::TrustList& list) {
  const format::Product* product = find_product(list, manifest.product);
  return Checks()
      .need(manifest.owner == root.owner, Fault::manifest_owner)
      .need(!is_withdrawn(list, digest), Fault::manifest_withdrawn)
      .need(product != nullptr, Fault::manifest_product)
      .need(product == nullptr || manifest.epoch == product->epoch, Fault::manifest_epoch)
      .need(product == nullptr || manifest.sequence >= product->floor, Fault::manifest_floor)
      .need(starts_not_ship(manifest.title.view()) == engineering, Fault::manifest_title)
      .need(segments_good(manifest), Fault::manifest_segments)
      .need(placements_good(manifest), Fault::manifest_placement)
      .outcome();
}

Outcome judge_mark(const format::Manifest& manifest, const format::Digest& digest,
                   const ProductMark& mark) {
  if (manifest.epoch > mark.epoch) {
    return done;
  }
  const bool older = manifest.epoch < mark.epoch || manifest.sequence < mark.sequence;
  const bool equal = manifest.sequence == mark.sequence;
  const bool jump =
      manifest.sequence > mark.sequence && manifest.sequence - mark.sequence > max_jump;
  return Checks()
      .need(!older, Fault::manifest_rollback)
      .need(!equal || digest == mark.manifest, Fault::manifest_same_sequence)
      .need(!jump, Fault::manifest_jump)
      .outcome();
}

} // namespace cardseal::trust
