#include "seal/owner.h"

#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "crypto/table.h"

namespace cardseal::seal {
namespace {

Error at_line(Error error, const Outcome& outcome) {
  error.place.line = outcome.position;
  error.kind = ErrorKind::bad_data;
  return error;
}

template <class T>
Try<T> decode_file(ByteView text, const io::Path& path) {
  T value;
  const Outcome outcome = format::decode(text, value);
  if (!outcome.ok()) {
    return Unexpected(at_line(error_from(outcome, path.string()), outcome));
  }
  return value;
}

template <class T, std::size_t N, class Less>
void sort_list(format::List<T, N>& list, Less less) {
  std::sort(list.items.begin(), list.items.begin() + list.count, less);
}

} // namespace

Try<OwnerTrust> read_trust_form(io::System& system, const io::Path& path) {
  Try<SignedText> file = read_signed(system, path, format::TrustList::limit);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  Try<format::TrustList> list = decode_file<format::TrustList>(file->text, path);
  if (!list) {
    return Unexpected(std::move(list).error());
  }
  OwnerTrust out{std::move(*file), *list, {}};
  out.digest = crypto::sha256(out.file.text);
  return out;
}

namespace {

// A list of another owner fails by its signatures, which says little; its own words, which count
// for nothing here, say more.
bool is_of_another(ByteView text, const OwnerRoot& root) {
  format::TrustList claimed;
  return format::decode(text, claimed).ok() && claimed.owner != root.owner;
}

Error other_owner(const io::Path& path, const OwnerRoot& root) {
  Error error = error_from(refuse(Fault::trust_owner), path.string());
  error.expected = "a list of the owner " + spoken(root.owner);
  error.hint = "name root and trust list of one owner";
  return error;
}

} // namespace

Try<OwnerTrust> read_trust_draft(io::System& system, const io::Path& path, const OwnerRoot& root) {
  Try<OwnerTrust> out = read_trust_form(system, path);
  if (!out) {
    return out;
  }
  const Outcome outcome = trust::judge_list_claims(root.view(), out->list);
  if (!outcome.ok()) {
    return Unexpected(error_from(outcome, path.string()));
  }
  return out;
}

namespace {

// Looked at before the signatures: they are of the older root's keys, which this root need not
// have, and "not signed by an enrolled key" would tell nobody what to do.
Try<void> check_root_version(ByteView text, const io::Path& path, const OwnerRoot& root) {
  format::TrustList list;
  const bool older = format::decode(text, list).ok() && list.owner == root.owner &&
                     list.root_version < root.root.version;
  if (!older) {
    return {};
  }
  Error error = error_from(refuse(Fault::trust_root), path.string());
  error.found = fmt::format("a list under root {}", list.root_version);
  error.expected = fmt::format("a list under root {}", root.root.version);
  error.hint =
      "cardseal trust add LIST --root NEWEST brings it under the newest root, then sign it";
  return Unexpected(std::move(error));
}

} // namespace

Try<OwnerTrust> read_trust(io::System& system, const io::Path& path, const OwnerRoot& root) {
  Try<SignedText> file = read_signed(system, path, format::TrustList::limit);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  const Try<void> of_this_root = check_root_version(file->text, path, root);
  if (!of_this_root) {
    return Unexpected(of_this_root.error());
  }
  OwnerTrust out{std::move(*file), {}, {}};
  crypto::BotanContext botan;
  const Outcome outcome =
      trust::judge_trust_list(crypto::botan_table(botan), root.view(), out.file.text,
                              set_of(out.file), out.list, out.digest);
  if (!outcome.ok()) {
    return Unexpected(is_of_another(out.file.text, root) ? other_owner(path, root)
                                                         : error_from(outcome, path.string()));
  }
  return out;
}

Try<OwnerTrust> read_trust_of_chain(io::System& system, const io::Path& path,
                                    const OwnerRoot& root) {
  Try<OwnerTrust> form = read_trust_form(system, path);
  if (!form) {
    return form;
  }
  const Try<OwnerRoot> then = root_of_version(root, form->list.root_version, path);
  if (!then) {
    return Unexpected(then.error());
  }
  return read_trust(system, path, *then);
}

std::vector<format::Window> windows_of(const format::TrustList& list, const format::Key& key,
                                       std::optional<format::WindowUse> use) {
  std::vector<format::Window> windows;
  for (const format::Window& window : list.windows.view()) {
    if (window.key == key && (!use || window.use == *use)) {
      windows.push_back(window);
    }
  }
  return windows;
}

void sort_lists(format::TrustList& list) {
  sort_list(list.persons, [](const auto& a, const auto& b) { return a.id.view() < b.id.view(); });
  sort_list(list.keys, [](const auto& a, const auto& b) { return a.key < b.key; });
  sort_list(list.thresholds, [](const auto& a, const auto& b) {
    return format::role_words[static_cast<std::size_t>(a.role)] <
           format::role_words[static_cast<std::size_t>(b.role)];
  });
  sort_list(list.products, [](const auto& a, const auto& b) { return a.id.view() < b.id.view(); });
  sort_list(list.windows, [](const auto& a, const auto& b) {
    if (a.key != b.key) {
      return a.key < b.key;
    }
    return a.scheme.view() != b.scheme.view() ? a.scheme.view() < b.scheme.view()
                                              : a.first < b.first;
  });
  sort_list(list.withdrawn, [](const auto& a, const auto& b) { return a < b; });
}

std::string spoken(const format::Digest& digest) {
  const std::string digits = crypto::hex(digest);
  std::string out;
  for (std::size_t i = 0; i < digits.size(); i += 4) {
    out += (i == 0 ? "" : " ") + digits.substr(i, 4);
  }
  return out;
}

} // namespace cardseal::seal
