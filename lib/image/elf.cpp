#include "image/elf.h"

#include <algorithm>
#include <limits>
#include <vector>

#include "diag/error.h"
#include "image/elf_file.h"
#include "image/image_builder.h"
#include "image/spell.h"

namespace cardseal::image {
namespace {

// Beyond this and the file's own size, segments that share bytes of the file are refused.
constexpr std::uint64_t shared_bytes = std::uint64_t{1} << 24;
constexpr std::uint32_t most_unit = 8;

using Ranges = std::vector<FileRange>;

// In ascending order, none touching another.
Ranges joined(Ranges ranges) {
  std::sort(ranges.begin(), ranges.end(),
            [](const FileRange& a, const FileRange& b) { return a.offset < b.offset; });
  Ranges out;
  for (const FileRange& each : ranges) {
    if (out.empty() || each.offset > out.back().end()) {
      out.push_back(each);
    } else {
      out.back().length = std::max(out.back().end(), each.end()) - out.back().offset;
    }
  }
  return out;
}

// Calls take(range, inside) for the parts of `range` in order, inside and outside of `ranges`,
// which are joined. Stops when take() returns an error.
template <class Take>
Try<void> divide(const FileRange& range, const Ranges& ranges, Take take) {
  auto next = std::upper_bound(
      ranges.begin(), ranges.end(), range.offset,
      [](std::uint64_t offset, const FileRange& each) { return offset < each.end(); });
  std::uint64_t at = range.offset;
  while (at < range.end()) {
    const bool inside = next != ranges.end() && next->offset <= at;
    std::uint64_t end = range.end();
    if (next != ranges.end()) {
      end = std::min(end, inside ? next->end() : next->offset);
    }
    if (auto done = take(FileRange{at, end - at}, inside); !done) {
      return done;
    }
    at = end;
    next += inside ? 1 : 0;
  }
  return {};
}

// What is between 0 and `size` and not in `ranges`, which are joined.
Ranges all_but(const Ranges& ranges, std::uint64_t size) {
  Ranges out;
  (void)divide({0, size}, ranges, [&](const FileRange& part, bool inside) -> Try<void> {
    if (!inside) {
      out.push_back(part);
    }
    return {};
  });
  return out;
}

class Reader {
public:
  Reader(ByteView bytes, std::string file, const ElfFile& elf, const ElfReadOptions& options)
      : bytes_(bytes), elf_(elf), unit_(options.address_unit),
        mode_(options.mode.value_or(elf.any_section_header || !elf.any_program_header
                                        ? ElfMode::sections
                                        : ElfMode::segments)) {
    file_ = builder_.add_file(std::move(file));
    out_.elf_mode = mode_;
  }

  Try<Firmware> read() {
    for (auto part :
         {&Reader::prepare, &Reader::check_sections, &Reader::add_all, &Reader::take_entry}) {
      if (auto done = (this->*part)(); !done) {
        return Unexpected(std::move(done).error());
      }
    }
    if (padding_ != 0) {
      out_.notes.add(note::segment_padding, 0, {}, padding_);
    }
    auto image = builder_.finish(out_.notes);
    if (!image) {
      return Unexpected(std::move(image).error());
    }
    out_.image = std::move(image).value();
    if (out_.image.empty()) {
      out_.notes.add(note::no_data, 0);
    }
    return std::move(out_);
  }

private:
  Error problem(const char* code, const char* what, std::string hint) const {
    Error error;
    error.kind = ErrorKind::bad_data;
    error.code = code;
    error.what = what;
    error.place.file = builder_.file_name(file_);
    error.hint = std::move(hint);
    return error;
  }

  Try<void> prepare() {
    if (unit_ < 1 || unit_ > most_unit) {
      Error error = problem("elf-unit", "address unit is out of range",
                            "state how many bytes lie at one address of the part");
      error.kind = ErrorKind::usage;
      error.found = std::to_string(unit_);
      error.expected = "1 to " + std::to_string(most_unit) + " bytes";
      return Unexpected(std::move(error));
    }
    if (mode_ == ElfMode::segments && !elf_.any_program_header) {
      Error error = problem("elf-no-segments", "file has no program headers",
                            "read it by sections, or take the file that the linker writes");
      error.found = "sections only";
      error.expected = "load segments";
      return Unexpected(std::move(error));
    }
    Ranges sections;
    for (const ElfSection& section : elf_.sections) {
      sections.push_back(section.file);
    }
    headers_ = joined(elf_.headers);
    if (mode_ == ElfMode::segments) {
      const Ranges body = all_but(headers_, bytes_.size());
      sections.insert(sections.end(), body.begin(), body.end());
    }
    kept_ = joined(std::move(sections));
    // Several segments can't all lie at 0: then the linker wrote no physical addresses at all.
    physical_ = elf_.memory_segments <= 1 || elf_.any_physical_address;
    if (!physical_) {
      out_.notes.add(note::no_physical_address, 0);
    }
    return {};
  }

  bool loads(const ElfSegment& segment, const ElfSection& section) const {
    return segment.file.holds(section.file) &&
           (section.address - segment.virtual_address) * unit_ ==
               section.file.offset - segment.file.offset;
  }

  static bool overlap(const FileRange& a, const FileRange& b) {
    return a.length != 0 && b.length != 0 && a.offset < b.offset + b.length &&
           b.offset < a.offset + a.length;
  }

  // Its bytes would go to two places, or to one of the two.
  Error held_twice(const ElfSection& section, std::uint64_t segments) const {
    Error error = problem("elf-section-twice", "several load segments hold bytes of one section",
                          "readers differ on where they go; read the file by segments if those are "
                          "right, or link it again");
    error.place.item = "section " + section.name;
    error.found = spell_count(segments, "load segment");
    error.expected = "one";
    return error;
  }

  // A section elsewhere than its segment is taken from the one place by some and from the other by
  // others.
  Try<void> check_sections() {
    if (mode_ == ElfMode::segments || !elf_.any_program_header) {
      return {};
    }
    for (const ElfSection& section : elf_.sections) {
      const auto holding =
          std::count_if(elf_.segments.begin(), elf_.segments.end(),
                        [&](const ElfSegment& each) { return overlap(each.file, section.file); });
      if (holding > 1) {
        return Unexpected(held_twice(section, static_cast<std::uint64_t>(holding)));
      }
      if (std::none_of(elf_.segments.begin(), elf_.segments.end(),
                       [&](const ElfSegment& each) { return loads(each, section); })) {
        Error error = problem("elf-unloaded", "no load segment holds a section at its address",
                              "readers differ on where it goes; read the file by segments if "
                              "those are right, or link it again");
        error.place.item = "section " + section.name;
        error.found = "address " + spell_address(section.address) + ", file offset " +
                      spell_address(section.file.offset);
        error.expected = "a load segment with both";
        return Unexpected(std::move(error));
      }
    }
    return {};
  }

  Try<void> add_all() {
    if (!elf_.any_program_header) {
      for (const ElfSection& section : elf_.sections) {
        if (auto done = add(section.file, section.address, 0); !done) {
          return done;
        }
      }
      return {};
    }
    for (const ElfSegment& segment : elf_.segments) {
      if (auto done = add_segment(segment); !done) {
        return done;
      }
    }
    return {};
  }

  Try<void> add_segment(const ElfSegment& segment) {
    const std::uint64_t address = physical_ ? segment.physical_address : segment.virtual_address;
    return divide(segment.file, kept_, [&](const FileRange& part, bool inside) -> Try<void> {
      if (inside) {
        return add(part, address, part.offset - segment.file.offset);
      }
      return divide(part, headers_, [&](const FileRange& rest, bool header) -> Try<void> {
        return header ? Try<void>{} : take_padding(rest, address, segment);
      });
    });
  }

  Try<void> take_padding(const FileRange& part, std::uint64_t address, const ElfSegment& segment) {
    const ByteView bytes = bytes_.subspan(part.offset, part.length);
    const auto other = std::find_if(bytes.begin(), bytes.end(), [](std::uint8_t b) { return b; });
    if (other == bytes.end()) {
      padding_ += part.length;
      return {};
    }
    const auto into = static_cast<std::uint64_t>(other - bytes.begin());
    Error error = problem("elf-uncovered", "load segment has bytes that no section holds",
                          "read the file by segments to take them, or link it again");
    error.place.item =
        "address " + spell_address(address * unit_ + part.offset + into - segment.file.offset);
    error.found = spell_byte(*other) + " at file offset " + spell_address(part.offset + into);
    error.expected = "zero bytes, as padding is";
    return Unexpected(std::move(error));
  }

  // The byte at `into` bytes behind the file's own `address`.
  Try<void> add(const FileRange& part, std::uint64_t address, std::uint64_t into) {
    const std::uint64_t last = elf_.wide ? std::numeric_limits<std::uint64_t>::max() - 1
                                         : std::uint64_t{0xFFFFFFFF} * unit_ + (unit_ - 1);
    const std::uint64_t room = address > last / unit_ ? 0 : last - address * unit_ + 1;
    if (into > room || part.length > room - into) {
      Error error = problem("elf-past-end", "bytes run past the last address",
                            "link the program for addresses that the part has");
      error.found = spell_count(part.length, "byte") + " at " + spell_address(address);
      error.expected = spell_address(last) + " at most";
      return Unexpected(std::move(error));
    }
    const std::uint64_t most = bytes_.size() + shared_bytes;
    if (part.length > most - total_) {
      Error error = problem("elf-too-large", "load segments share too many bytes of the file",
                            "check how the file was made");
      error.found = "more than " + spell_count(most, "byte") + " to load";
      error.expected = "about as many as the file has";
      return Unexpected(std::move(error));
    }
    total_ += part.length;
    builder_.add(address * unit_ + into, bytes_.subspan(part.offset, part.length), file_, 0);
    return {};
  }

  Try<void> take_entry() {
    if (elf_.entry > std::numeric_limits<std::uint64_t>::max() / unit_) {
      Error error =
          problem("elf-past-end", "entry point is past the last address", "check the address unit");
      error.found = spell_address(elf_.entry) + " in units of " + spell_count(unit_, "byte");
      error.expected = "an address of 64 bits";
      return Unexpected(std::move(error));
    }
    if (elf_.entry != 0) {
      out_.start = StartAddress{StartKind::linear, elf_.entry * unit_, 0};
    }
    return {};
  }

  ByteView bytes_;
  const ElfFile& elf_;
  std::uint64_t unit_;
  ElfMode mode_;
  ImageBuilder builder_;
  std::uint16_t file_ = 0;
  Firmware out_;
  Ranges headers_;
  Ranges kept_; // what of the file may be in the image
  bool physical_ = true;
  std::uint64_t padding_ = 0;
  std::uint64_t total_ = 0; // bytes added
};

} // namespace

Try<Firmware> read_elf(ByteView bytes, std::string file, const ElfReadOptions& options) {
  const Try<ElfFile> elf = read_elf_file(bytes, file);
  if (!elf) {
    return Unexpected(elf.error());
  }
  return Reader(bytes, std::move(file), *elf, options).read();
}

} // namespace cardseal::image
