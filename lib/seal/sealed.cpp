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

// Signature files that an earlier text left, numbered from `first`.
Try<void> remove_from(io::System& system, const io::Path& path, std::size_t first) {
  for (std::size_t i = first; i < trust::max_signatures; ++i) {
    const io::Path stale = signature_path(path, i);
    if (system.stat(stale).has_value()) {
      io::Sys<void> removed = system.remove(stale);
      if (!removed) {
        return Unexpected(io::error_from(removed.error(), stale, "remove"));
      }
    }
  }
  return {};
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

io::Path signature_path(const io::Path& text_path, std::size_t index) {
  return io::Path(text_path).concat(fmt::format(".s{:02}", index + 1));
}

Try<SignedText> read_signed(io::System& system, const io::Path& path, std::size_t limit) {
  SignedText out;
  Try<io::Bytes> text = io::read_file(system, path, limit);
  if (!text) {
    return Unexpected(std::move(text).error());
  }
  out.text = std::move(*text);
  for (std::size_t i = 0; i < trust::max_signatures; ++i) {
    Try<io::Bytes> bytes =
        io::read_file(system, signature_path(path, i), crypto::Signature{}.size());
    if (!bytes && bytes.error().kind == ErrorKind::no_input) {
      break;
    }
    if (!bytes) {
      return Unexpected(std::move(bytes).error());
    }
    crypto::Signature signature{};
    if (bytes->size() != signature.size()) {
      return Unexpected(Error{ErrorKind::bad_data,
                              "signature-size",
                              "a signature file is not 64 bytes long",
                              {signature_path(path, i).string(), 0, 0, ""},
                              fmt::format("{} bytes", bytes->size()),
                              "64 bytes",
                              "get the file again from the person who sent it"});
    }
    std::copy(bytes->begin(), bytes->end(), signature.begin());
    out.signatures.push_back(signature);
  }
  return out;
}

Try<void> write_signed(io::System& system, const io::Path& path, const SignedText& signed_text,
                       io::IfExists if_exists) {
  // Opened first: where the text can't be made, no signature is made either.
  Try<io::NewFile> file = io::NewFile::create(system, path, if_exists);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  const std::vector<crypto::Signature>& signatures = signed_text.signatures;
  std::size_t made = 0;
  Try<void> written = file->write_at(0, signed_text.text);
  while (written && made < signatures.size()) {
    written = io::write_file(system, signature_path(path, made), signatures[made], if_exists);
    made += written ? 1 : 0;
  }
  if (written) {
    written = file->commit();
  }
  if (if_exists == io::IfExists::replace) {
    return written ? remove_from(system, path, signatures.size()) : std::move(written);
  }
  for (std::size_t i = 0; !written && i < made; ++i) {
    (void)system.remove(signature_path(path, i));
  }
  return written;
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
  struct Made {
    std::size_t by;
    crypto::Signature signature;
  };
  std::vector<Made> made;
  signed_text.signatures.push_back(sign(key, kind, signed_text.text));
  for (const crypto::Signature& signature : signed_text.signatures) {
    const std::optional<std::size_t> by = maker(kind, signed_text.text, signature, keys);
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
        std::any_of(made.begin(), made.end(), [&](const Made& each) { return each.by == *by; });
    if (!again) {
      made.push_back({*by, signature});
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
