#include "archive/item_text.h"

#include <algorithm>

#include <fmt/format.h>

#include "base/number.h"

namespace cardseal::archive {
namespace {

constexpr std::string_view item_head = "cardseal-archive-item 1";
constexpr std::string_view sparse_head = "cardseal-sparse 1\n";
constexpr std::size_t block = 4096;

Error wrong_form(const io::Path& file, const char* what) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "archive-form";
  error.what = what;
  error.place.file = file.string();
  error.hint = "take this item from another copy of the archive";
  return error;
}

std::string_view take_line(std::string_view& rest) {
  const std::size_t end = std::min(rest.find('\n'), rest.size());
  const std::string_view line = rest.substr(0, end);
  rest.remove_prefix(std::min(end + 1, rest.size()));
  return line;
}

// The value of "key value"; none: another key.
std::optional<std::string_view> value_of(std::string_view line, std::string_view key) {
  if (line.substr(0, key.size()) != key || line.size() < key.size() + 2 ||
      line[key.size()] != ' ') {
    return std::nullopt;
  }
  return line.substr(key.size() + 1);
}

// No folder, so that taking an item out never leaves the folder that was named.
bool is_plain_name(std::string_view name) {
  return !name.empty() && name.size() <= 200 && name[0] != '.' &&
         std::none_of(name.begin(), name.end(), [](char c) {
           return c == '/' || c == '\\' || static_cast<unsigned char>(c) < 0x20;
         });
}

bool parse_part(std::string_view line, Part& part) {
  std::string_view words[3];
  for (std::string_view& word : words) {
    const std::size_t space = line.find(' ');
    if (space == std::string_view::npos) {
      return false;
    }
    word = line.substr(0, space);
    line.remove_prefix(space + 1);
  }
  part.sparse = words[2] == "sparse";
  part.name = line;
  return crypto::parse_digest(words[0], part.digest) && parse_uint(words[1], part.size) &&
         (part.sparse || words[2] == "whole") && is_plain_name(line);
}

void put_number(io::Bytes& out, std::uint64_t value) {
  for (unsigned i = 0; i < 8; ++i) {
    out.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
  }
}

std::uint64_t take_number(ByteView& rest) {
  std::uint64_t value = 0;
  for (unsigned i = 0; i < 8; ++i) {
    value |= std::uint64_t{rest[i]} << (8 * i);
  }
  rest = rest.subspan(8);
  return value;
}

bool is_zero(ByteView bytes) {
  return std::all_of(bytes.begin(), bytes.end(), [](std::uint8_t byte) { return byte == 0; });
}

} // namespace

std::string spell(const Item& item) {
  std::string out =
      fmt::format("{}\nkind {}\ntitle {}\ntime {}\n", item_head,
                  kind_words[static_cast<std::size_t>(item.kind)], item.title, item.time);
  for (const Part& part : item.parts) {
    out += fmt::format("part {} {} {} {}\n", crypto::spell_digest(part.digest), part.size,
                       part.sparse ? "sparse" : "whole", part.name);
  }
  return out;
}

Try<Item> parse(std::string_view text, const io::Path& file) {
  Item item;
  std::string_view rest = text;
  const bool ended = !text.empty() && text.back() == '\n';
  const bool headed = take_line(rest) == item_head;
  const auto kind = value_of(take_line(rest), "kind");
  const auto title = value_of(take_line(rest), "title");
  const auto time = value_of(take_line(rest), "time");
  const auto* const known =
      std::find(kind_words.begin(), kind_words.end(), kind.value_or(std::string_view()));
  if (!ended || !headed || !title || !time || known == kind_words.end()) {
    return Unexpected(wrong_form(file, "this is no item of an archive"));
  }
  item.kind = static_cast<Kind>(known - kind_words.begin());
  item.title = *title;
  item.time = *time;
  while (!rest.empty()) {
    Part part;
    const auto line = value_of(take_line(rest), "part");
    if (!line || !parse_part(*line, part)) {
      return Unexpected(wrong_form(file, "a part of this item is not in its form"));
    }
    item.parts.push_back(std::move(part));
  }
  if (item.parts.empty() || spell(item) != text) {
    return Unexpected(wrong_form(file, "this item of an archive is not in its one form"));
  }
  return item;
}

Try<io::Bytes> without_holes(const io::ReadFile& file) {
  io::Bytes out(sparse_head.begin(), sparse_head.end());
  put_number(out, file.size());
  io::Bytes buffer(256 * block);
  std::size_t length_at = 0; // of the run being written
  std::uint64_t run_end = ~0ULL;
  for (std::uint64_t at = 0; at < file.size(); at += buffer.size()) {
    at = std::max(at, file.next_data(at) / block * block);
    if (at >= file.size()) {
      break;
    }
    const ByteSpan window =
        ByteSpan(buffer).first(std::min<std::uint64_t>(buffer.size(), file.size() - at));
    if (Try<void> read = file.read_at(at, window); !read) {
      return Unexpected(std::move(read).error());
    }
    for (std::size_t i = 0; i < window.size(); i += block) {
      const ByteView bytes = window.subspan(i, std::min(block, window.size() - i));
      if (is_zero(bytes)) {
        continue;
      }
      if (run_end != at + i) {
        put_number(out, at + i);
        length_at = out.size();
        put_number(out, 0);
      }
      out.insert(out.end(), bytes.begin(), bytes.end());
      run_end = at + i + bytes.size();
      const std::uint64_t length = out.size() - length_at - 8;
      for (unsigned n = 0; n < 8; ++n) {
        out[length_at + n] = static_cast<std::uint8_t>(length >> (8 * n));
      }
    }
  }
  return out;
}

Try<void> with_holes(ByteView sparse, io::NewFile& out, const io::Path& file) {
  if (text_of(sparse).substr(0, sparse_head.size()) != sparse_head ||
      sparse.size() < sparse_head.size() + 8) {
    return Unexpected(wrong_form(file, "this is no image without its holes"));
  }
  ByteView rest = sparse.subspan(sparse_head.size());
  const std::uint64_t size = take_number(rest);
  Try<void> step = out.resize(size);
  while (step && !rest.empty()) {
    if (rest.size() < 16) {
      return Unexpected(wrong_form(file, "an image without its holes ends too early"));
    }
    const std::uint64_t offset = take_number(rest);
    const std::uint64_t length = take_number(rest);
    if (length > rest.size() || offset > size || length > size - offset) {
      return Unexpected(wrong_form(file, "an image without its holes names bytes it has not"));
    }
    step = out.write_at(offset, rest.first(length));
    rest = rest.subspan(length);
  }
  return step;
}

} // namespace cardseal::archive
