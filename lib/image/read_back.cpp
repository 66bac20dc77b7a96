#include "image/read_back.h"

#include <algorithm>
#include <limits>
#include <optional>
#include <set>

#include "image/image_builder.h"
#include "image/spell.h"

namespace cardseal::image {
namespace {

constexpr std::size_t longest_pattern = 8;
constexpr std::uint64_t addresses_end = std::numeric_limits<std::uint64_t>::max();

struct Zone {
  const std::string* name = nullptr;
  std::uint64_t address = 0;
  std::uint64_t length = 0;
  ByteView bytes; // empty for a range
  std::uint64_t end() const { return address + length; }
  bool holds(std::uint64_t at) const { return at >= address && at < end(); }
};

Error usage(const char* code, const char* what, std::string found, std::string expected) {
  Error error;
  error.kind = ErrorKind::usage;
  error.code = code;
  error.what = what;
  error.found = std::move(found);
  error.expected = std::move(expected);
  return error;
}

Error wrong_pattern(std::size_t size) {
  return usage("read-back-erased", "erased value is no word", spell_count(size, "byte"),
               "1 to " + std::to_string(longest_pattern) + " bytes");
}

// One kind of rule, in address order.
class Zones {
public:
  explicit Zones(const std::vector<NamedRange>& ranges) {
    for (const NamedRange& each : ranges) {
      zones_.push_back({&each.name, each.range.address, each.range.length, {}});
    }
    sort();
  }
  explicit Zones(const std::vector<NamedBytes>& named) {
    for (const NamedBytes& each : named) {
      zones_.push_back({&each.name, each.address, each.bytes.size(), each.bytes});
    }
    sort();
  }

  Try<void> check() const {
    for (std::size_t index = 0; index < zones_.size(); ++index) {
      const Zone& zone = zones_[index];
      if (zone.length == 0 || zone.length > addresses_end - zone.address) {
        return Unexpected(usage("image-range", "range is empty or passes the last address",
                                *zone.name + ", " + spell_count(zone.length, "byte") + " from " +
                                    spell_address(zone.address),
                                "1 byte or more, below the last address"));
      }
      if (index != 0 && zone.address < zones_[index - 1].end()) {
        return Unexpected(usage("regions-overlap", "two regions overlap",
                                *zone.name + " from " + spell_address(zone.address),
                                "after the end of " + *zones_[index - 1].name));
      }
    }
    return {};
  }

  const std::vector<Zone>& all() const { return zones_; }

  // The zone that holds `address`, else null; `until` becomes the next address where that changes,
  // unless it is lower.
  const Zone* at(std::uint64_t address, std::uint64_t& until) const {
    const auto next =
        std::upper_bound(zones_.begin(), zones_.end(), address,
                         [](std::uint64_t value, const Zone& zone) { return value < zone.end(); });
    if (next == zones_.end()) {
      return nullptr;
    }
    const bool inside = next->holds(address);
    until = std::min(until, inside ? next->end() : next->address);
    return inside ? &*next : nullptr;
  }

private:
  void sort() {
    std::sort(zones_.begin(), zones_.end(),
              [](const Zone& a, const Zone& b) { return a.address < b.address; });
  }
  std::vector<Zone> zones_;
};

// Which rules are in force where nothing changes.
struct InForce {
  const Zone* unreadable = nullptr;
  const Zone* serial = nullptr;
  const Zone* kept = nullptr;
  const Zone* mask = nullptr;
};

using Byte = std::optional<std::uint8_t>;

class Explainer {
public:
  Explainer(const SparseImage& image, const ReadBackRules& rules, std::size_t ranges_kept)
      : image_(image), rules_(rules), most_(ranges_kept), unreadable_(rules.unreadable),
        serial_(rules.serial), kept_(rules.kept), masks_(rules.configuration),
        delivered_(rules.delivered) {}

  Try<void> check() const {
    for (const Zones* zones : {&unreadable_, &serial_, &kept_, &masks_, &delivered_}) {
      if (auto right = zones->check(); !right) {
        return right;
      }
    }
    if (rules_.erased.size() > longest_pattern) {
      return Unexpected(wrong_pattern(rules_.erased.size()));
    }
    for (const ErasedRange& each : rules_.erased_in) {
      if (each.bytes.empty() || each.bytes.size() > longest_pattern) {
        return Unexpected(wrong_pattern(each.bytes.size()));
      }
    }
    return {};
  }

  // The image with the unit's serial number in it.
  SparseImage expected() const {
    ImageBuilder builder;
    std::uint16_t first_file = builder.add_file("serial");
    const std::uint16_t serial = first_file++;
    for (const std::string& name : image_.files()) {
      builder.add_file(name);
    }
    std::uint64_t from = 0;
    const auto keep_up_to = [&](std::uint64_t to) {
      for (const Piece& piece : image_.pieces()) {
        builder.add_piece(image_, piece, first_file, from, to);
      }
    };
    for (const Zone& zone : serial_.all()) {
      keep_up_to(zone.address);
      builder.add(zone.address, zone.bytes, serial, 0);
      from = zone.end();
    }
    keep_up_to(addresses_end);
    add_delivered(builder, serial);
    Notes none;
    return builder.finish(none).value(); // no address is given twice
  }

  void add_delivered(ImageBuilder& builder, std::uint16_t file) const {
    for (const Zone& zone : delivered_.all()) {
      for (std::uint64_t at = zone.address; at < zone.end(); ++at) {
        std::uint64_t until = zone.end();
        if (!image_.at(at) && serial_.at(at, until) == nullptr) {
          builder.add(at, zone.bytes.subspan(at - zone.address, 1), file, 0);
        }
      }
    }
  }

  void take(std::uint64_t address, ByteView wanted, ByteView read) {
    const std::uint64_t length = std::max(wanted.size(), read.size());
    for (std::uint64_t at = 0; at < length;) {
      std::uint64_t until = address + length;
      InForce force;
      force.unreadable = unreadable_.at(address + at, until);
      force.serial = serial_.at(address + at, until);
      force.kept = kept_.at(address + at, until);
      force.mask = masks_.at(address + at, until);
      for (; address + at < until; ++at) {
        take_byte(address + at, wanted.empty() ? Byte{} : wanted[at],
                  read.empty() ? Byte{} : read[at], force);
      }
    }
  }

  // Before the walk: whether the maker's own is still there.
  void look_at_kept(const SparseImage& read_back) {
    for (const Zone& zone : kept_.all()) {
      bool erased = true;
      for (std::uint64_t at = zone.address; at < zone.end() && erased; ++at) {
        const Byte read = read_back.at(at);
        erased = read && read == erased_at(at);
      }
      if (erased) {
        lost_.insert(&zone);
      }
    }
  }

  ReadBackReport result() {
    std::vector<Explained>& all = out_.ranges;
    all = std::move(unexplained_);
    all.insert(all.end(), explained_.begin(), explained_.end());
    std::sort(all.begin(), all.end(), [](const Explained& a, const Explained& b) {
      return a.difference.range.address < b.difference.range.address;
    });
    return std::move(out_);
  }

private:
  void take_byte(std::uint64_t address, Byte wanted, Byte read, const InForce& force) {
    if (wanted == read) {
      const Byte given = force.serial != nullptr ? image_.at(address) : read;
      if (given == read) {
        ++out_.equal_bytes;
      } else {
        add(Cause::serial, force.serial, address, given, read);
      }
      return;
    }
    if (!read && force.serial == nullptr && !image_.at(address)) {
      return; // only the delivered value is known, and this part was not read
    }
    if (force.unreadable == nullptr && force.kept != nullptr && lost_.contains(force.kept)) {
      add(Cause::unexplained, nullptr, address, wanted, read);
    } else if (!wanted && read && read == erased_at(address)) {
      ++out_.erased_bytes;
    } else if (force.unreadable != nullptr) {
      add(Cause::unreadable, force.unreadable, address, wanted, read);
    } else if (force.serial != nullptr) {
      add(Cause::unexplained, nullptr, address, wanted, read);
    } else if (force.kept != nullptr) {
      add(Cause::kept, force.kept, address, wanted, read);
    } else if (force.mask != nullptr && wanted && read &&
               ((*wanted ^ *read) & force.mask->bytes[address - force.mask->address]) == 0) {
      add(Cause::configuration, force.mask, address, wanted, read);
    } else {
      add(Cause::unexplained, nullptr, address, wanted, read);
    }
  }

  Byte erased_at(std::uint64_t address) const {
    for (const ErasedRange& each : rules_.erased_in) {
      const Segment& range = each.place.range;
      if (address >= range.address && address - range.address < range.length) {
        return each.bytes[(address - range.address) % each.bytes.size()];
      }
    }
    const std::vector<std::uint8_t>& other = rules_.erased;
    return other.empty() ? Byte{} : other[address % other.size()];
  }

  // What goes on where the last range ended, for the same reason, is the same range.
  void add(Cause cause, const Zone* why, std::uint64_t address, Byte a, Byte b) {
    const Difference what = !a   ? Difference::only_in_b
                            : !b ? Difference::only_in_a
                                 : Difference::bytes_differ;
    ++out_.bytes[static_cast<std::size_t>(cause)];
    std::vector<Explained>& list = cause == Cause::unexplained ? unexplained_ : explained_;
    const bool goes_on = out_.range_count != 0 && last_cause_ == cause && last_why_ == why &&
                         last_what_ == what && last_end_ == address;
    last_cause_ = cause;
    last_why_ = why;
    last_what_ = what;
    last_end_ = address + 1;
    if (!goes_on) {
      ++out_.range_count;
      listed_ = list.size() < most_;
      if (listed_) {
        list.push_back({cause, why == nullptr ? std::string() : *why->name, {}});
        list.back().difference.what = what;
        list.back().difference.range.address = address;
      }
    }
    if (listed_) {
      DifferentRange& range = list.back().difference;
      ++range.range.length;
      show(range.a, a);
      show(range.b, b);
    }
  }

  static void show(std::vector<std::uint8_t>& shown, Byte byte) {
    if (byte && shown.size() < bytes_shown) {
      shown.push_back(*byte);
    }
  }

  const SparseImage& image_;
  const ReadBackRules& rules_;
  std::size_t most_;
  Zones unreadable_;
  Zones serial_;
  Zones kept_;
  Zones masks_;
  Zones delivered_;
  std::set<const Zone*> lost_; // kept locations that read as erased
  ReadBackReport out_;
  std::vector<Explained> unexplained_;
  std::vector<Explained> explained_;
  Cause last_cause_ = Cause::unexplained;
  const Zone* last_why_ = nullptr;
  Difference last_what_ = Difference::bytes_differ;
  std::uint64_t last_end_ = 0;
  bool listed_ = false; // the last range
};

} // namespace

Try<ReadBackReport> explain(const SparseImage& image, const SparseImage& read_back,
                            const ReadBackRules& rules, std::size_t ranges_kept) {
  Explainer explainer(image, rules, ranges_kept);
  if (auto right = explainer.check(); !right) {
    return Unexpected(std::move(right).error());
  }
  explainer.look_at_kept(read_back);
  walk_both(explainer.expected(), read_back,
            [&](std::uint64_t address, ByteView wanted, ByteView read) {
              explainer.take(address, wanted, read);
            });
  return explainer.result();
}

} // namespace cardseal::image
