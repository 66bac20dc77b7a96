// What the subcommands of `label` are asked for.
#pragma once

#include <string>
#include <vector>

#include "commands.h"

namespace cardseal::tool {

struct LabelExportOptions {
  std::string work_order;
  std::string registered;
  std::string package;
  std::vector<std::string> cards;   // ids; empty: all of the lot
  std::vector<std::string> serials; // labels that were scrapped, to be printed anew; else none
  std::string by;
  std::string output;
  bool force = false;
};
Ran run_label_export(const LabelExportOptions& options);

struct LabelScanOptions {
  std::string work_order;
  std::string scan; // CSV: cycle,slot,label
  std::string registered;
  std::string package;
  std::string card;              // its id; empty: the lot has one
  std::vector<std::string> logs; // of that card
  std::string by;
  bool dry_run = false;
  bool json = false; // errors
};
Ran run_label_scan(const LabelScanOptions& options);

struct LabelScrapOptions {
  std::string work_order;
  std::string registered;
  std::string package;
  std::vector<std::string> serials;
  std::string by;
  std::string note;
};
Ran run_label_scrap(const LabelScrapOptions& options);

struct LabelShowOptions {
  std::string work_order;
  std::string registered;
  std::string package;
};
Ran run_label_show(const LabelShowOptions& options);

} // namespace cardseal::tool
