// What `cardseal trust` takes and does: the owner's root, and the list of who may sign what.
#pragma once

#include "commands.h"

namespace cardseal::tool {

struct TrustRootOptions {
  std::vector<std::string> persons; // ID:NAME
  std::vector<std::string> keys;    // ID:PUBLIC.pem
  std::uint32_t threshold = 1;
  KeySource key; // no file: it is signed later
  std::string output;
};
Ran run_trust_root(const TrustRootOptions& options);

struct TrustRotateOptions {
  std::string current;                   // the root in force
  std::vector<std::string> persons;      // ID:NAME
  std::vector<std::string> keys;         // ID:PUBLIC.pem
  std::vector<std::string> drop_persons; // ID, with all their keys
  std::vector<std::string> drop_keys;    // PUBLIC.pem
  std::optional<std::uint32_t> threshold;
  std::string output;
};
Ran run_trust_rotate(const TrustRotateOptions& options);

struct TrustNewOptions {
  std::string root;
  std::string output;
  std::string time;
};
Ran run_trust_new(const TrustNewOptions& options);

struct TrustChangeOptions { // of every command that changes a list
  std::string list;
  std::string root;
  std::string time; // empty: the clock
};

struct TrustAddOptions {
  TrustChangeOptions change;
  std::vector<std::string> persons;    // ID:NAME
  std::vector<std::string> keys;       // PERSON:ROLE:PUBLIC.pem[:PRODUCT]
  std::vector<std::string> products;   // ID:EPOCH:FLOOR
  std::vector<std::string> windows;    // PUBLIC.pem:SCHEME:FIRST:LAST[:engineering]
  std::vector<std::string> thresholds; // ROLE:PERSONS
};
Ran run_trust_add(const TrustAddOptions& options);

struct TrustRevokeOptions {
  TrustChangeOptions change;
  std::vector<std::string> keys; // PUBLIC.pem
  bool even_last = false;
};
Ran run_trust_revoke(const TrustRevokeOptions& options);

struct TrustWithdrawOptions {
  TrustChangeOptions change;
  std::vector<std::string> packages;
  std::vector<std::string> manifests; // sha256:<64 hex>
};
Ran run_trust_withdraw(const TrustWithdrawOptions& options);

struct TrustStopOptions {
  std::string root;
  std::string trust;
  std::string package; // exactly one of these four says what is stopped
  std::string manifest;
  std::string allotment;
  std::string lost_key;
  std::string reason;
  std::string time;    // empty: the clock
  std::string confirm; // what is stopped, instead of typing it
  KeySource key;
  Elsewhere elsewhere;
  std::string output;
};
Ran run_trust_stop(const TrustStopOptions& options);

struct TrustDiffOptions {
  std::string before;
  std::string after;
  bool json = false;
};
Ran run_trust_diff(const TrustDiffOptions& options);

struct TrustSignOptions {
  std::string file;    // a trust list or a root
  std::string root;    // of a list
  std::string before;  // the list in force; empty: the one that was kept
  std::string confirm; // its name, instead of typing it
  KeySource key;
  Elsewhere elsewhere;
};
Ran run_trust_sign(const TrustSignOptions& options);

} // namespace cardseal::tool
