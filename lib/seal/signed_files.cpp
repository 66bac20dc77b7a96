// A sealed text and its signatures in their files.
#include <algorithm>

#include <fmt/format.h>

#include "crypto/sha256.h"
#include "seal/sealed.h"

namespace cardseal::seal {
namespace {

constexpr std::string_view pending_kind = "cardseal-pending 2\n";
constexpr std::string_view pending_replaces = "replaces ";
constexpr std::string_view pending_signatures = "signatures ";
constexpr std::size_t largest_text = 1U << 20; // of any kind that is signed

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

Error pending_other(const io::Path& path, const io::Path& pending) {
  return {ErrorKind::bad_data,
          "pending-other",
          "an interrupted change lies beside a text that it was not to replace",
          {pending.string(), 0, 0, ""},
          fmt::format("{} was changed since, or is gone", path.string()),
          "the text before that change, or the one after it",
          "look at both and delete the one that is not wanted"};
}

Error pending_left(const io::Path& pending) {
  return {ErrorKind::no_create,
          "pending-left",
          "a file of this name was being changed, and the change was interrupted",
          {pending.string(), 0, 0, ""},
          "",
          "no such file beside a new one",
          "look at it, and delete it when it is not wanted; or choose another name"};
}

struct Pending {
  std::string replaces; // digest of the text before, or "-"
  SignedText after;
};

// "-" when there is no text yet.
Try<std::string> digest_of_file(io::System& system, const io::Path& path) {
  if (!system.stat(path).has_value()) {
    return std::string("-");
  }
  const Try<io::Bytes> text = io::read_file(system, path, largest_text);
  return text ? Try<std::string>(crypto::spell_digest(crypto::sha256(*text)))
              : Unexpected(text.error());
}

// "cardseal-pending 2", a line with the digest of the text that is replaced, one with the count of
// signatures, these, the text.
io::Bytes pending_bytes(const SignedText& signed_text, const std::string& replaces) {
  const std::string head = fmt::format("{}{}{}\n{}{}\n", pending_kind, pending_replaces, replaces,
                                       pending_signatures, signed_text.signatures.size());
  io::Bytes out(head.begin(), head.end());
  for (const crypto::Signature& signature : signed_text.signatures) {
    out.insert(out.end(), signature.begin(), signature.end());
  }
  out.insert(out.end(), signed_text.text.begin(), signed_text.text.end());
  return out;
}

// Takes "`key`value\n" off the front of `rest`.
bool take_line(std::string_view& rest, std::string_view key, std::string& value) {
  const std::size_t end = rest.find('\n');
  if (!rest.starts_with(key) || end == std::string_view::npos) {
    return false;
  }
  value = rest.substr(key.size(), end - key.size());
  rest.remove_prefix(end + 1);
  return true;
}

Try<Pending> parse_pending(const io::Bytes& bytes, const io::Path& path) {
  Pending out;
  std::string_view rest = text_of(ByteView(bytes));
  std::string digits;
  std::string none;
  const bool formed = take_line(rest, pending_kind.substr(0, pending_kind.size() - 1), none) &&
                      none.empty() && take_line(rest, pending_replaces, out.replaces) &&
                      take_line(rest, pending_signatures, digits) && digits.size() == 1 &&
                      digits[0] >= '0' && digits[0] <= '8';
  const std::size_t count = formed ? static_cast<std::size_t>(digits[0] - '0') : 0;
  const std::size_t size = crypto::Signature{}.size();
  if (!formed || rest.size() < count * size) {
    return Unexpected(pending_error(path));
  }
  ByteView left = ByteView(bytes).last(rest.size());
  for (std::size_t i = 0; i < count; ++i, left = left.subspan(size)) {
    Try<crypto::Signature> signature = to_signature(left.first(size), path);
    if (!signature) {
      return Unexpected(std::move(signature).error());
    }
    out.after.signatures.push_back(*signature);
  }
  out.after.text.assign(left.begin(), left.end());
  return out;
}

// What an interrupted change leaves counts only beside the text that it was to replace, or has
// replaced: a text that came later is never hidden by it.
Try<SignedText> read_pending(io::System& system, const io::Path& path, std::size_t limit) {
  const io::Path pending = pending_path(path);
  const Try<io::Bytes> bytes = io::read_file(system, pending, limit + 1024);
  Try<Pending> parsed = bytes ? parse_pending(*bytes, pending) : Unexpected(bytes.error());
  if (!parsed) {
    return Unexpected(std::move(parsed).error());
  }
  const Try<std::string> beside = digest_of_file(system, path);
  if (!beside) {
    return Unexpected(beside.error());
  }
  if (*beside != parsed->replaces &&
      *beside != crypto::spell_digest(crypto::sha256(parsed->after.text))) {
    return Unexpected(pending_other(path, pending));
  }
  return std::move(parsed->after);
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
  const Try<std::string> before = digest_of_file(system, path);
  Try<void> step = before ? io::write_file(system, pending, pending_bytes(signed_text, *before),
                                           io::IfExists::replace)
                          : Unexpected(before.error());
  if (step) {
    step = replace_files(system, path, signed_text);
  }
  return step ? remove_if_there(system, pending) : std::move(step);
}

Try<void> write_new(io::System& system, const io::Path& path, const SignedText& signed_text) {
  if (system.stat(pending_path(path)).has_value()) {
    return Unexpected(pending_left(pending_path(path)));
  }
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
  if (path != "-" && system.stat(pending_path(path)).has_value()) {
    return read_pending(system, path, limit);
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
