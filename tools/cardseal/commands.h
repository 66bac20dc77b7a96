// What each subcommand takes and does. The command line (command_line.cpp) fills the structs; one
// file a subcommand holds the work. Results go to stdout, messages to stderr.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "diag/error.h"
#include "io/file.h"
#include "io/secret.h"

namespace cardseal::tool {

inline constexpr const char* tool_name = "cardseal 0.1.0"; // sealed into what it makes

// An exit code, or an error that has one.
using Ran = Try<int>;

struct ImageOptions {
  std::string file;
  std::string format;                        // empty: by content
  std::optional<std::uint64_t> address;      // raw only
  std::string elf_by;                        // sections, segments; empty: see image/elf.h
  std::optional<std::uint32_t> address_unit; // ELF only
  std::vector<std::string> allow;            // missing-end, comments
  std::vector<std::string> merge;            // more files
  std::vector<std::string> crop;             // FIRST-LAST
  std::string move;                          // an offset, with a sign
  std::string align;                         // UNIT[:VALUE]
  std::string fill;                          // [FIRST-LAST:]VALUE
  std::vector<std::string> region;           // NAME:FIRST-LAST
  std::string against;                       // empty: no comparison
  std::string read_back;                     // empty: none; what follows explains differences
  std::string device;                        // a device profile
  std::string release;                       // release.xml or a package, for a unit's serial number
  std::optional<std::uint64_t> unit;         // ordinal
  std::string date_code;                     // of the unit's lot; empty: none
  std::string work_class = "production";     // of the unit's lot
  std::vector<std::string> serial;           // NAME:ADDRESS:BYTES
  std::vector<std::string> kept;             // NAME:FIRST-LAST
  std::vector<std::string> mask;             // NAME:ADDRESS:BYTES
  std::vector<std::string> unreadable;       // NAME:FIRST-LAST
  std::string erased = "FF";                 // bytes, or "none"
  std::string output;                        // empty: describe only
  std::string to;                            // empty: intel-hex
  std::optional<std::uint32_t> record_length; // bytes of data, records only; else 16
  std::optional<std::uint32_t> address_width; // bits, S-record only; else by need
  std::string start;                          // an address, "none", or empty: the image's own
  bool crlf = false;
  bool force = false;
  bool json = false;
};
Ran run_image(const ImageOptions& options);

struct NewOptions {
  std::string folder;
};
Ran run_new(const NewOptions& options);

struct CheckOptions {
  std::string release;
  bool json = false;
};
Ran run_check(const CheckOptions& options);

struct DiffOptions {
  std::string first;               // release.xml or a package
  std::string second;              // the same; empty: first, against the package it follows
  std::vector<std::string> region; // NAME:FIRST-LAST; none: those of an authored release's device
  bool json = false;
};
Ran run_diff(const DiffOptions& options);

struct PackOptions {
  std::string release;
  std::string root;
  std::string output;
  bool force = false;
  bool dry_run = false;
};
Ran run_pack(const PackOptions& options);

struct KeySource { // a private key and where its passphrase comes from
  std::string file;
  io::SecretSource passphrase;
};

struct Elsewhere {          // a signature in two steps, where the private key is not at hand
  std::string public_key;   // whose it will be; or empty
  std::string signed_bytes; // first: write here what is to be signed
  std::string attach;       // then: the signature, 64 raw bytes
};

struct SignOptions {
  std::string package;
  std::string role;
  KeySource key;
  Elsewhere elsewhere;
  std::string root;
  std::string trust;
  std::string meaning;
  std::string reason;
  std::string time; // empty: the clock
  std::optional<std::uint32_t> units_a_station;
  std::optional<std::uint32_t> stations;
  std::string numbers; // FIRST-LAST, ordinals; empty: no limit
  bool plain_file = false;
};
Ran run_sign(const SignOptions& options);

struct VerifyOptions {
  std::string file;
  std::string root;
  std::string trust;                    // packages and withdrawals only
  std::string trust_now;                // today's list beside that of the day; packages only
  std::vector<std::string> withdrawals; // that count beside the list
  bool explain = false;
  bool json = false;
};
Ran run_verify(const VerifyOptions& options);

struct ShowOptions {
  std::string file;
  std::optional<std::uint32_t> signed_bytes; // of sign-off N, from 1
  std::string output = "-";
  bool force = false;
  bool json = false;
};
Ran run_show(const ShowOptions& options);

struct ReviewOptions {
  std::string file; // a package, a card, a statement about a lot, or a register
  std::string output;
  std::string registered; // of a statement: the register of its lot
  std::string previous;   // the package that it follows; empty: not at hand
  std::string root;       // of a card; of a package: with the list, whether its signatures count
  std::string trust;
  std::vector<std::string> withdrawals;
  bool label = false;                // of a card: its label instead of its set-up sheet
  std::string labels;                // of a card: for its boards, WIDTHxHEIGHT in mm
  std::optional<std::uint32_t> job;  // of a card of several packages: whose page, from 1
  std::string stock;                 // COLUMNSxROWS; all three or none
  std::string pitch;                 // mm, across x down
  std::string corner;                // mm, across x down
  std::string units;                 // of --labels: FIRST-LAST, counted from 1; empty: all
  std::string code = "data-matrix";  // on labels
  std::string work_order;            // of a register: whose cards; else empty
  std::vector<std::string> packages; // with work_order, or of a statement
  std::vector<std::string> images;   // with work_order: card images
  std::string model;                 // of a card whose plain file could be for several models
  bool force = false;
};
Ran run_review(const ReviewOptions& options);
Ran run_review_set(const ReviewOptions& options); // of a register, the cards of a work order

struct KeyNewOptions {
  KeySource key;
  std::string public_file;
};
Ran run_key_new(const KeyNewOptions& options);

struct KeyShowOptions {
  std::string file; // a public key
  bool json = false;
};
Ran run_key_show(const KeyShowOptions& options);

struct CardMakeOptions {
  std::vector<std::string> packages; // one, or several for one card
  std::string root;
  std::string trust;
  KeySource key;
  std::string registered; // the register; empty: the next three are stated by hand
  std::optional<std::uint32_t> enrolment;
  std::optional<std::uint64_t> serial; // of the first package's allotment; the others' follow
  std::vector<std::uint64_t> first;    // of all packages, or of each
  std::string card_id;                 // empty: the register makes it
  std::vector<std::string> stations;   // one, or with a register several
  std::string model;
  std::uint32_t cards = 1;
  std::uint32_t spares = 0;
  std::vector<std::uint32_t> units; // on each card, of all packages, or of each
  std::string work_order;
  std::string work_class = "production";
  std::string date_code;          // empty: none
  std::vector<std::string> slots; // of all packages, or of each; none: all permitted
  std::string output;
  std::string sheet;                    // empty: not written apart
  std::vector<std::string> withdrawals; // files to take along
  bool force = false;
  bool dry_run = false;
};
Ran run_card_make(const CardMakeOptions& options);

struct CardListOptions {
  std::string card;
  bool json = false;
};
Ran run_card_list(const CardListOptions& options);

struct CardNoteOptions {
  std::string card; // its id, or its image
  std::string fate;
  std::string registered;
  std::string by;
  std::string note;
};
Ran run_card_note(const CardNoteOptions& options);

struct CardWriteOptions {
  std::vector<std::string> words; // images, and the device last
  std::string root;               // empty: signatures are not looked at
  std::string confirm;
  std::string registered; // the register that keeps which card got the image; empty: none does
  std::string by;         // who writes it, for the register
  bool full = false;
  bool large = false;
  bool fixed = false;
  bool used = false;
};
Ran run_card_write(const CardWriteOptions& options);

struct CardVerifyOptions {
  std::string card;
  std::string root;
  bool returned = false;
  bool json = false;
};
Ran run_card_verify(const CardVerifyOptions& options);

} // namespace cardseal::tool
