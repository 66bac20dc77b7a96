// Results as JSON, schema 1, from the same structs that are printed. Addresses and counts are
// numbers; digests, keys and ids strings; times as sealed texts spell them.
#pragma once

#include <string>
#include <vector>

#include "card/verify.h"
#include "diag/finding.h"
#include "fat32/reader.h"
#include "format/root.h"
#include "image/compare.h"
#include "image/load.h"
#include "image/operations.h"
#include "image/read_back.h"
#include "package/package.h"
#include "runlog/log_file.h"

namespace cardseal::view {

inline constexpr int json_schema = 1;

// What was done with firmware; what was not asked for is null.
struct ImageResult {
  const image::Loaded& loaded; // its image is the one that was made of it
  const std::vector<image::Loaded>& merged;
  const std::vector<image::NamedRange>* regions = nullptr;
  const image::Split* split = nullptr; // by `regions`
  const image::Comparison* comparison = nullptr;
  const image::ReadBackReport* read_back = nullptr;
};

std::string json_of(const Error& error);
std::string json_of(const ImageResult& result);
std::string json_of(const Findings& findings);
std::string json_of(const Findings& findings, const format::Facts& facts); // of `check`
std::string json_of(const package::Package& package);
std::string json_of(const format::TrustList& list, const format::Digest& digest);
std::string json_of(const format::Withdrawal& withdrawal);
std::string json_of(const format::Root& root, const format::Digest& owner);
// `log`: of a card that came back; null: it was not looked at.
std::string json_of(const card::CardReport& report, const runlog::LogFile* log = nullptr);
std::string json_of_key(const format::Key& key);
std::string json_of_volume(const fat32::Volume& volume);

} // namespace cardseal::view
