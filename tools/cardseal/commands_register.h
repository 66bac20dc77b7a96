// The subcommands of `serial` that work on a register.
#pragma once

#include "commands.h"

namespace cardseal::tool {

struct SerialNewOptions {
  std::string file;
  std::string root;
};
Ran run_serial_new(const SerialNewOptions& options);

struct SerialEnrolOptions {
  std::string file;
  std::string station;
  bool again = false;
  std::optional<std::uint32_t> enrolment;
  std::uint64_t next_serial = 1;
  bool json = false;
};
Ran run_serial_enrol(const SerialEnrolOptions& options);

struct SerialRangeOptions {
  std::string file;
  std::string root;
  std::string trust;
  std::string desk;    // public key
  std::string release; // release.xml or a package
  std::uint64_t count = 0;
  std::string note;
  bool json = false;
};
Ran run_serial_range(const SerialRangeOptions& options);

struct SerialAbandonOptions {
  std::string file;
  std::string root;
  std::string trust;
  std::string desk; // public key
  std::string scheme;
  std::uint64_t before = 0;
  std::string note;
  bool dry_run = false;
};
Ran run_serial_abandon(const SerialAbandonOptions& options);

struct SerialMeetOptions {
  std::string file;
  std::vector<std::string> cards;
  std::string root;
  std::string trust;
  std::string desk; // public key
};
Ran run_serial_meet(const SerialMeetOptions& options);

struct SerialListOptions {
  std::string file;
  bool json = false;
};
Ran run_serial_list(const SerialListOptions& options);
Ran run_serial_check(const SerialListOptions& options);

struct SerialExportOptions {
  std::string file;
  std::string output = "-";
  bool force = false;
};
Ran run_serial_export(const SerialExportOptions& options);

// Several cards with numbers from a register (card_make_set.cpp); `card make --register`.
Ran run_card_make_set(const CardMakeOptions& options);

} // namespace cardseal::tool
