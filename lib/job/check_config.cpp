// The configuration that a unit ends up with: is it known, is it what a release needs, and does it
// agree with board and job?
#include <algorithm>

#include <fmt/format.h>

#include "image/spell.h"
#include "job/checks.h"
#include "job/config_words.h"
#include "job/rules.h"

namespace cardseal::job {
namespace {

using format::Configuration;

std::string_view word_of(Configuration configuration) {
  return format::configuration_words[static_cast<std::size_t>(configuration)];
}

std::string_view word_of(format::Lock lock) {
  return format::lock_words[static_cast<std::size_t>(lock)];
}

bool is_of(const profile::DeviceLock& lock, format::Lock wanted) {
  return wanted == (lock.kind == profile::LockKind::reversible ? format::Lock::reversible
                                                               : format::Lock::permanent);
}

struct Closing { // a field whose value closes an entry
  const profile::ConfigField* field = nullptr;
  const profile::ConfigValue* value = nullptr;
};

class ConfigCheck {
public:
  ConfigCheck(const ReleaseFile& release, const Inputs& in, Findings& findings)
      : release_(release), in_(in), findings_(findings) {}

  void run() {
    check_lock();
    if (!check_stated()) {
      return;
    }
    for (const ConfigState& state : config_states(release_, in_)) {
      if (check_whole(state)) {
        for (const profile::ConfigField& field : state.word->fields) {
          check_field(field, *state.value);
        }
      }
    }
    check_entries();
  }

private:
  void add(const Rule& rule, std::string text, std::string hint) {
    findings_.add(rule, std::move(text), release_.device.place, std::move(hint));
  }

  std::uint64_t bytes_in_config_regions() const {
    std::uint64_t bytes = 0;
    for (const profile::Region& region : in_.device.regions) {
      if (region.kind == profile::RegionKind::config) {
        bytes += bytes_in(in_.firmware.firmware.image, region);
      }
    }
    return bytes;
  }

  // Does the release speak of the device, and of the file?
  bool check_stated() {
    const Configuration stated = release_.device.configuration;
    const std::size_t words = in_.device.configuration ? in_.device.configuration->words.size() : 0;
    if ((stated == Configuration::none) != (words == 0)) {
      add(rules::config_contradicts,
          fmt::format("configuration {} is stated, {} has {}", word_of(stated), in_.device.id,
                      image::spell_count(words, "configuration word")),
          words == 0 ? "state configuration=\"none\", or complete the device's profile"
                     : "state in-firmware or as-delivered");
      return false;
    }
    const std::uint64_t bytes = bytes_in_config_regions();
    if (stated != Configuration::in_firmware && bytes != 0) {
      add(rules::config_contradicts,
          fmt::format("configuration {} is stated, the firmware holds {} of it", word_of(stated),
                      image::spell_count(bytes, "byte")),
          "state in-firmware, or build the firmware without it");
      return false;
    }
    return true;
  }

  bool check_whole(const ConfigState& state) {
    if (state.value) {
      return true;
    }
    const profile::ConfigWord& word = *state.word;
    if (release_.device.configuration == Configuration::in_firmware) {
      add(rules::config_incomplete,
          fmt::format(
              "firmware holds {} of the {} of {} at {}", state.bytes_in_firmware,
              image::spell_count(word.length, "byte"), word.id,
              spell_place(in_.device, word.address, std::uint64_t{word.address} + word.length)),
          "have the build put the whole configuration into the file");
    } else {
      add(rules::config_incomplete,
          fmt::format("profile of {} gives 0 of the {} that {} has as delivered", in_.device.id,
                      image::spell_count(word.length, "byte"), word.id),
          "look up what the maker delivers, and add delivered to the word");
    }
    return false;
  }

  void check_field(const profile::ConfigField& field, std::uint32_t word) {
    const profile::ConfigValue* value = field.value_of(word);
    if (value == nullptr) {
      add(rules::config_unknown,
          fmt::format("{} has bits {:#x}, which {} gives no meaning ({})", field.id,
                      word & field.mask, in_.device.id, field.meaning),
          "look the value up, and add it to the device's profile");
      return;
    }
    check_required(field, *value);
    if (!value->closes.empty()) {
      closing_.push_back({&field, value});
    }
    if (!value->needs.empty() && std::find(in_.board.clocks.begin(), in_.board.clocks.end(),
                                           value->needs) == in_.board.clocks.end()) {
      add(rules::config_clock,
          fmt::format("{} is {} and needs {}, {} lists {}", field.id, value->id, value->needs,
                      in_.board.id, image::spell_count(in_.board.clocks.size(), "other clock")),
          "choose a clock that the board has, or add it to the board's profile");
    }
    check_locked(field, *value);
  }

  // What closes `entry`; null: it is open.
  const Closing* closing(std::string_view entry) const {
    const auto found = std::find_if(closing_.begin(), closing_.end(),
                                    [&](const Closing& one) { return one.value->closes == entry; });
    return found == closing_.end() ? nullptr : &*found;
  }

  // A station gets in by an entry that it and the device have, while it stays open.
  void check_entries() {
    for (const profile::Station& station : in_.stations) {
      std::vector<const Closing*> closed;
      std::size_t common = 0;
      for (const std::string& entry : station.entries) {
        if (std::find(in_.device.entries.begin(), in_.device.entries.end(), entry) !=
            in_.device.entries.end()) {
          ++common;
          if (const Closing* by = closing(entry)) {
            closed.push_back(by);
          }
        }
      }
      if (common == 0) {
        check_no_entry(station);
      } else if (closed.size() == common) {
        add_closed(station, closed);
      }
    }
  }

  void check_no_entry(const profile::Station& station) {
    if (!station.entries.empty() && !in_.device.entries.empty()) {
      add(rules::entry_none,
          fmt::format("{} gets in by {}, {} has {}", station.id, fmt::join(station.entries, " or "),
                      in_.device.id, fmt::join(in_.device.entries, " or ")),
          "name a station that can get in, or correct <entries> of the two profiles");
    } else if (station.entries.empty() && !closing_.empty()) {
      const Closing& first = closing_.front();
      add(rules::config_entry,
          fmt::format("{} is {} and closes entry {}; {} states no entry", first.field->id,
                      first.value->id, first.value->closes, station.id),
          "add <entries> to the station's profile, or leave the entry open");
    }
  }

  void add_closed(const profile::Station& station, const std::vector<const Closing*>& closed) {
    std::string what;
    for (const Closing* one : closed) {
      what += fmt::format("{}{} is {} and closes entry {}", what.empty() ? "" : ", ",
                          one->field->id, one->value->id, one->value->closes);
    }
    add(rules::config_entry,
        fmt::format("{}; {} has no other into {}", what, station.id, in_.device.id),
        "build the firmware with the entry open");
  }

  // What the job's lock makes of a field counts as much as what the firmware holds.
  bool made_by_job(const profile::ConfigField& field, std::string_view value) const {
    return std::any_of(in_.device.locks.begin(), in_.device.locks.end(), [&](const auto& lock) {
      return is_of(lock, release_.settings.lock) && lock.field == field.id && lock.value == value;
    });
  }

  void check_required(const profile::ConfigField& field, const profile::ConfigValue& value) {
    if (field.required.empty() || value.id == field.required ||
        made_by_job(field, field.required)) {
      return;
    }
    add(rules::config_required,
        fmt::format("{} is {} ({}), a release needs {} ({})", field.id, value.id, value.meaning,
                    field.required, field.find_value(field.required)->meaning),
        "build the firmware with the value that is needed");
  }

  // Locked by the firmware's own configuration, before a station has verified anything.
  void check_locked(const profile::ConfigField& field, const profile::ConfigValue& value) {
    for (const profile::DeviceLock& lock : in_.device.locks) {
      if (lock.field == field.id && lock.value == value.id) {
        add(rules::config_lock,
            fmt::format("{} is {} ({}), the job states lock {}", field.id, value.id, value.meaning,
                        word_of(release_.settings.lock)),
            "leave the device open in the firmware, and let the job lock it after verifying");
      }
    }
  }

  void check_lock() {
    const format::Lock wanted = release_.settings.lock;
    const auto is_wanted = [&](const auto& lock) { return is_of(lock, wanted); };
    if (wanted == format::Lock::none ||
        std::any_of(in_.device.locks.begin(), in_.device.locks.end(), is_wanted)) {
      return;
    }
    findings_.add(rules::lock_unknown,
                  fmt::format("the job states lock {}, {} has {} of another kind", word_of(wanted),
                              in_.device.id, image::spell_count(in_.device.locks.size(), "lock")),
                  release_.settings.place, "state a lock that the device has");
  }

  const ReleaseFile& release_;
  const Inputs& in_;
  Findings& findings_;
  std::vector<Closing> closing_;
};

} // namespace

void check_configuration(const ReleaseFile& release, const Inputs& in, Findings& findings) {
  ConfigCheck(release, in, findings).run();
}

} // namespace cardseal::job
