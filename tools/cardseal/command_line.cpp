#include "command_line.h"

#include <algorithm>
#include <array>
#include <optional>
#include <span>
#include <sstream>
#include <string_view>

#include "../cli/cli.h"

#include "card_lost.h"
#include "command_line_archive.h"
#include "command_line_company.h"
#include "command_line_label.h"
#include "command_line_lot.h"
#include "command_line_parts.h"
#include "command_line_reconcile.h"
#include "command_line_register.h"
#include "command_line_serial.h"
#include "command_line_trust.h"
#include "commands_trace.h"
#include "diag/exit.h"

namespace cardseal::tool {
namespace {

// In a list of commands each has one line: what it does, without its example.
class Help final : public CLI::Formatter {
public:
  std::string make_subcommand(const CLI::App* sub) const override {
    const std::string all = sub->get_description();
    const std::size_t example_end = all.find("\n\n");
    std::ostringstream out;
    CLI::detail::format_help(out, sub->get_display_name(true),
                             example_end == std::string::npos ? all : all.substr(example_end + 2),
                             column_width_);
    return out.str();
  }
};

// Each subcommand leaves here what is to be run.
struct Commands {
  CLI::App app{"Example: cardseal check my-release/release.xml\n\n"
               "Builds release packages and card images for programming stations, offline.",
               "cardseal"};
  Chosen chosen;
  std::optional<Error> company_error;

  ImageOptions image;
  NewOptions fresh;
  CheckOptions check;
  DiffOptions diff;
  TraceOptions trace;
  RecallOptions recall;
  PackOptions pack;
  SignOptions sign;
  VerifyOptions verify;
  ShowOptions show;
  ReviewOptions review;
  KeyNewOptions key_new;
  KeyShowOptions key_show;
  CardMakeOptions card_make;
  CardListOptions card_list;
  CardVerifyOptions card_verify;
  CardWriteOptions card_write;
  CardNoteOptions card_note;
  CardLostOptions card_lost;
};

CLI::App* command(Commands& c, CLI::App& above, const char* name, const char* does,
                  const char* example, std::function<Ran()> run, const bool* json = nullptr) {
  CLI::App* app = above.add_subcommand(name, std::string("Example: ") + example + "\n\n" + does);
  app->callback([&c, run = std::move(run), json] { c.chosen = {run, json != nullptr && *json}; });
  return app;
}

void add_owner(CLI::App* app, std::string& root, std::string& trust) {
  app->add_option("--root", root, "the owner's root")->required();
  app->add_option("--trust", trust, "the trust list in force")->required();
}

void add_image_reading(CLI::App* app, ImageOptions& o) {
  app->add_option("FILE", o.file, "firmware, '-' for standard input")->required();
  app->add_option("--format", o.format, "intel-hex, s-record, elf or raw; else by content");
  app->add_option("--address", o.address, "of the first byte; raw only");
  app->add_option("--allow", o.allow, "missing-end, comments")->delimiter(',');
  app->add_option("--elf-by", o.elf_by,
                  "sections (what a converter makes a HEX file of) or segments; ELF only");
  app->add_option("--address-unit", o.address_unit,
                  "bytes at one address of the part, 2 for words of 16 bits; ELF only");
}

void add_image_changing(CLI::App* app, ImageOptions& o) {
  app->add_option("--merge", o.merge,
                  "first: add another file's bytes; refused where two differ at one address");
  app->add_option("--crop", o.crop, "then: keep only FIRST-LAST; more than once: all of these");
  app->add_option("--move", o.move, "then: move by an offset, such as +0x8000 or -0x8000000");
  app->add_option("--align", o.align,
                  "then: UNIT[:VALUE], complete every unit of that many bytes, with FF");
  app->add_option("--fill", o.fill,
                  "then: [FIRST-LAST:]VALUE, give absent bytes a value; else between the first and "
                  "the last byte");
  app->add_option("--region", o.region, "list what lies in NAME:FIRST-LAST, and what in none");
}

void add_image_comparing(CLI::App* app, ImageOptions& o) {
  app->add_option("--against", o.against, "compare with this firmware; exit 1 when they differ");
  app->add_option("--read-back", o.read_back,
                  "compare with the memory of a board; exit 1 when a difference is unexplained");
  app->add_option("--device", o.device,
                  "read-back: a device profile, for kept locations, masks and erased values");
  app->add_option("--release", o.release,
                  "read-back: release.xml or a package, for the serial number of --unit");
  app->add_option("--unit", o.unit, "read-back: ordinal of the unit that was read")
      ->check(CLI::Range(std::uint64_t{0}, std::uint64_t{999'999'999'999}));
  app->add_option("--class", o.work_class, "read-back: of the lot that the unit belongs to")
      ->capture_default_str();
  app->add_option("--date-code", o.date_code, "read-back: of the lot that the unit belongs to");
  app->add_option("--serial", o.serial,
                  "read-back: NAME:ADDRESS:BYTES, the unit's serial number, as hex digits");
  app->add_option("--kept", o.kept, "read-back: NAME:FIRST-LAST keeps what the part came with");
  app->add_option("--mask", o.mask,
                  "read-back: NAME:ADDRESS:BYTES, the bits of a configuration that count");
  app->add_option("--unreadable", o.unreadable,
                  "read-back: NAME:FIRST-LAST reads as anything, or not at all");
  app->add_option("--erased", o.erased,
                  "read-back: what erased memory reads as; bytes of a word, or none")
      ->capture_default_str();
}

void add_image_writing(CLI::App* app, ImageOptions& o) {
  app->add_option("-o,--output", o.output, "write the image to this file");
  app->add_option("--to", o.to, "intel-hex, s-record or raw; else intel-hex");
  app->add_option("--record-length", o.record_length, "data bytes in a record, 1 to 255; else 16");
  app->add_option("--address-width", o.address_width,
                  "16, 24 or 32 bits, S-record only; else the least that does");
  app->add_option("--start", o.start, "start address to write, or none; else the firmware's own");
  app->add_flag("--crlf", o.crlf, "end lines with CR LF");
  app->add_flag("--force", o.force, "replace an existing output");
}

void add_image(Commands& c) {
  ImageOptions& o = c.image;
  CLI::App* app = command(
      c, c.app, "image", "Reads and describes firmware; changes, compares and converts it.",
      "cardseal image frost_node.elf --merge boot.hex --fill 0xFF --to s-record -o frost_node.s19",
      [&o] { return run_image(o); }, &o.json);
  add_image_reading(app, o);
  add_image_changing(app, o);
  add_image_comparing(app, o);
  add_image_writing(app, o);
  add_json(app, o.json);
}

void add_release(Commands& c) {
  CLI::App* fresh =
      command(c, c.app, "new", "Starts a release folder: release.xml and profiles to fill in.",
              "cardseal new my-release", [&c] { return run_new(c.fresh); });
  fresh->add_option("DIR", c.fresh.folder, "folder to make")->required();
  CheckOptions& check = c.check;
  CLI::App* app = command(
      c, c.app, "check", "Every finding about a release, with numbers and reasons.",
      "cardseal check release.xml", [&check] { return run_check(check); }, &check.json);
  app->add_option("RELEASE", check.release, "release.xml")->required();
  add_json(app, check.json);
  PackOptions& pack = c.pack;
  app = command(c, c.app, "pack",
                "Compiles a release and seals it; refuses while a refusing finding stands.",
                "cardseal pack release.xml --root owner.root -o frost-node.crp",
                [&pack] { return run_pack(pack); });
  app->add_option("RELEASE", pack.release, "release.xml")->required();
  app->add_option("--root", pack.root, "the owner's root")->required();
  app->add_option("-o,--output", pack.output, "the release package, .crp")->required();
  app->add_flag("--force", pack.force, "replace an existing output");
  app->add_flag("--dry-run", pack.dry_run, "everything but writing");
}

void add_trace(Commands& c) {
  TraceOptions& o = c.trace;
  CLI::App* app = command(
      c, c.app, "trace",
      "From one unit to its card, station, settings, firmware and the people who approved it.",
      "cardseal trace FN000061 --register desk.register --package frost-node.crp",
      [&o] { return run_trace(o); }, &o.json);
  app->add_option("SERIAL", o.serial, "as it stands on the label");
  app->add_option("--ordinal", o.ordinal, "instead: its place in the scheme, 0 the first");
  app->add_option("--register", o.registered, "the desk's register, which gave the numbers")
      ->required();
  app->add_option("--package", o.packages, "release packages that it may be of")
      ->required()
      ->allow_extra_args(false);
  app->add_option("--log", o.logs,
                  "the card that came back, its image or its LOG.CSV: session, slot, fixture, reel")
      ->allow_extra_args(false);
  app->add_option("--root", o.root, "the owner's root: says whether the sign-offs count");
  app->add_option("--trust", o.trust, "the trust list to judge them by");
  add_json(app, o.json);
}

void add_recall(Commands& c) {
  RecallOptions& o = c.recall;
  CLI::App* app = command(
      c, c.app, "recall",
      "Three lists of units, affected, possibly and cleared, each entry with its reason; what is "
      "not known clears nothing.",
      "cardseal recall --where slot=3 --where session=2 --register desk.register --package "
      "frost-node.crp card-01.img",
      [&o] { return run_recall(o); }, &o.json);
  app->add_option("LOG", o.logs, "card images that came back, or copies of their LOG.CSV");
  app->add_option("--where", o.where,
                  "KEY=VALUE; more than once: all together. Of the card: package, firmware, "
                  "deviation, signed-by, product, station, work-order, card, date-code, class. In "
                  "its log: slot, session, fixture, reel, panel, shift, date (or FROM..TO)")
      ->required()
      ->allow_extra_args(false);
  app->add_option("--register", o.registers, "every desk's register that gave numbers")
      ->required()
      ->allow_extra_args(false);
  app->add_option("--package", o.packages, "release packages: firmware, sign-offs, label texts")
      ->allow_extra_args(false);
  app->add_option("--units", o.units, "write every unit to this file, a line each");
  app->add_option("-o,--output", o.output,
                  "the three lists as a page for screen and paper; '-' is standard output");
  app->add_flag("--force", o.force, "replace an existing page");
  add_json(app, o.json);
}

void add_diff(Commands& c) {
  DiffOptions& o = c.diff;
  CLI::App* app = command(
      c, c.app, "diff",
      "What differs between two releases, the largest risk first; exit 1 when anything does.",
      "cardseal diff frost-node-2.4.1.crp frost-node-2.4.2.crp", [&o] { return run_diff(o); },
      &o.json);
  app->add_option("FIRST", o.first, "a release package or release.xml")->required();
  app->add_option("SECOND", o.second,
                  "another; without it FIRST, a release.xml, is compared with the package that its "
                  "<changes> names");
  app->add_option("--region", o.region,
                  "compare firmware in NAME:FIRST-LAST; else by the regions of the device that a "
                  "release.xml names")
      ->allow_extra_args(false);
  add_json(app, o.json);
}

void add_sign(Commands& c) {
  SignOptions& o = c.sign;
  CLI::App* app =
      command(c, c.app, "sign",
              "Shows what will be signed, asks for the release's name, and adds the sign-off.",
              "cardseal sign frost-node.crp --role quality --key ada.pem --root owner.root "
              "--trust owner.trust --reason \"tests 41 to 58 passed\"",
              [&o] { return run_sign(o); });
  app->add_option("PACKAGE", o.package, "the release package")->required();
  app->add_option("--role", o.role, "release, quality or engineering")->required();
  add_key_or_elsewhere(app, o.key, o.elsewhere, "the signer's private key");
  add_owner(app, o.root, o.trust);
  app->add_option("--reason", o.reason, "why, in up to 96 bytes")->required();
  app->add_option("--meaning", o.meaning, "what the signature says; has a default for each role");
  app->add_option("--time", o.time, "claimed time, like 2026-03-31T12:00:00Z; else the clock");
  app->add_option("--units-a-station", o.units_a_station,
                  "limit: units in one allotment, which is one card");
  app->add_option("--stations", o.stations, "limit: stations; counted by the desk's register");
  app->add_option("--numbers", o.numbers, "limit: ordinals FIRST-LAST");
  app->add_flag("--plain-file", o.plain_file,
                "also for stations that read plain files and check nothing");
}

void add_verify(Commands& c) {
  VerifyOptions& o = c.verify;
  CLI::App* app = command(
      c, c.app, "verify", "Judges a package, card image, trust list, withdrawal or root.",
      "cardseal verify frost-node.crp --root owner.root --trust owner.trust",
      [&o] { return run_verify(o); }, &o.json);
  app->add_option("FILE", o.file, "what to judge")->required();
  app->add_option("--root", o.root, "the owner's root");
  app->add_option("--trust", o.trust, "the trust list; for packages and withdrawals");
  app->add_option("--trust-now", o.trust_now,
                  "judge a package by this list too, when --trust is the list of its day");
  app->add_option("--withdrawal", o.withdrawals, "a withdrawal that counts beside the list");
  app->add_flag("--explain", o.explain, "print the chain of reasons");
  add_json(app, o.json);
  ShowOptions& show = c.show;
  app = command(
      c, c.app, "show",
      "Describes a package, card image, trust list, withdrawal or root; verifies nothing.",
      "cardseal show frost-node.crp", [&show] { return run_show(show); }, &show.json);
  app->add_option("FILE", show.file, "what to describe")->required();
  app->add_option("--signed-bytes", show.signed_bytes,
                  "write the exact bytes under sign-off N, from 1");
  app->add_option("-o,--output", show.output, "where they go; '-' is standard output")
      ->capture_default_str();
  app->add_flag("--force", show.force, "replace an existing output");
  add_json(app, show.json);
}

void add_review(Commands& c) {
  ReviewOptions& o = c.review;
  CLI::App* app = command(
      c, c.app, "review",
      "Makes the page that people read, sign and file, one HTML file for screen and paper: of a "
      "package the review; of a card the set-up sheet for the floor, its label, or labels for "
      "its boards; of a register the cards of a work order; of a lot's first article, concession "
      "or "
      "closure what quality signed.",
      "cardseal review frost-node.crp --previous last.crp --root owner.root --trust owner.trust "
      "-o review.html",
      [&o] { return run_review(o); });
  app->add_option("FILE", o.file,
                  "a release package, a card image, a register, or a lot's signed text")
      ->required();
  app->add_option("-o,--output", o.output, "the page; '-' is standard output")->required();
  app->add_option("--previous", o.previous,
                  "the package that this one follows: what changed since stands first");
  app->add_option("--root", o.root, "the owner's root: whether signatures count; a card needs it");
  app->add_option("--trust", o.trust, "the trust list, with --root; for packages and signed texts");
  app->add_option("--withdrawal", o.withdrawals, "a withdrawal that counts beside the list");
  app->add_flag("--label", o.label, "of a card: the label to stick on it");
  app->add_option("--job", o.job,
                  "of a card that carries the work of several packages: whose page, from 1")
      ->check(CLI::Range(1U, 8U));
  app->add_option(
      "--labels", o.labels,
      "of a card: labels with the serials of its boards, WIDTHxHEIGHT in mm, like 38x21");
  app->add_option("--units", o.units,
                  "with --labels: FIRST-LAST of the card's units, from 1; else all, 400 at most");
  app->add_option("--stock", o.stock,
                  "with --labels: paper whose labels are cut already, COLUMNSxROWS on a sheet");
  app->add_option("--pitch", o.pitch,
                  "of --stock: from one label to the next, across and down, in mm, like 40.6x21.2");
  app->add_option("--corner", o.corner,
                  "of --stock: the first label's corner from the paper's, across and down, in mm");
  app->add_option("--code", o.code, "on labels: data-matrix or qr; on boards' labels also none")
      ->check(CLI::IsMember({"data-matrix", "qr", "none"}))
      ->capture_default_str();
  app->add_option("--work-order", o.work_order,
                  "FILE is a register: the set of its cards for this work order, on one page");
  app->add_option("--package", o.packages,
                  "with --work-order, or of a lot's signed text: the packages, for label texts, "
                  "firmware and sign-offs")
      ->allow_extra_args(false);
  app->add_option("--image", o.images, "with --work-order: card images, for their digests")
      ->allow_extra_args(false);
  app->add_option("--register", o.registered,
                  "of a lot's signed text: whether the register keeps it, and who noted its cards");
  app->add_option("--model", o.model,
                  "the station's model, where a card's plain file could be for several");
  app->add_flag("--force", o.force, "replace an existing output");
}

void add_keys(Commands& c) {
  CLI::App* key = c.app.add_subcommand(
      "key", "Example: cardseal key new --key ada.pem\n\nKeys: make one, show one.");
  key->require_subcommand(1);
  CLI::App* app =
      command(c, *key, "new", "Makes an encrypted private key and its public key.",
              "cardseal key new --key ada.pem", [&c] { return run_key_new(c.key_new); });
  add_key(app, c.key_new.key, "the private key to make");
  app->add_option("--public", c.key_new.public_file, "the public key; else beside it, .pub");
  KeyShowOptions& show = c.key_show;
  app = command(
      c, *key, "show", "Prints a public key.", "cardseal key show ada.pub",
      [&show] { return run_key_show(show); }, &show.json);
  app->add_option("FILE", show.file, "public key file")->required();
  add_json(app, show.json);
}

void add_trust(Commands& c) {
  CLI::App* trust =
      c.app.add_subcommand("trust", "Example: cardseal trust revoke owner.trust --root owner.root "
                                    "--key keys/ines.pub\n\nRoot and trust list: make, change, "
                                    "compare, sign.");
  trust->require_subcommand(1);
  add_trust_commands([&c, trust](const char* name, const char* does, const char* example,
                                 std::function<Ran()> run, const bool* json) {
    return command(c, *trust, name, does, example, std::move(run), json);
  });
}

void add_card_numbers(CLI::App* app, CardMakeOptions& o) {
  CLI::Option* numbers =
      app->add_option("--register", o.registered, "the desk's register, which gives the numbers");
  app->add_option("--cards", o.cards, "how many cards of --units each; needs --register")
      ->check(CLI::Range(1U, 99U))
      ->capture_default_str();
  app->add_option("--spares", o.spares, "further cards with numbers of their own")
      ->check(CLI::Range(0U, 99U))
      ->capture_default_str();
  app->add_option(
         "--units", o.units,
         "boards, and numbers given out, on each card; of several packages for all of them, "
         "or once for each, in their order")
      ->required()
      ->check(CLI::Range(1U, 9'999'999U))
      ->allow_extra_args(false);
  app->add_option("--card-id", o.card_id, "16 hex digits, never used before; a register makes one");
  app->add_option("--enrolment", o.enrolment, "by hand: of the station; else 1")
      ->check(CLI::Range(1U, 999'999U))
      ->excludes(numbers);
  app->add_option(
         "--serial", o.serial,
         "by hand: of the allotment, rising for each station; those of further packages follow")
      ->excludes(numbers);
  app->add_option("--first", o.first,
                  "by hand: first ordinal of the range; of several packages once for each")
      ->excludes(numbers)
      ->allow_extra_args(false);
}

void add_card_make(Commands& c, CLI::App& card) {
  CardMakeOptions& o = c.card_make;
  CLI::App* app = command(
      c, card, "make",
      "Makes card images for stations from a package that is signed off, or from several: "
      "the operator then chooses at the station.",
      "cardseal card make frost-node.crp --root owner.root --trust owner.trust --key desk.pem "
      "--register desk.register --cards 3 --units 500 --spares 1 --station orchard-1 "
      "--model row-six --work-order WO-1001 -o card.img",
      [&o] { return run_card_make(o); });
  app->add_option("PACKAGE", o.packages, "the release package; several: all of them on each card")
      ->required();
  add_owner(app, o.root, o.trust);
  add_key(app, o.key, "the desk's private key, role allot");
  app->add_option("--station", o.stations,
                  "the one station that may work the card; more than once: cards are dealt in turn")
      ->required()
      ->allow_extra_args(false);
  app->add_option("--model", o.model, "their model")->required();
  add_card_numbers(app, o);
  app->add_option("--work-order", o.work_order, "up to 24 bytes")->required();
  app->add_option("--class", o.work_class, "pilot, production, rework, sample or engineering")
      ->capture_default_str();
  app->add_option("--date-code", o.date_code, "of the lot, where the serial scheme has one");
  app->add_option(
         "--slots", o.slots,
         "slots to enable, like 1-3,5; else all that are permitted; of several packages for "
         "all of them, or once for each")
      ->allow_extra_args(false);
  app->add_option("-o,--output", o.output,
                  "the card image; of several card.img names card-01.img, card-spare-01.img")
      ->required();
  app->add_option("--withdrawal", o.withdrawals,
                  "a withdrawal to take along, with its signature beside it; up to eight");
  app->add_option("--sheet", o.sheet, "write the set-up sheet to this file as well, named alike");
  app->add_flag("--force", o.force, "replace existing outputs");
  app->add_flag("--dry-run", o.dry_run, "everything but writing and giving numbers");
}

void add_serial(Commands& c) {
  CLI::App* serial =
      c.app.add_subcommand("serial", "Example: cardseal serial list desk.register\n\nSerial "
                                     "numbers: a release's scheme, a desk's register.");
  serial->require_subcommand(1);
  const AddCommand add = [&c, serial](const char* name, const char* does, const char* example,
                                      std::function<Ran()> run, const bool* json) {
    return command(c, *serial, name, does, example, std::move(run), json);
  };
  add_register_commands(add);
  add_scheme_commands(add);
}

void add_lot(Commands& c) {
  CLI::App* lot = c.app.add_subcommand(
      "lot",
      "Example: cardseal lot show WO-1001 --register desk.register\n\nLots: orders and their "
      "cards, first article, concession, closure.");
  lot->require_subcommand(1);
  add_lot_commands([&c, lot](const char* name, const char* does, const char* example,
                             std::function<Ran()> run, const bool* json) {
    return command(c, *lot, name, does, example, std::move(run), json);
  });
}

void add_label(Commands& c) {
  CLI::App* label = c.app.add_subcommand(
      "label", "Example: cardseal label show WO-1001 --register desk.register --package "
               "frost-node.crp\n\nLabels with numbers: export for printing, scan on the boards, "
               "account for each.");
  label->require_subcommand(1);
  add_label_commands([&c, label](const char* name, const char* does, const char* example,
                                 std::function<Ran()> run, const bool* json) {
    return command(c, *label, name, does, example, std::move(run), json);
  });
}

void add_archive(Commands& c) {
  CLI::App* archive = c.app.add_subcommand(
      "archive", "Example: cardseal archive list --archive kept\n\nWhat was approved, sent out and "
                 "came back, kept by digest.");
  archive->require_subcommand(1);
  add_archive_commands([&c, archive](const char* name, const char* does, const char* example,
                                     std::function<Ran()> run, const bool* json) {
    return command(c, *archive, name, does, example, std::move(run), json);
  });
}

void add_card_write(Commands& c, CLI::App& card) {
  CardWriteOptions& o = c.card_write;
  CLI::App* app =
      command(c, card, "write",
              "Writes a card image to a card, and reads it back; without --confirm only says what "
              "the device is.",
              "cardseal card write card.img /dev/sdX --root owner.root --confirm 1a2b3c4d",
              [&o] { return run_card_write(o); });
  app->add_option(
         "IMAGE-THEN-DEVICE", o.words,
         "card image, and the whole card in its reader or a file that stands for it; several "
         "images with the device last: you are asked for a card for each")
      ->required();
  app->add_option("--root", o.root, "the owner's root: the image is verified before");
  app->add_option("--confirm", o.confirm, "the device's id, as this command shows it");
  CLI::Option* registered =
      app->add_option("--register", o.registered,
                      "the desk's register: keeps that it was written, and lets no second card be");
  CLI::Option* by = app->add_option("--by", o.by, "who writes it, for the register");
  registered->needs(by);
  by->needs(registered);
  app->add_flag("--full", o.full, "write and compare every byte, not only what the volume uses");
  app->add_flag("--used", o.used, "the card holds a station's results, and they are reconciled");
  app->add_flag("--large", o.large, "the device is above 2 GiB and the card all the same");
  app->add_flag("--fixed", o.fixed, "the device does not say it can be taken out and is the card");
}

void add_card_note(Commands& c, CLI::App& card) {
  CardNoteOptions& o = c.card_note;
  CLI::App* app =
      command(c, card, "note", "Notes in the register what became of a card; what was noted stays.",
              "cardseal card note 57d10c2f8a7be194 lost --register desk.register --by "
              "\"Ines Alder\" --note \"not in the parcel\"",
              [&o] { return run_card_note(o); });
  app->add_option("CARD", o.card, "the card's id, 16 hex digits, or its image")->required();
  app->add_option("FATE", o.fate,
                  "on-card (written by other means), returned, erased, destroyed or lost")
      ->required();
  app->add_option("--register", o.registered, "the desk's register")->required();
  app->add_option("--by", o.by, "who says so")->required();
  app->add_option("--note", o.note, "how it is known")->required();
}

void add_card_lost(Commands& c, CLI::App& card) {
  CardLostOptions& o = c.card_lost;
  CLI::App* app = command(
      c, card, "lost",
      "Notes that a card is lost and stops what was sealed for it, in one step: a withdrawal for "
      "each package on it, signed by role quality or withdraw.",
      "cardseal card lost 57d10c2f8a7be194 --register desk.register --by \"Ines Alder\" --note "
      "\"not in the parcel\" --reason \"card lost in the post\" --root owner.root --trust "
      "owner.trust --key omar.pem -o lost.stop",
      [&o] { return run_card_lost(o); });
  app->add_option("CARD", o.card, "the card's id, 16 hex digits, or its image")->required();
  app->add_option("--register", o.registered, "the desk's register, which made the card")
      ->required();
  app->add_option("--by", o.by, "who says so")->required();
  app->add_option("--note", o.note, "how it is known")->required();
  app->add_option("--reason", o.reason, "as stations' owners read it, up to 96 bytes")->required();
  add_owner(app, o.root, o.trust);
  app->add_option("--time", o.time, "claimed time; else the clock");
  app->add_option("--confirm", o.confirm, "what is stopped, instead of typing it");
  add_key_or_elsewhere(app, o.key, o.elsewhere, "the key to sign with, role quality or withdraw");
  app->add_option("-o,--output", o.output,
                  "the withdrawal; of several packages lost.stop names lost-01.stop and so on")
      ->required();
}

void add_card(Commands& c) {
  CLI::App* card = c.app.add_subcommand(
      "card", "Example: cardseal card list card.img\n\nCards: make, list, verify, write, note, "
              "stop a lost one.");
  card->require_subcommand(1);
  add_card_make(c, *card);
  CardListOptions& list = c.card_list;
  CLI::App* app = command(
      c, *card, "list", "Lists what a card image holds; verifies nothing.",
      "cardseal card list card.img", [&list] { return run_card_list(list); }, &list.json);
  app->add_option("CARD", list.card, "card image")->required();
  add_json(app, list.json);
  CardVerifyOptions& verify = c.card_verify;
  app = command(
      c, *card, "verify", "Checks structure, signatures, contents and what is unplanned.",
      "cardseal card verify card.img --root owner.root",
      [&verify] { return run_card_verify(verify); }, &verify.json);
  app->add_option("CARD", verify.card, "card image, or the card itself in its reader")->required();
  app->add_option("--root", verify.root, "the owner's root")->required();
  app->add_flag("--returned", verify.returned,
                "the card came back: its run log may hold records, which are read too");
  add_json(app, verify.json);
  add_card_write(c, *card);
  add_card_note(c, *card);
  add_card_lost(c, *card);
}

void add_reconcile(Commands& c) {
  add_reconcile_command([&c](const char* name, const char* does, const char* example,
                             std::function<Ran()> run, const bool* json) {
    return command(c, c.app, name, does, example, std::move(run), json);
  });
}

// An empty word is a script's unset variable, never a wish for nothing. Only what is on the line
// can have one, and a check of each option there is takes longer than all other reading of the
// line.
void refuse_empty(CLI::App& app, std::span<char*> words) {
  const auto not_empty = [](const std::string& word) {
    return std::string(word.empty() ? "found an empty value, expected one, or no such option" : "");
  };
  for (CLI::Option* option : app.get_options()) {
    if (option->get_type_size() != 0) { // a flag has none
      option->check(CLI::Validator(not_empty, ""));
    }
  }
  for (CLI::App* sub : app.get_subcommands({})) {
    if (std::ranges::find(words, sub->get_name(),
                          [](const char* word) { return std::string_view(word); }) != words.end()) {
      refuse_empty(*sub, words);
    }
  }
}

// Read once all options are known, and before any is missed.
void add_company(Commands& c) {
  const auto read = [&c](const std::string& file) {
    const xml::All<Company> company = read_company(io::real_system(), file);
    if (company) {
      apply(*company, c.app);
    } else {
      c.company_error = company.error().front(); // said when no help is asked for
    }
  };
  c.app
      .add_option_function<std::string>(
          "--company", read, "the company file, which names root, trust list, register and keys")
      ->envname("CARDSEAL_COMPANY");
}

struct Group {
  std::string_view name; // of a command, or of several that are made together
  void (*add)(Commands&);
};

// In the order of the help.
constexpr std::array groups{
    Group{"new", add_release},    Group{"check", add_release}, Group{"pack", add_release},
    Group{"diff", add_diff},      Group{"trace", add_trace},   Group{"recall", add_recall},
    Group{"image", add_image},    Group{"sign", add_sign},     Group{"verify", add_verify},
    Group{"show", add_verify},    Group{"review", add_review}, Group{"key", add_keys},
    Group{"trust", add_trust},    Group{"serial", add_serial}, Group{"card", add_card},
    Group{"lot", add_lot},        Group{"label", add_label},   Group{"reconcile", add_reconcile},
    Group{"archive", add_archive}};

// The first word that is not the company file or another option of all commands.
std::string_view first_word(std::span<char*> words) {
  std::size_t at = 1;
  while (at < words.size() && std::string_view(words[at]).starts_with('-')) {
    at += std::string_view(words[at]) == "--company" ? 2 : 1;
  }
  return at < words.size() ? words[at] : std::string_view();
}

// The one that is asked for; all when it is none, for the help and for what is said to a wrong
// word. All of them are 400 options, a fifth of the time that a command takes to start.
void add_commands(Commands& c, std::span<char*> words) {
  const auto* const asked = std::ranges::find(groups, first_word(words), &Group::name);
  if (asked != groups.end()) {
    return asked->add(c);
  }
  void (*last)(Commands&) = nullptr;
  for (const Group& group : groups) {
    if (group.add != last) {
      group.add(c);
    }
    last = group.add;
  }
}

} // namespace

std::variant<Chosen, int> read_command_line(int argc, char** argv) {
  static Commands& c = *new Commands; // the chosen command points into it, to the end
  c.app.formatter(std::make_shared<Help>());
  c.app.require_subcommand(1);
  c.app.set_version_flag("--version", tool_name);
  c.app.footer("Exit: 0 done, 1 the answer is no, 64 usage, 65 bad data, 66 no input, 70 our "
               "fault,\n73 cannot create, 74 I/O, 77 permission, 78 configuration.");
  const std::span<char*> words(argv, static_cast<std::size_t>(argc));
  add_commands(c, words);
  add_company(c);
  refuse_empty(c.app, words);
  c.app.failure_message([](const CLI::App*, const CLI::Error& error) {
    return std::string("cardseal: ") + error.what() + " (see --help)\n";
  });
  try {
    c.app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (!c.company_error || error.get_exit_code() == 0) {
      const int code = c.app.exit(error);
      return code == 0 ? 0 : exit_code(ErrorKind::usage);
    }
  }
  if (c.company_error) {
    return Chosen{[] { return Ran(Unexpected(*c.company_error)); }, c.chosen.json};
  }
  return c.chosen;
}

} // namespace cardseal::tool
