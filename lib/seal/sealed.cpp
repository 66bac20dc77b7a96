#include "seal/sealed.h"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

#include "trust/dsse.h"

namespace cardseal::seal {
namespace {

std::string line_of(ByteView text, std::uint32_t number) {
  std::string_view rest = text_of(text);
  for (std::uint32_t line = 1; line < number; ++line) {
    const std::size_t end = rest.find('\n');
    if (end == std::string_view::npos) {
      return {};
    }
    rest.remove_prefix(end + 1);
  }
  return std::string(rest.substr(0, rest.find('\n')));
}

// Index of the key that made the signature.
std::optional<std::size_t> maker(std::string_view kind, ByteView text,
                                 const crypto::Signature& signature,
                                 std::span<const format::Key> keys) {
  const io::Bytes message = signed_bytes(kind, text);
  for (std::size_t i = 0; i < keys.size(); ++i) {
    if (crypto::verify(keys[i], message, signature)) {
      return i;
    }
  }
  return std::nullopt;
}

} // namespace

Error spell_error(const Outcome& outcome, std::string_view kind, ByteView spelled) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "cannot-seal";
  error.what = fmt::format("this can't be sealed as a text of kind {}: {}", kind,
                           fault_text(outcome.fault).sentence);
  error.found = line_of(spelled, outcome.position);
  error.hint = "change the value in the author's file";
  return error;
}

io::Bytes signed_bytes(std::string_view kind, ByteView text) {
  const trust::DsseHead head = trust::dsse_head_for_kind(kind, text.size());
  io::Bytes out(head.view().begin(), head.view().end());
  out.insert(out.end(), text.begin(), text.end());
  return out;
}

crypto::Signature sign(const crypto::SigningKey& key, std::string_view kind, ByteView text) {
  return key.sign(signed_bytes(kind, text));
}

trust::SignatureSet set_of(const SignedText& signed_text) {
  trust::SignatureSet set;
  for (const crypto::Signature& signature : signed_text.signatures) {
    if (set.count < trust::max_signatures) {
      set.signatures[set.count++] = signature;
    }
  }
  return set;
}

Try<void> add_signature(SignedText& signed_text, std::string_view kind,
                        std::span<const format::Key> keys, const crypto::SigningKey& key) {
  return add_signature(signed_text, kind, keys, sign(key, kind, signed_text.text));
}

Try<void> add_signature(SignedText& signed_text, std::string_view kind,
                        std::span<const format::Key> keys, const crypto::Signature& signature) {
  struct Made {
    std::size_t by;
    crypto::Signature signature;
  };
  std::vector<Made> made;
  signed_text.signatures.push_back(signature);
  for (const crypto::Signature& each : signed_text.signatures) {
    const std::optional<std::size_t> by = maker(kind, signed_text.text, each, keys);
    if (!by) {
      return Unexpected(Error{ErrorKind::config,
                              "key-not-enrolled",
                              "a signature is not by a key of the root",
                              {},
                              "",
                              "",
                              "sign with a key that the root lists"});
    }
    const bool again =
        std::any_of(made.begin(), made.end(), [&](const Made& one) { return one.by == *by; });
    if (!again) {
      made.push_back({*by, each});
    }
  }
  std::sort(made.begin(), made.end(), [](const Made& a, const Made& b) { return a.by < b.by; });
  signed_text.signatures.clear();
  for (const Made& each : made) {
    signed_text.signatures.push_back(each.signature);
  }
  return {};
}

} // namespace cardseal::seal
