// A sealed text and its signatures in their files.
#include <algorithm>

#include <fmt/format.h>

#include "seal/sealed.h"

namespace cardseal::seal {
namespace {

constexpr std::string_view pending_kind = "cardseal-pending 1\n";

Error size_error(const io::Path& path, std::size_t found) {
  return {ErrorKind::bad_data,
          "signature-size",
          "a signature file is not 64 bytes long",
          {path.string(), 0, 0, ""},
          fmt::format("{} bytes", found),
          "64 bytes",
          "get the file again from the person who sent it"};
}

Error pending_error(const io::Path& path) {
  return {ErrorKind::bad_data,
          "pending-form",
          "this file is not what an interrupted change leaves",
          {path.string(), 0, 0, ""},
          "another file of this name",
          "",
          "move it away, and look whether the text beside it and its signatures fit"};
}

Try<crypto::Signature> to_signature(ByteView bytes, const io::Path& path) {
  crypto::Signature signature{};
  if (bytes.size() != signature.size()) {
    return Unexpected(size_error(path, bytes.size()));
  }
  std::copy(bytes.begin(), bytes.end(), signature.begin());
  return signature;
}

// "cardseal-pending 1", a line with the count of signatures, these, the text.
io::Bytes pending_bytes(const SignedText& signed_text) {
  const std::string head =
      fmt::format("{}signatures {}\n", pending_kind, signed_text.signatures.size());
  io::Bytes out(head.begin(), head.end());
  for (const crypto::Signature& signature : signed_text.signatures) {
    out.insert(out.end(), signature.begin(), signature.end());
  }
  out.insert(out.end(), signed_text.text.begin(), signed_text.text.end());
  return out;
}

Try<SignedText> parse_pending(const io::Bytes& bytes, const io::Path& path) {
  SignedText out;
  std::string_view rest = text_of(ByteView(bytes));
  constexpr std::string_view key = "signatures ";
  const std::size_t digit = pending_kind.size() + key.size();
  const bool formed = rest.size() > digit + 1 && rest.starts_with(pending_kind) &&
                      rest.substr(pending_kind.size(), key.size()) == key && rest[digit] >= '0' &&
                      rest[digit] <= '8' && rest[digit + 1] == '\n';
  const std::size_t count = formed ? static_cast<std::size_t>(rest[digit] - '0') : 0;
  const std::size_t size = crypto::Signature{}.size();
  if (!formed || bytes.size() < digit + 2 + count * size) {
    return Unexpected(pending_error(path));
  }
  ByteView left = ByteView(bytes).subspan(digit + 2);
  for (std::size_t i = 0; i < count; ++i, left = left.subspan(size)) {
    Try<crypto::Signature> signature = to_signature(left.first(size), path);
    if (!signature) {
      return Unexpected(std::move(signature).error());
    }
    out.signatures.push_back(*signature);
  }
  out.text.assign(left.begin(), left.end());
  return out;
}

Try<void> remove_if_there(io::System& system, const io::Path& path) {
  if (!system.stat(path).has_value()) {
    return {};
  }
  io::Sys<void> removed = system.remove(path);
  if (!removed) {
    return Unexpected(io::error_from(removed.error(), path, "remove"));
  }
  return {};
}

Try<void> sync_folder_of(io::System& system, const io::Path& path) {
  const io::Path folder = path.parent_path();
  const io::Sys<void> synced = system.sync_folder(folder.empty() ? io::Path(".") : folder);
  if (!synced) {
    return Unexpected(io::error_from(synced.error(), path, "sync"));
  }
  return {};
}

// Text, signatures, and the removal of signatures that an earlier text left.
Try<void> replace_files(io::System& system, const io::Path& path, const SignedText& signed_text) {
  Try<void> step = io::write_file(system, path, signed_text.text, io::IfExists::replace);
  for (std::size_t i = 0; step && i < trust::max_signatures; ++i) {
    const io::Path each = signature_path(path, i);
    step = i < signed_text.signatures.size()
               ? io::write_file(system, each, signed_text.signatures[i], io::IfExists::replace)
               : remove_if_there(system, each);
  }
  return step ? sync_folder_of(system, path) : std::move(step);
}

Try<void> replace_signed(io::System& system, const io::Path& path, const SignedText& signed_text) {
  const io::Path pending = pending_path(path);
  Try<void> step =
      io::write_file(system, pending, pending_bytes(signed_text), io::IfExists::replace);
  if (step) {
    step = replace_files(system, path, signed_text);
  }
  return step ? remove_if_there(system, pending) : std::move(step);
}

Try<void> write_new(io::System& system, const io::Path& path, const SignedText& signed_text) {
  // Opened first: where the text can't be made, no signature is made either.
  Try<io::NewFile> file = io::NewFile::create(system, path, io::IfExists::refuse);
  if (!file) {
    return Unexpected(std::move(file).error());
  }
  std::size_t made = 0;
  Try<void> written = file->write_at(0, signed_text.text);
  while (written && made < signed_text.signatures.size()) {
    written = io::write_file(system, signature_path(path, made), signed_text.signatures[made],
                             io::IfExists::refuse);
    made += written ? 1 : 0;
  }
  if (written) {
    written = file->commit();
  }
  for (std::size_t i = 0; !written && i < made; ++i) {
    (void)system.remove(signature_path(path, i));
  }
  return written;
}

} // namespace

io::Path signature_path(const io::Path& text_path, std::size_t index) {
  return io::Path(text_path).concat(fmt::format(".s{:02}", index + 1));
}

io::Path pending_path(const io::Path& text_path) {
  return io::Path(text_path).concat(".pending");
}

Try<SignedText> read_signed(io::System& system, const io::Path& path, std::size_t limit) {
  const io::Path pending = pending_path(path);
  if (path != "-" && system.stat(pending).has_value()) {
    Try<io::Bytes> bytes = io::read_file(system, pending, limit + 1024);
    return bytes ? parse_pending(*bytes, pending) : Unexpected(std::move(bytes).error());
  }
  SignedText out;
  Try<io::Bytes> text = io::read_file(system, path, limit);
  if (!text) {
    return Unexpected(std::move(text).error());
  }
  out.text = std::move(*text);
  for (std::size_t i = 0; i < trust::max_signatures; ++i) {
    const io::Path each = signature_path(path, i);
    Try<io::Bytes> bytes = io::read_file(system, each, crypto::Signature{}.size());
    if (!bytes && bytes.error().kind == ErrorKind::no_input) {
      break;
    }
    Try<crypto::Signature> signature =
        bytes ? to_signature(*bytes, each) : Unexpected(std::move(bytes).error());
    if (!signature) {
      return Unexpected(std::move(signature).error());
    }
    out.signatures.push_back(*signature);
  }
  return out;
}

Try<void> write_signed(io::System& system, const io::Path& path, const SignedText& signed_text,
                       io::IfExists if_exists) {
  return if_exists == io::IfExists::replace ? replace_signed(system, path, signed_text)
                                            : write_new(system, path, signed_text);
}

} // namespace cardseal::seal
