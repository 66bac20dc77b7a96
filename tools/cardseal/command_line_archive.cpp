#include "command_line_archive.h"

#include "commands_archive.h"

namespace cardseal::tool {
namespace {

struct ArchiveOptions {
  ArchiveNewOptions fresh;
  ArchiveAddOptions add;
  ArchiveListOptions list;
  ArchiveListOptions scrub;
  ArchiveGetOptions get;
  ArchiveCopyOptions out;
  ArchiveCopyOptions in;
};

void add_archive(CLI::App* app, std::string& archive) {
  app->add_option("--archive", archive, "the archive's folder")->required();
}

void add_keeping(const AddCommand& add, ArchiveOptions& all) {
  ArchiveNewOptions& fresh = all.fresh;
  CLI::App* app = add(
      "new", "Starts an archive in a new folder.", "cardseal archive new kept",
      [&fresh] { return run_archive_new(fresh); }, nullptr);
  app->add_option("FOLDER", fresh.folder, "the folder to make")->required();

  ArchiveAddOptions& o = all.add;
  app = add(
      "add",
      "Keeps files by their digests, after judging them; root and trust list of the day go along.",
      "cardseal archive add frost-node.crp card.img --archive kept --root owner.root --trust "
      "owner.trust",
      [&o] { return run_archive_add(o); }, nullptr);
  app->add_option(
         "FILE", o.files,
         "packages, card images (before and after a lot), copied logs, trust lists, orders, "
         "and what quality signed about lots")
      ->required();
  add_archive(app, o.archive);
  app->add_option("--root", o.root, "the owner's root")->required();
  app->add_option("--trust", o.trust, "the trust list in force")->required();
}

void add_looking(const AddCommand& add, ArchiveOptions& all) {
  ArchiveListOptions& list = all.list;
  CLI::App* app = add(
      "list", "What an archive holds, a line each.", "cardseal archive list --archive kept",
      [&list] { return run_archive_list(list); }, &list.json);
  add_archive(app, list.archive);
  add_json(app, list.json);

  ArchiveListOptions& scrub = all.scrub;
  app = add(
      "scrub",
      "Reads the whole archive and holds every file against its digest; exit 1 when one "
      "differs or is gone.",
      "cardseal archive scrub --archive kept", [&scrub] { return run_archive_scrub(scrub); },
      &scrub.json);
  add_archive(app, scrub.archive);
  add_json(app, scrub.json);

  ArchiveGetOptions& get = all.get;
  app = add(
      "get", "Takes an item out, with the root and trust list of its day, into a new folder.",
      "cardseal archive get 3f9a01c2 --archive kept -o taken",
      [&get] { return run_archive_get(get); }, nullptr);
  app->add_option("ITEM", get.item, "its digest, or at least its first 8 digits")->required();
  add_archive(app, get.archive);
  app->add_option("-o,--output", get.output, "the folder to make")->required();
}

void add_copying(const AddCommand& add, ArchiveOptions& all) {
  ArchiveCopyOptions& out = all.out;
  CLI::App* app = add(
      "export", "Copies items into another archive, which is made when it is not there.",
      "cardseal archive export --archive kept --to stick/kept",
      [&out] { return run_archive_export(out); }, nullptr);
  app->add_option("ITEM", out.items, "digests, or their first digits; none: all");
  add_archive(app, out.archive);
  app->add_option("--to", out.other, "the other archive's folder")->required();

  ArchiveCopyOptions& in = all.in;
  app = add(
      "import", "Copies items from another archive.",
      "cardseal archive import --archive kept --from stick/kept",
      [&in] { return run_archive_import(in); }, nullptr);
  app->add_option("ITEM", in.items, "digests, or their first digits; none: all");
  add_archive(app, in.archive);
  app->add_option("--from", in.other, "the other archive's folder")->required();
}

} // namespace

void add_archive_commands(const AddCommand& add) {
  static ArchiveOptions all; // the chosen command points into it
  add_keeping(add, all);
  add_looking(add, all);
  add_copying(add, all);
}

} // namespace cardseal::tool
