#include "command_line_trust.h"

#include "commands_trust.h"

namespace cardseal::tool {
namespace {

struct TrustOptions {
  TrustRootOptions root;
  TrustRotateOptions rotate;
  TrustNewOptions fresh;
  TrustAddOptions add;
  TrustRevokeOptions revoke;
  TrustWithdrawOptions withdraw;
  TrustStopOptions stop;
  TrustDiffOptions diff;
  TrustSignOptions sign;
};

void add_making(const AddCommand& add, TrustOptions& all) {
  TrustRootOptions& root = all.root;
  CLI::App* app = add(
      "root", "Makes the owner's first root and signs it once; others add theirs with trust sign.",
      "cardseal trust root --person ada:\"Ada Berg\" --root-key ada:ada.pub --key ada.pem "
      "-o owner.root",
      [&root] { return run_trust_root(root); }, nullptr);
  app->add_option("--person", root.persons, "ID:NAME")->required();
  app->add_option("--root-key", root.keys, "PERSON:PUBLIC-KEY-FILE")->required();
  app->add_option("--threshold", root.threshold, "persons needed")->capture_default_str();
  app->add_option("--key", root.key.file,
                  "a root key to sign with; without it the root is signed later");
  add_passphrase(app, root.key);
  app->add_option("-o,--output", root.output, "the root")->required();

  TrustRotateOptions& rotate = all.rotate;
  app = add(
      "rotate",
      "Makes the root that follows, unsigned. It needs the signatures of the old root's threshold "
      "and of its own; stations take it from a card.",
      "cardseal trust rotate owner.root --person bo:\"Bo Alder\" --root-key bo:bo.pub --threshold "
      "2 "
      "-o owner-2.root",
      [&rotate] { return run_trust_rotate(rotate); }, nullptr);
  app->add_option("ROOT", rotate.current, "the root in force")->required();
  app->add_option("--person", rotate.persons, "ID:NAME, to add");
  app->add_option("--root-key", rotate.keys, "PERSON:PUBLIC-KEY-FILE, to add");
  app->add_option("--drop-person", rotate.drop_persons, "ID, with all keys of that person");
  app->add_option("--drop-key", rotate.drop_keys, "PUBLIC-KEY-FILE");
  app->add_option("--threshold", rotate.threshold, "persons needed; else as before");
  app->add_option("-o,--output", rotate.output, "the next root; those before it go beside it")
      ->required();

  TrustNewOptions& fresh = all.fresh;
  app = add(
      "new", "Starts the first trust list, unsigned.",
      "cardseal trust new --root owner.root -o owner.trust",
      [&fresh] { return run_trust_new(fresh); }, nullptr);
  app->add_option("--root", fresh.root, "the owner's root")->required();
  app->add_option("-o,--output", fresh.output, "the trust list")->required();
  app->add_option("--time", fresh.time, "claimed time; else the clock");
}

void add_change(CLI::App* app, TrustChangeOptions& change) {
  app->add_option("LIST", change.list, "the trust list")->required();
  app->add_option("--root", change.root, "the owner's root")->required();
  app->add_option("--time", change.time, "claimed time; else the clock");
}

void add_adding(const AddCommand& add, TrustOptions& all) {
  TrustAddOptions& o = all.add;
  CLI::App* app = add(
      "add",
      "Adds to a trust list, or brings it under a newer root. A signed list gets a successor; "
      "signatures are then due again.",
      "cardseal trust add owner.trust --root owner.root --key ada:quality:ada.pub",
      [&o] { return run_trust_add(o); }, nullptr);
  add_change(app, o.change);
  app->add_option("--person", o.persons, "ID:NAME");
  app->add_option("--key", o.keys, "PERSON:ROLE:PUBLIC-KEY-FILE[:PRODUCT]");
  app->add_option("--product", o.products, "ID:EPOCH:LOWEST-SEQUENCE");
  app->add_option(
      "--window", o.windows,
      "PUBLIC-KEY-FILE:SCHEME:FIRST:LAST, ordinals; with :engineering for boards that never ship");
  app->add_option("--threshold", o.thresholds, "ROLE:PERSONS; again: the new number");
}

void add_stopping(const AddCommand& add, TrustOptions& all) {
  TrustRevokeOptions& revoke = all.revoke;
  CLI::App* app = add(
      "revoke",
      "Revokes keys: nothing that they signed counts any more. Signatures are then due again.",
      "cardseal trust revoke owner.trust --root owner.root --key keys/ines.pub",
      [&revoke] { return run_trust_revoke(revoke); }, nullptr);
  add_change(app, revoke.change);
  app->add_option("--key", revoke.keys, "public key file; more than once: all of these")
      ->required();
  app->add_flag("--even-last", revoke.even_last,
                "also when nobody is left then who can sign a product off");

  TrustWithdrawOptions& withdraw = all.withdraw;
  app = add(
      "withdraw",
      "Withdraws packages for good: no station that has the list works with them. "
      "Signatures are then due again.",
      "cardseal trust withdraw owner.trust --root owner.root --package frost-node.crp",
      [&withdraw] { return run_trust_withdraw(withdraw); }, nullptr);
  add_change(app, withdraw.change);
  app->add_option("--package", withdraw.packages, "a release package");
  app->add_option("--manifest", withdraw.manifests,
                  "sha256:DIGEST, where the package is not at hand");
}

void add_stop(const AddCommand& add, TrustOptions& all) {
  TrustStopOptions& o = all.stop;
  CLI::App* app = add(
      "stop",
      "Makes a withdrawal as a file of its own: one signature of role quality or withdraw, for "
      "good. Cards take it to stations: card make --withdrawal.",
      "cardseal trust stop --package frost-node.crp --reason \"alarm stays silent\" --root "
      "owner.root --trust owner.trust --key omar.pem -o frost-node.stop",
      [&o] { return run_trust_stop(o); }, nullptr);
  app->add_option("--package", o.package, "a release package");
  app->add_option("--manifest", o.manifest, "sha256:DIGEST, where the package is not at hand");
  app->add_option("--allotment", o.allotment, "an allotment's text, as a file or sha256:DIGEST");
  app->add_option("--lost-key", o.lost_key, "the public half of a key that is lost");
  app->add_option("--reason", o.reason, "up to 96 bytes")->required();
  app->add_option("--root", o.root, "the owner's root")->required();
  app->add_option("--trust", o.trust, "the trust list")->required();
  app->add_option("--time", o.time, "claimed time; else the clock");
  app->add_option("--confirm", o.confirm, "what is stopped, instead of typing it");
  add_key_or_elsewhere(app, o.key, o.elsewhere, "the key to sign with, role quality or withdraw");
  app->add_option("-o,--output", o.output, "the withdrawal")->required();
}

void add_signing(const AddCommand& add, TrustOptions& all) {
  TrustDiffOptions& diff = all.diff;
  CLI::App* app = add(
      "diff",
      "What differs between two trust lists or two roots, the gravest first; exit 1 when they do.",
      "cardseal trust diff owner.trust.before owner.trust",
      [&diff] { return run_trust_diff(diff); }, &diff.json);
  app->add_option("BEFORE", diff.before, "a trust list or root, signed or not")->required();
  app->add_option("AFTER", diff.after, "another one")->required();
  add_json(app, diff.json);

  TrustSignOptions& sign = all.sign;
  app = add(
      "sign",
      "Shows what a trust list or root changes, asks for its name (trust list 3, root 2), and adds "
      "a root key's signature.",
      "cardseal trust sign owner.trust --root owner.root --key owner.pem",
      [&sign] { return run_trust_sign(sign); }, nullptr);
  app->add_option("FILE", sign.file, "the trust list or root")->required();
  app->add_option("--root", sign.root, "the owner's root, for a trust list");
  app->add_option("--confirm", sign.confirm, "its name, instead of typing it");
  app->add_option("--before", sign.before,
                  "the list in force; else LIST.before, which the change has kept");
  add_key_or_elsewhere(app, sign.key, sign.elsewhere, "a root key");
}

} // namespace

void add_trust_commands(const AddCommand& add) {
  static TrustOptions all; // the chosen command points into it
  add_making(add, all);
  add_adding(add, all);
  add_stopping(add, all);
  add_stop(add, all);
  add_signing(add, all);
}

} // namespace cardseal::tool
