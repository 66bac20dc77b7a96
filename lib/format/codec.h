// Bytes to struct and back. encode(decode(x)) == x for every accepted x, and what encode makes is
// always accepted by decode.
#pragma once

#include "format/reader.h"
#include "format/writer.h"

namespace cardseal::format {

template <class T>
Outcome decode(ByteView bytes, T& out) {
  TextReader reader(bytes, T::limit);
  reader.head(T::kind);
  visit(reader, out);
  reader.finish();
  return reader.outcome();
}

// The number of bytes written, or 0 when `out` is too small or the values would not be accepted:
// `outcome` then says why.
template <class T>
std::size_t encode(const T& value, ByteSpan out, Outcome& outcome) {
  T copy_of_value = value; // the description takes fields it may write to
  TextWriter writer(out);
  writer.head(T::kind);
  visit(writer, copy_of_value);
  outcome = writer.size() == 0 ? refuse(Fault::text_too_long)
                               : decode(ByteView(out.first(writer.size())), copy_of_value);
  return outcome.ok() ? writer.size() : 0;
}

} // namespace cardseal::format
