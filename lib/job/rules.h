// What is wrong or worth knowing about a release, one rule a kind of fault. Each has a page
// rules/<id>.md and a case tests/rules/<id>.
#pragma once

#include <cstddef>

#include "diag/finding.h"

namespace cardseal::job::rules {

constexpr Rule refusing(std::string_view id, std::string_view title) {
  return {id, Severity::refuse, false, title};
}
// Quality may set it aside by a signed deviation.
constexpr Rule refusing_unless_waived(std::string_view id, std::string_view title) {
  return {id, Severity::refuse, true, title};
}
constexpr Rule warning(std::string_view id, std::string_view title) {
  return {id, Severity::warn, false, title};
}
constexpr Rule noting(std::string_view id, std::string_view title) {
  return {id, Severity::note, false, title};
}

// firmware
inline constexpr Rule firmware_digest =
    refusing("firmware-digest-differs", "firmware is not the file that was approved");
inline constexpr Rule firmware_outside =
    refusing("firmware-outside-device", "firmware lies outside the device's memory");
inline constexpr Rule firmware_no_data = refusing("firmware-no-data", "firmware holds no byte");
inline constexpr Rule firmware_note =
    noting("firmware-note", "reader of the firmware file noted something");
// supply
inline constexpr Rule absolute_max =
    refusing("supply-above-absolute-max", "supply is above what the device survives");
inline constexpr Rule outside_operating =
    refusing("supply-outside-operating", "device does not work at this supply");
inline constexpr Rule outside_programming =
    refusing_unless_waived("supply-outside-programming", "device is not programmed at this supply");
inline constexpr Rule above_board =
    refusing("supply-above-board", "supply is above the board's limit");
inline constexpr Rule below_board =
    refusing_unless_waived("supply-below-board", "supply is below the board's limit");
inline constexpr Rule outside_station =
    refusing("supply-outside-station", "a station can't give this supply");
inline constexpr Rule off_step =
    refusing("supply-off-step", "supply is between two steps of a station");
inline constexpr Rule supply_margin =
    warning("supply-margin", "supply can leave its limits by a station's tolerance");
inline constexpr Rule both_supplies =
    refusing("supplies-both-on", "station and board would both supply");
inline constexpr Rule no_supply = refusing("supply-missing", "nothing supplies the board");
inline constexpr Rule behind_regulator =
    noting("supply-behind-regulator", "device's own supply is not checked");
// slots and stations
inline constexpr Rule slot_missing = refusing("slot-missing", "a permitted slot is not there");
inline constexpr Rule model_twice =
    refusing("station-model-twice", "two station profiles have one id");
inline constexpr Rule plain_file_forbidden =
    refusing("plain-file-forbidden", "a plain-file station is named, but plain files are not");
inline constexpr Rule verify_none = warning("verify-none", "units are not verified");
// device and board
inline constexpr Rule device_id_missing =
    warning("device-id-missing", "device can't be asked what it is");
inline constexpr Rule board_device =
    refusing("board-device-differs", "board carries another device");
inline constexpr Rule board_product =
    refusing("board-product-differs", "board belongs to another product");
// serial
inline constexpr Rule serial_region =
    refusing("serial-region-unknown", "serial is placed in a region that the device lacks");
inline constexpr Rule serial_outside =
    refusing("serial-outside-region", "serial does not lie within its region");
inline constexpr Rule serial_not_erased =
    refusing("serial-not-erased", "firmware stands where the serial goes");
inline constexpr Rule serial_no_placeholder =
    refusing("serial-no-placeholder", "firmware lacks the bytes that the serial replaces");
inline constexpr Rule serial_not_by_station =
    refusing_unless_waived("serial-not-by-station", "a station can't give serial numbers");
// the rest
inline constexpr Rule from_memory = warning("value-from-memory", "a value was never looked up");
inline constexpr Rule to_fill_in =
    refusing("value-to-fill-in", "a value is still the template's example");
inline constexpr Rule document_empty = refusing("document-empty", "a document holds no byte");
inline constexpr Rule format_limit =
    refusing("format-limit", "more than a release package can hold");

} // namespace cardseal::job::rules

namespace cardseal::job {

inline constexpr const Rule* all_rules[] = {&rules::firmware_digest,
                                            &rules::firmware_outside,
                                            &rules::firmware_no_data,
                                            &rules::firmware_note,
                                            &rules::absolute_max,
                                            &rules::outside_operating,
                                            &rules::outside_programming,
                                            &rules::above_board,
                                            &rules::below_board,
                                            &rules::outside_station,
                                            &rules::off_step,
                                            &rules::supply_margin,
                                            &rules::both_supplies,
                                            &rules::no_supply,
                                            &rules::behind_regulator,
                                            &rules::slot_missing,
                                            &rules::model_twice,
                                            &rules::plain_file_forbidden,
                                            &rules::verify_none,
                                            &rules::device_id_missing,
                                            &rules::board_device,
                                            &rules::board_product,
                                            &rules::serial_region,
                                            &rules::serial_outside,
                                            &rules::serial_not_erased,
                                            &rules::serial_no_placeholder,
                                            &rules::serial_not_by_station,
                                            &rules::from_memory,
                                            &rules::to_fill_in,
                                            &rules::document_empty,
                                            &rules::format_limit};

// An id is a field of a sealed text: at most 32 bytes.
constexpr bool ids_are_unique_and_short() {
  for (std::size_t i = 0; i < std::size(all_rules); ++i) {
    if (all_rules[i]->id.empty() || all_rules[i]->id.size() > 32) {
      return false;
    }
    for (std::size_t j = 0; j < i; ++j) {
      if (all_rules[i]->id == all_rules[j]->id) {
        return false;
      }
    }
  }
  return true;
}
static_assert(ids_are_unique_and_short());

} // namespace cardseal::job
