// A sealed text with its signatures, as the desk keeps it: the text in a file, each signature as 64
// raw bytes beside it (`owner.root`, `owner.root.s01`, ...), so that any stock tool can check one.
#pragma once

#include <vector>

#include "base/bytes.h"
#include "crypto/ed25519.h"
#include "diag/error.h"
#include "format/codec.h"
#include "io/file.h"
#include "trust/signatures.h"

namespace cardseal::seal {

struct SignedText {
  io::Bytes text;
  std::vector<crypto::Signature> signatures; // ascending by public key
};

// The one byte form of `value`; an error of kind bad_data when it holds something out of range.
template <class T>
Try<io::Bytes> spell(const T& value);

// What a signature over this text of this kind covers: the DSSE head and the text.
io::Bytes signed_bytes(std::string_view kind, ByteView text);

crypto::Signature sign(const crypto::SigningKey& key, std::string_view kind, ByteView text);

// "x.s01" for 0 and so on.
io::Path signature_path(const io::Path& text_path, std::size_t index);

// The text and the signature files beside it, numbered from 01 without a gap; what stands in
// `pending_path` where a write was cut.
Try<SignedText> read_signed(io::System& system, const io::Path& path, std::size_t limit);

// "x.pending": the digest of the text that is replaced, then text and signatures, in one file,
// which gets its name in one step. Beside a text that is neither the one before nor the one after
// it is an error, code pending-other.
io::Path pending_path(const io::Path& text_path);

// A new text: signatures first, so that it never stands without them; refused where a change of
// that name was interrupted. With `replace`, everything is in `pending_path` before the first file
// is touched, and that file goes last: whatever is cut, read_signed gives all of the old or all of
// the new. Signature files numbered above the new ones are removed.
Try<void> write_signed(io::System& system, const io::Path& path, const SignedText& signed_text,
                       io::IfExists if_exists);

trust::SignatureSet set_of(const SignedText& signed_text);

// Adds a signature in its place by public key among `keys` (public keys of a root, ascending). It
// and the signatures already there must each verify under one of `keys`; one made again counts
// once.
Try<void> add_signature(SignedText& signed_text, std::string_view kind,
                        std::span<const format::Key> keys, const crypto::Signature& signature);

// The same with `key`'s signature.
Try<void> add_signature(SignedText& signed_text, std::string_view kind,
                        std::span<const format::Key> keys, const crypto::SigningKey& key);

Error spell_error(const Outcome& outcome, std::string_view kind, ByteView spelled);

template <class T>
Try<io::Bytes> spell(const T& value) {
  io::Bytes out(T::limit);
  Outcome outcome;
  const std::size_t size = format::encode(value, out, outcome);
  if (size == 0) {
    return Unexpected(spell_error(outcome, T::kind, out));
  }
  out.resize(size);
  return out;
}

} // namespace cardseal::seal
