#include "base/fault.h"

namespace cardseal {
namespace {

constexpr std::string_view remake = "make the card again from the package; do not use this one";
constexpr std::string_view resend = "get the file again from the person who sent it";
constexpr std::string_view ask_release = "ask the release engineer";
constexpr std::string_view ask_quality = "ask quality";
constexpr std::string_view ask_service = "ask whoever enrolled this station";

constexpr FaultText none_text{Fault::none, "OK", "nothing to refuse", ""};

constexpr FaultText texts[] = {
    {Fault::text_too_long, "TEXT TOO LONG", "a sealed text is longer than its kind allows", resend},
    {Fault::text_header, "TEXT KIND", "a sealed text does not start with its kind and version",
     resend},
    {Fault::text_line, "TEXT LINE", "a line is too long or has no line feed at its end", resend},
    {Fault::text_key, "TEXT KEY", "a key is unknown, missing or out of its order", resend},
    {Fault::text_fields, "TEXT FIELDS", "a line has too few or too many fields", resend},
    {Fault::text_form, "TEXT FORM", "a field is not spelled in its one form", resend},
    {Fault::text_range, "TEXT RANGE", "a field is outside its range", resend},
    {Fault::text_count, "TEXT COUNT", "a count is above what a station can hold", resend},
    {Fault::text_order, "TEXT ORDER", "repeated lines are not strictly ascending", resend},
    {Fault::text_end, "TEXT END", "something follows the last line, or the text ends early",
     resend},
    {Fault::text_reference, "TEXT REFERENCE",
     "a line names a person, role or extent that the text does not hold", resend},

    {Fault::container_header, "PACKAGE HEADER", "an entry header differs from the one allowed form",
     resend},
    {Fault::container_entry, "PACKAGE ENTRY", "an entry is unknown, missing or out of its order",
     resend},
    {Fault::container_size, "PACKAGE SIZE", "an entry is larger than its kind allows", resend},
    {Fault::container_padding, "PACKAGE PADDING", "bytes between entries are not zero", resend},
    {Fault::container_end, "PACKAGE END", "the package does not end with exactly two zero blocks",
     resend},
    {Fault::container_short, "PACKAGE SHORT", "the package is cut short", resend},
    {Fault::container_signoffs, "SIGN-OFF COUNT",
     "there are more sign-offs than a station can hold", ask_release},
    {Fault::container_manifest, "PACKAGE CONTENT", "an entry is not what the manifest says",
     resend},

    {Fault::root_other_owner, "OTHER OWNER", "the root belongs to another owner", ask_service},
    {Fault::root_newer, "NEWER ROOT", "the card was made under a newer root than this station has",
     ask_service},
    {Fault::trust_signature, "LIST SIGNATURE",
     "the trust list does not carry enough valid root signatures", ask_release},
    {Fault::trust_owner, "LIST OWNER", "the trust list belongs to another owner", ask_release},
    {Fault::trust_root, "LIST ROOT", "the trust list was made under another root version",
     ask_release},
    {Fault::trust_same_sequence, "LIST DIFFERS",
     "two different trust lists carry one sequence number", ask_quality},
    {Fault::trust_missing, "NO LIST", "there is no trust list on the card or in the station",
     ask_release},
    {Fault::trust_windows, "LIST WINDOWS", "two windows of the trust list share numbers",
     ask_release},
    {Fault::index_signature, "CARD SIGNATURE",
     "the card index is not signed by an active key of role allot", ask_release},
    {Fault::index_owner, "CARD OWNER", "the card index belongs to another owner", ask_release},
    {Fault::index_trust, "CARD LIST", "the card index names a newer trust list than the card holds",
     remake},
    {Fault::index_root, "CARD ROOT", "the card index names another root version", remake},
    {Fault::signature_form, "SIGNATURE FORM",
     "a signature is not 64 bytes in its one form, or uses a forbidden point", resend},
    {Fault::signature_bad, "SIGNATURE BAD",
     "a signature does not verify under any active key on the trust list", ask_release},
    {Fault::signature_order, "SIGNATURE ORDER",
     "signatures are not strictly ascending by public key", resend},

    {Fault::signoff_release, "NO RELEASE SIGN", "a sign-off in role release is missing",
     ask_release},
    {Fault::signoff_quality, "NO QUALITY SIGN", "a sign-off in role quality is missing",
     ask_quality},
    {Fault::signoff_one_person, "ONE PERSON", "one person signed in two roles", ask_quality},
    {Fault::signoff_owner, "SIGN-OFF OWNER", "a sign-off belongs to another owner", ask_release},
    {Fault::signoff_manifest, "SIGN-OFF OTHER", "a sign-off was made for another package",
     ask_release},
    {Fault::signoff_product, "SIGN-OFF PRODUCT", "a sign-off names another product", ask_release},
    {Fault::signoff_sequence, "SIGN-OFF NUMBER", "a sign-off names another epoch or sequence",
     ask_release},
    {Fault::signoff_role, "SIGN-OFF ROLE", "a sign-off claims a role that its key does not have",
     ask_quality},
    {Fault::signoff_person, "SIGN-OFF PERSON", "a sign-off names another person than its key's",
     ask_quality},
    {Fault::signoff_key, "SIGN-OFF KEY", "a sign-off names another key than the one that signed",
     ask_quality},
    {Fault::signoff_previous, "SIGN-OFF CHAIN",
     "the quality sign-off does not follow the release sign-off in this package", ask_quality},
    {Fault::signoff_key_product, "KEY PRODUCT", "the signing key is not enrolled for this product",
     ask_quality},
    {Fault::signoff_engineering, "NO ENGINEERING", "a sign-off in role engineering is missing",
     ask_release},
    {Fault::signoff_order, "SIGN-OFF ORDER",
     "sign-offs are not in the order in which they are made", ask_release},
    {Fault::signoff_revoked, "KEY REVOKED", "a sign-off was made with a key since revoked",
     ask_quality},
    {Fault::signoff_trust, "NEWER LIST",
     "a sign-off was made under a newer trust list than this one", ask_release},

    {Fault::manifest_owner, "PACKAGE OWNER", "the package belongs to another owner", ask_release},
    {Fault::manifest_withdrawn, "WITHDRAWN", "this package was withdrawn", ask_quality},
    {Fault::manifest_product, "OTHER PRODUCT", "the product is not on the trust list", ask_release},
    {Fault::manifest_epoch, "EPOCH", "the package's epoch is not the trust list's", ask_release},
    {Fault::manifest_floor, "TOO OLD", "the package is below the lowest sequence still allowed",
     ask_release},
    {Fault::manifest_rollback, "OLDER THAN LAST",
     "this station has already worked with a newer package of this product", ask_release},
    {Fault::manifest_same_sequence, "SAME NUMBER",
     "this station knows another package with the same sequence number", ask_quality},
    {Fault::manifest_jump, "SEQUENCE JUMP", "the sequence is more than 1000 above the last one",
     ask_release},
    {Fault::manifest_title, "TITLE", "the title does not fit the class: NOT SHIP marks engineering",
     ask_release},
    {Fault::manifest_segments, "SEGMENTS", "segments overlap, touch, or do not add up to the image",
     ask_release},
    {Fault::manifest_placement, "PLACEMENT", "a serial placement does not fit its scheme or memory",
     ask_release},

    {Fault::allotment_signature, "ALLOT SIGNATURE",
     "the allotment is not signed by an active key of role allot", ask_release},
    {Fault::allotment_owner, "ALLOT OWNER", "the allotment belongs to another owner", ask_release},
    {Fault::allotment_manifest, "ALLOT PACKAGE", "the allotment is for another package", remake},
    {Fault::allotment_product, "ALLOT PRODUCT", "the allotment is for another product", remake},
    {Fault::allotment_scheme, "ALLOT SCHEME", "the allotment is for another serial scheme", remake},
    {Fault::allotment_card, "ALLOT CARD", "the allotment is for another card", remake},
    {Fault::allotment_station, "OTHER STATION", "the card was made for another station",
     "use the station that the card's label names"},
    {Fault::allotment_enrolment, "OLD ENROLMENT",
     "the card was made for an earlier enrolment of this station", remake},
    {Fault::allotment_serial, "OLD ALLOTMENT",
     "this station has finished with allotments up to a later number", remake},
    {Fault::allotment_window, "NUMBER WINDOW",
     "the numbers lie outside what the signing key may give out", ask_release},
    {Fault::allotment_capacity, "CAPACITY", "the numbers run past the end of the serial scheme",
     ask_release},
    {Fault::allotment_limits, "QUALITY LIMIT", "the allotment exceeds what quality signed for",
     ask_quality},
    {Fault::allotment_class, "CLASS", "the class of work does not fit the sign-offs or the units",
     ask_quality},
    {Fault::allotment_slots, "SLOT SET", "a slot is enabled that the release does not permit",
     ask_release},
    {Fault::allotment_used_up, "CARD USED UP", "every unit of this card has been started",
     "ask the release engineer for a new card"},
    {Fault::allotment_units, "UNIT COUNT", "more units are allotted than numbers", ask_release},
    {Fault::allotment_date_code, "DATE CODE", "the date code does not fit the serial scheme",
     remake},

    {Fault::station_model, "OTHER MODEL", "the release does not name this station's model",
     ask_release},
    {Fault::station_slots, "NO SUCH SLOT", "the release uses a slot that this station lacks",
     ask_release},
    {Fault::station_supply, "SUPPLY RANGE", "this station can't make the supply voltage asked for",
     ask_release},
    {Fault::station_step, "SUPPLY STEP", "the supply voltage is not on this station's step",
     ask_release},
    {Fault::station_supply_kind, "SUPPLY KIND",
     "this station can't work boards that bring their own supply", ask_release},

    {Fault::card_read, "CARD READ", "the card can't be read", remake},
    {Fault::card_sector0, "CARD START",
     "the card's first sector is neither partition table nor "
     "volume",
     remake},
    {Fault::card_volume, "CARD FORMAT", "the card's volume is not FAT32 in the form required",
     remake},
    {Fault::card_chain, "CARD CHAIN", "a file's clusters do not fit its size", remake},
    {Fault::card_missing, "FILE MISSING", "a file that the card must hold is not there", remake},
    {Fault::card_size, "FILE SIZE", "a file's size is not the one that was signed", remake},
    {Fault::card_digest, "FILE CHANGED", "a file's bytes are not the ones that were signed",
     remake},
    {Fault::card_log, "LOG EXTENT", "the run log does not lie where the signed index says", remake},
    {Fault::card_empty, "NO WORK", "the card holds no work for this station", ask_release},
    {Fault::image_block, "BLOCK CHANGED", "a block of the image is not the approved one", remake},
    {Fault::card_list, "CARD INDEX", "the card index names a package or allotment in a wrong way",
     remake},

    {Fault::state_missing, "NOT ENROLLED", "this station has no memory of its owner", ask_service},
    {Fault::state_damaged, "MEMORY DAMAGED", "this station's memory is damaged", ask_service},
    {Fault::state_write, "MEMORY WRITE", "this station's memory can't be written", ask_service},
    {Fault::state_room, "MEMORY FULL", "this station's memory has no room for another product",
     ask_service},
    {Fault::log_full, "LOG FULL", "the card's run log has no room for another cycle",
     "finish with this card; ask the release engineer for a new one"},
    {Fault::log_write, "LOG WRITE", "the run log can't be written",
     "put the card in again; if it stays so, finish with this card"},
    {Fault::slot_stopped, "SLOT STOPPED", "too many boards in a row failed at this slot",
     "look at its contacts and cable before the boards; then put the card in again"},
};

} // namespace

std::span<const FaultText> all_faults() {
  return texts;
}

const FaultText& fault_text(Fault fault) {
  for (const FaultText& text : texts) {
    if (text.fault == fault) {
      return text;
    }
  }
  return none_text;
}

} // namespace cardseal
