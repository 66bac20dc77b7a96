#include "card/layout.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"

namespace cardseal::card {
namespace {

fat32::Node& folder_in(std::vector<fat32::Node>& nodes, std::string_view name) {
  for (fat32::Node& node : nodes) {
    if (node.folder && node.short_name == name) {
      return node;
    }
  }
  fat32::Node node;
  node.short_name = name;
  node.folder = true;
  nodes.push_back(std::move(node));
  return nodes.back();
}

void place(std::vector<fat32::Node>& nodes, std::string_view path, std::uint64_t size) {
  const std::size_t slash = path.find('/');
  if (slash != std::string_view::npos) {
    return place(folder_in(nodes, path.substr(0, slash)).children, path.substr(slash + 1), size);
  }
  fat32::Node node;
  node.short_name = path;
  node.size = size;
  nodes.push_back(std::move(node));
}

} // namespace

std::string package_path(std::size_t job) {
  return fmt::format("{}/P{:02}.CRP", folder, job + 1);
}

std::string allotment_path(std::size_t job) {
  return fmt::format("{}/A{:02}.TXT", folder, job + 1);
}

std::string allotment_signature_path(std::size_t job) {
  return fmt::format("{}/A{:02}.S01", folder, job + 1);
}

std::string withdrawal_path(std::size_t index) {
  return fmt::format("{}/W{:02}.TXT", folder, index + 1);
}

std::string withdrawal_signature_path(std::size_t index) {
  return fmt::format("{}/W{:02}.S01", folder, index + 1);
}

std::string trust_signature_path(std::size_t index) {
  return fmt::format("{}/TRUST.S{:02}", folder, index + 1);
}

std::vector<fat32::Node> tree_of(const std::vector<CardFile>& files) {
  std::vector<fat32::Node> nodes;
  for (const CardFile& file : files) {
    place(nodes, file.path, file.bytes().size());
  }
  return nodes;
}

Try<void> list_files(std::vector<const CardFile*> files,
                     format::List<format::FileOnCard, 24>& out) {
  std::sort(files.begin(), files.end(),
            [](const CardFile* a, const CardFile* b) { return a->path < b->path; });
  for (const CardFile* file : files) {
    format::FileOnCard listed;
    listed.size = static_cast<std::uint32_t>(file->bytes().size());
    listed.digest = crypto::sha256(file->bytes());
    if (!listed.path.set(file->path) || !out.add(listed)) {
      Error error;
      error.kind = ErrorKind::bad_data;
      error.code = "card-files";
      error.what = "the card's index can't hold this file";
      error.place.item = file->path;
      error.found = fmt::format("{} files", files.size());
      error.expected = fmt::format("at most {}, with paths of at most 40 bytes", out.capacity());
      error.hint = "leave some files out";
      return Unexpected(std::move(error));
    }
  }
  return {};
}

} // namespace cardseal::card
