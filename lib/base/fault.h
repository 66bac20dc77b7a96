// The numbered reasons for refusing a text, a package, a card or a job. Numbers never change their
// meaning; a retired number is not used again.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>

namespace cardseal {

enum class Fault : std::uint16_t {
  none = 0,

  // 1xx: the form of a sealed text; position is the line
  text_too_long = 101,
  text_header = 102,
  text_line = 103,
  text_key = 104,
  text_fields = 105,
  text_form = 106,
  text_range = 107,
  text_count = 108,
  text_order = 109,
  text_end = 110,
  text_reference = 111,

  // 2xx: the form of a package; position is the byte offset
  container_header = 201,
  container_entry = 202,
  container_size = 203,
  container_padding = 204,
  container_end = 205,
  container_short = 206,
  container_signoffs = 207,
  container_manifest = 208, // an entry is not what the manifest says

  // 30x to 33x: roots, trust list, signatures, withdrawals
  root_other_owner = 301,
  root_newer = 302,
  trust_signature = 303,
  trust_owner = 304,
  trust_root = 305,
  trust_same_sequence = 306,
  trust_missing = 307,
  trust_windows = 308,
  root_signature = 309,
  root_step = 310,
  index_signature = 311,
  index_owner = 312,
  index_trust = 313,
  index_root = 314,
  root_older = 315,
  root_differs = 316,
  signature_form = 321,
  signature_bad = 322,
  signature_order = 323,
  withdrawal_signature = 331,
  withdrawal_owner = 332,
  withdrawal_person = 333,

  // 34x to 35x: sign-offs
  signoff_release = 341,
  signoff_quality = 342,
  signoff_one_person = 343,
  signoff_owner = 344,
  signoff_manifest = 345,
  signoff_product = 346,
  signoff_sequence = 347,
  signoff_role = 348,
  signoff_person = 349,
  signoff_key = 350,
  signoff_previous = 351,
  signoff_key_product = 352,
  signoff_engineering = 353,
  signoff_order = 354,
  signoff_revoked = 355,
  signoff_trust = 356,

  // 36x: manifest
  manifest_owner = 361,
  manifest_withdrawn = 362,
  manifest_product = 363,
  manifest_epoch = 364,
  manifest_floor = 365,
  manifest_rollback = 366,
  manifest_same_sequence = 367,
  manifest_jump = 368,
  manifest_title = 369,
  manifest_segments = 370,
  manifest_placement = 371,

  // 38x to 39x: allotment
  allotment_signature = 381,
  allotment_owner = 382,
  allotment_manifest = 383,
  allotment_product = 384,
  allotment_scheme = 385,
  allotment_card = 386,
  allotment_station = 387,
  allotment_enrolment = 388,
  allotment_serial = 389,
  allotment_window = 390,
  allotment_capacity = 391,
  allotment_limits = 392,
  allotment_class = 393,
  allotment_slots = 394,
  allotment_used_up = 395,
  allotment_units = 396,
  allotment_date_code = 397,
  allotment_withdrawn = 398,

  // 4xx: job settings against the station's own limits
  station_model = 401,
  station_slots = 402,
  station_supply = 403,
  station_step = 404,
  station_supply_kind = 405,

  // 5xx: the card
  card_read = 501,
  card_sector0 = 502,
  card_volume = 503,
  card_chain = 504,
  card_missing = 505,
  card_size = 506,
  card_digest = 507,
  card_log = 508,
  card_empty = 509,
  image_block = 510,
  card_list = 511,

  // 6xx: the station itself
  state_missing = 601,
  state_damaged = 602,
  state_write = 603,
  state_room = 604,
  log_full = 611,
  log_write = 612,
  slot_stopped = 613,
  board_other = 614,
};

struct FaultText {
  Fault fault;
  std::string_view display;  // at most 16 characters of A-Z, 0-9, space
  std::string_view sentence; // for people; lower case, no full stop
  std::string_view advice;   // whom to ask or what to do
};

std::span<const FaultText> all_faults(); // ascending by number, without `none`
const FaultText& fault_text(Fault fault);

} // namespace cardseal
