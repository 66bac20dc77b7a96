// What is wrong or worth knowing about a release, one rule a kind of fault. Each has a page
// rules/<id>.md and a case tests/rules/<id>.
#pragma once

#include <cstddef>

#include "diag/finding.h"

namespace cardseal::job::rules {

// firmware
inline constexpr Rule firmware_digest =
    refusing("firmware-digest-differs", "firmware is not the file that was approved");
inline constexpr Rule firmware_outside =
    refusing("firmware-outside-device", "firmware lies outside the device's memory");
inline constexpr Rule firmware_no_data = refusing("firmware-no-data", "firmware holds no byte");
inline constexpr Rule firmware_end =
    warning("firmware-end-missing", "firmware has no end record, and may be cut short");
inline constexpr Rule firmware_note =
    noting("firmware-note", "reader of the firmware file noted something");
inline constexpr Rule image_digest =
    refusing("image-digest-differs", "firmware's bytes are not those that the build stated");
inline constexpr Rule version_text =
    refusing("version-text-differs", "firmware does not hold its declared version");
// firmware in the device
inline constexpr Rule other_device =
    refusing("firmware-for-other-device", "firmware names another device ID");
inline constexpr Rule word_bits =
    refusing("firmware-word-bits", "firmware sets bits that the device's words lack");
inline constexpr Rule reset_vector =
    refusing("reset-vector-missing", "firmware has nothing where the device begins to run");
inline constexpr Rule kept_touched =
    refusing("kept-location-written", "firmware or serial lies where the device's maker wrote");
inline constexpr Rule kept_over_erase =
    noting("kept-location-over-erase", "stations save and restore what the maker wrote");
inline constexpr Rule write_hole =
    warning("write-unit-hole", "firmware leaves out bytes that others follow");
inline constexpr Rule write_units =
    noting("write-unit-in-part", "firmware gives only part of what is programmed at once");
// configuration and lock
inline constexpr Rule config_contradicts =
    refusing("config-contradicts", "configuration comes from elsewhere than the release states");
inline constexpr Rule config_incomplete =
    refusing("config-incomplete", "a configuration word is not known whole");
inline constexpr Rule config_unknown =
    refusing("config-value-unknown", "a configuration field has a value that the profile lacks");
inline constexpr Rule config_required = refusing_unless_waived(
    "config-not-as-required", "a configuration field is not as a release needs it");
inline constexpr Rule config_clock =
    refusing("config-clock-missing", "configuration selects a clock that the board lacks");
inline constexpr Rule config_entry = refusing_unless_waived(
    "config-entry-closed", "configuration closes the entry by which a station gets in");
inline constexpr Rule entry_none =
    refusing_unless_waived("station-entry-missing", "a station has no way into this device");
inline constexpr Rule config_lock =
    refusing("config-lock-differs", "configuration locks the device, the job does not");
inline constexpr Rule lock_unknown =
    refusing("lock-unknown", "device has no lock of the kind that the job states");
// against the package before
inline constexpr Rule previous_differs =
    refusing("previous-differs", "package before is not the one that the release follows");
inline constexpr Rule previous_not_given =
    warning("previous-not-compared", "changes since the package before are not looked at");
inline constexpr Rule version_same =
    refusing("version-not-changed", "bytes changed, the version did not");
inline constexpr Rule version_back =
    refusing_unless_waived("version-goes-back", "the version is below that of the package before");
inline constexpr Rule version_unlike =
    noting("version-not-comparable", "the versions before and now are not both numbers with dots");
inline constexpr Rule sequence_back =
    refusing("sequence-not-above", "the sequence is not above that of the package before");
inline constexpr Rule outside_order = refusing_unless_waived(
    "change-outside-order", "bytes changed that the change order does not name");
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
inline constexpr Rule current = refusing("supply-current", "boards draw more than a station gives");
inline constexpr Rule charge_time =
    refusing("supply-charge-time", "a board does not start while a station waits for it");
inline constexpr Rule discharge =
    refusing_unless_waived("supply-discharge", "boards are taken off while they hold a voltage");
inline constexpr Rule both_supplies =
    refusing("supplies-both-on", "station and board would both supply");
inline constexpr Rule no_supply = refusing("supply-missing", "nothing supplies the board");
inline constexpr Rule signals_above =
    refusing("signals-above-board", "a station's lines stand above what the board takes");
inline constexpr Rule signals_below = refusing_unless_waived(
    "signals-below-board", "a station's lines can be too low to be taken for high");
inline constexpr Rule not_sensed = warning(
    "foreign-voltage-not-sensed", "a station does not notice a board that is supplied already");
// verify
inline constexpr Rule verify_none = warning("verify-none", "units are not verified");
inline constexpr Rule verify_limits =
    refusing("verify-limits-wrong", "supplies to verify at do not enclose the job's supply");
inline constexpr Rule verify_own_supply =
    refusing("verify-own-supply", "a board that supplies itself can't be verified at two supplies");
inline constexpr Rule verify_regulator = refusing(
    "verify-behind-regulator", "supplies to verify at do not reach the device behind a regulator");
inline constexpr Rule verify_beyond = refusing_unless_waived(
    "verify-beyond-device", "device need not read right at a supply to verify at");
inline constexpr Rule verify_low_not_reached = refusing(
    "verify-low-not-reached", "a board does not fall to the low supply while a station waits");
inline constexpr Rule verify_not_by_station =
    refusing("verify-not-by-station", "a station can't verify at two supplies");
// slots and stations
inline constexpr Rule own_not_by_station =
    refusing("own-supply-not-by-station", "a station can't work on a board that supplies itself");
inline constexpr Rule kept_not_by_station =
    refusing("kept-not-by-station", "a station does not put back what the erase takes");
inline constexpr Rule erase_none =
    warning("erase-none-not-blank", "nobody sees that a device is blank before it is written");
inline constexpr Rule panel_missing =
    refusing("panel-place-missing", "a permitted slot has no position on the panel");
inline constexpr Rule time_unknown = noting("time-not-known", "how long a lot takes can't be told");
inline constexpr Rule slot_missing = refusing("slot-missing", "a permitted slot is not there");
inline constexpr Rule buffer_keeps =
    warning("station-buffer-keeps", "bytes of the job before may stay where firmware has none");
inline constexpr Rule title_cut =
    warning("title-cut-by-display", "a station does not show the whole title");
inline constexpr Rule model_twice =
    refusing("station-model-twice", "two station profiles have one id");
inline constexpr Rule plain_file_forbidden =
    refusing("plain-file-forbidden", "a plain-file station is named, but plain files are not");
// device and board
inline constexpr Rule device_id_missing =
    warning("device-id-missing", "device can't be asked what it is");
inline constexpr Rule revision_barred = warning(
    "silicon-revision-barred", "people must sort out devices that the product may not have");
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
inline constexpr Rule serial_word_bits =
    refusing("serial-word-bits", "serial sets bits that the device's words lack");
inline constexpr Rule serial_shares_unit =
    warning("serial-shares-write-unit", "serial and firmware are programmed at once");
inline constexpr Rule serial_shares_ecc = refusing(
    "serial-shares-ecc-word", "a station that counts by itself would write an ECC word twice");
inline constexpr Rule serial_in_sum =
    refusing("serial-in-own-sum", "serial stands in what the firmware sums itself");
inline constexpr Rule label_short = refusing_unless_waived(
    "serial-longer-than-label", "serial text is longer than the label has room for");
inline constexpr Rule serial_changed =
    refusing("serial-scheme-changed", "the scheme differs from that of the package before");
inline constexpr Rule serial_repeats =
    warning("serial-text-may-repeat", "a serial text can be one that was given before");
inline constexpr Rule prefix_taken =
    refusing("serial-prefix-taken", "a serial text can begin as another class's or factory's do");
inline constexpr Rule serial_confusable =
    noting("serial-confusable", "serial text has characters that people take for each other");
inline constexpr Rule serial_not_by_station =
    refusing_unless_waived("serial-not-by-station", "a station can't give serial numbers");
// deviations
inline constexpr Rule deviation_barred =
    refusing("deviation-not-allowed", "a deviation names a rule that none can set aside");
inline constexpr Rule deviation_idle =
    warning("deviation-without-finding", "a deviation sets nothing aside");
// the rest
inline constexpr Rule limit_from_memory =
    refusing("limit-from-memory", "a limit that protects boards was never looked up");
inline constexpr Rule from_memory =
    refusing_unless_waived("value-from-memory", "a value was never looked up");
inline constexpr Rule sum_not_comparable =
    noting("checksum-not-comparable", "a station's checksum can't be compared with anything");
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
                                            &rules::firmware_end,
                                            &rules::firmware_note,
                                            &rules::image_digest,
                                            &rules::version_text,
                                            &rules::other_device,
                                            &rules::word_bits,
                                            &rules::reset_vector,
                                            &rules::kept_touched,
                                            &rules::kept_over_erase,
                                            &rules::write_hole,
                                            &rules::write_units,
                                            &rules::config_contradicts,
                                            &rules::config_incomplete,
                                            &rules::config_unknown,
                                            &rules::config_required,
                                            &rules::config_clock,
                                            &rules::config_entry,
                                            &rules::entry_none,
                                            &rules::config_lock,
                                            &rules::lock_unknown,
                                            &rules::previous_differs,
                                            &rules::previous_not_given,
                                            &rules::version_same,
                                            &rules::version_back,
                                            &rules::version_unlike,
                                            &rules::sequence_back,
                                            &rules::outside_order,
                                            &rules::absolute_max,
                                            &rules::outside_operating,
                                            &rules::outside_programming,
                                            &rules::above_board,
                                            &rules::below_board,
                                            &rules::outside_station,
                                            &rules::off_step,
                                            &rules::current,
                                            &rules::charge_time,
                                            &rules::discharge,
                                            &rules::both_supplies,
                                            &rules::no_supply,
                                            &rules::signals_above,
                                            &rules::signals_below,
                                            &rules::not_sensed,
                                            &rules::verify_none,
                                            &rules::verify_limits,
                                            &rules::verify_own_supply,
                                            &rules::verify_regulator,
                                            &rules::verify_beyond,
                                            &rules::verify_low_not_reached,
                                            &rules::verify_not_by_station,
                                            &rules::own_not_by_station,
                                            &rules::kept_not_by_station,
                                            &rules::erase_none,
                                            &rules::panel_missing,
                                            &rules::time_unknown,
                                            &rules::slot_missing,
                                            &rules::buffer_keeps,
                                            &rules::title_cut,
                                            &rules::model_twice,
                                            &rules::plain_file_forbidden,
                                            &rules::device_id_missing,
                                            &rules::revision_barred,
                                            &rules::board_device,
                                            &rules::board_product,
                                            &rules::serial_region,
                                            &rules::serial_outside,
                                            &rules::serial_not_erased,
                                            &rules::serial_no_placeholder,
                                            &rules::serial_word_bits,
                                            &rules::serial_shares_unit,
                                            &rules::serial_shares_ecc,
                                            &rules::serial_in_sum,
                                            &rules::label_short,
                                            &rules::serial_changed,
                                            &rules::serial_repeats,
                                            &rules::prefix_taken,
                                            &rules::serial_confusable,
                                            &rules::serial_not_by_station,
                                            &rules::deviation_barred,
                                            &rules::deviation_idle,
                                            &rules::limit_from_memory,
                                            &rules::from_memory,
                                            &rules::sum_not_comparable,
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
