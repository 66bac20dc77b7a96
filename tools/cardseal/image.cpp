#include "commands.h"
#include "common.h"

#include <fmt/format.h>

#include "image/compare.h"
#include "image/detect.h"
#include "image/intel_hex.h"
#include "image/load.h"
#include "image/operations.h"
#include "image/range.h"
#include "image/raw.h"
#include "image/read_back.h"
#include "image/srecord.h"
#include "image_print.h"
#include "image_rules.h"
#include "image_words.h"
#include "view/json.h"

namespace cardseal::tool {
namespace {

// A further file is read by its content, whatever the first was said to be; when it looks like
// nothing, as the first.
Try<image::Loaded> load_further(const std::string& path, const image::LoadOptions& load) {
  TRY(bytes, io::read_file(io::real_system(), path, image::longest_firmware_file));
  const std::optional<image::Format> format = image::detect(bytes);
  if (!format) {
    return image::load_firmware(bytes, path, load);
  }
  image::LoadOptions by_content;
  by_content.hex = load.hex;
  if (format == image::Format::elf) {
    by_content.elf_mode = load.elf_mode;
    by_content.elf_unit = load.elf_unit;
  }
  return image::load_firmware(bytes, path, by_content);
}

// Of several files at most one may have a start address, or all have the same.
Try<void> merge_start(image::Firmware& into, const image::Loaded& from) {
  const std::optional<image::StartAddress>& other = from.firmware.start;
  if (!into.start || !other) {
    into.start = into.start ? into.start : other;
    return {};
  }
  if (into.start->value == other->value && into.start->kind == other->kind) {
    return {};
  }
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = "image-two-starts";
  error.what = "the files have two start addresses";
  error.place.file = from.file;
  error.place.line = other->line;
  error.found = fmt::format("0x{:X}", other->value);
  error.expected = fmt::format("0x{:X} as in the files before, or none", into.start->value);
  error.hint = "state the one to keep with --start";
  return Unexpected(std::move(error));
}

Try<std::vector<image::Loaded>> merge_files(image::Loaded& first, const ImageOptions& options,
                                            const image::LoadOptions& load) {
  std::vector<image::Loaded> files;
  std::vector<const image::SparseImage*> images{&first.firmware.image};
  for (const std::string& path : options.merge) {
    TRY(file, load_further(path, load));
    if (options.start.empty()) {
      TRY_VOID(merge_start(first.firmware, file));
    }
    files.push_back(std::move(file));
  }
  for (const image::Loaded& file : files) {
    images.push_back(&file.firmware.image);
  }
  if (!files.empty()) {
    TRY(whole, image::merge(images, first.firmware.notes));
    first.firmware.image = std::move(whole);
  }
  return files;
}

// In the order in which the help names them.
Try<void> change(image::SparseImage& image, const ImageOptions& options) {
  if (!options.crop.empty()) {
    std::vector<image::Segment> ranges;
    for (const std::string& text : options.crop) {
      TRY(range, to_range(text, "what to crop"));
      ranges.push_back(range);
    }
    image = image::crop(image, ranges);
  }
  if (!options.move.empty()) {
    TRY(offset, to_offset(options.move));
    TRY(moved, image::move(image, offset));
    image = std::move(moved);
  }
  if (!options.align.empty()) {
    TRY(words, to_align(options.align));
    TRY(aligned, image::align(image, words.unit, words.value));
    image = std::move(aligned);
  }
  if (!options.fill.empty()) {
    TRY(words, to_fill(options.fill));
    const std::optional<image::Segment> range = words.range ? words.range : image::extent(image);
    if (range) {
      TRY(filled, image::fill(image, *range, words.value));
      image = std::move(filled);
    }
  }
  return {};
}

Try<std::vector<std::uint8_t>> convert(const ImageOptions& options, const image::SparseImage& image,
                                       const std::optional<image::StartAddress>& start) {
  constexpr std::array<std::string_view, 3> words{"intel-hex", "s-record", "raw"};
  TRY(to, to_word(options.to.empty() ? "intel-hex" : options.to, words, "the output format"));
  const image::LineEnd line_end = options.crlf ? image::LineEnd::crlf : image::LineEnd::lf;
  if (options.address_width && to != 1) {
    return Unexpected(usage_error("only S-record has an address width", options.to, "s-record"));
  }
  if (to == 2 && !options.start.empty()) {
    return Unexpected(usage_error("raw binary holds no start address", "raw with --start",
                                  "intel-hex or s-record, or no --start"));
  }
  if (to == 2 && (options.record_length || options.crlf)) {
    return Unexpected(usage_error("raw binary has no records",
                                  options.crlf ? "raw with --crlf" : "raw with --record-length",
                                  "intel-hex or s-record, or no such option"));
  }
  const std::uint32_t length = options.record_length.value_or(16);
  if (to == 0) {
    return image::write_intel_hex(image, {length, line_end, start});
  }
  if (to == 1) {
    return image::write_srecord(image, {length, line_end, options.address_width, start});
  }
  return image::write_raw(image);
}

Try<void> write(const ImageOptions& options, const image::Firmware& firmware) {
  std::optional<image::StartAddress> own = firmware.start;
  if (own && !options.move.empty() && options.start.empty() && options.to != "raw") {
    note("the start address is left out, as the image was moved; --start states one");
    own.reset();
  }
  TRY(start, to_start(options.start, own));
  TRY(bytes, convert(options, firmware.image, start));
  return io::write_file(io::real_system(), options.output, bytes, if_exists(options.force));
}

// What says how to write, where nothing is written, is a slip.
Try<void> check_written(const ImageOptions& options) {
  const bool any = !options.to.empty() || options.record_length || options.address_width ||
                   options.crlf || options.force; // --start also decides between merged files
  if (any && options.output.empty()) {
    return Unexpected(usage_error("options say how to write, and nothing is written", "no --output",
                                  "--output with them"));
  }
  return {};
}

} // namespace

Ran run_image(const ImageOptions& options) {
  TRY_VOID(check_written(options));
  TRY(load, load_options(options));
  TRY(rules, read_back_rules(options));
  TRY(regions, to_named(options.region, "the region"));
  TRY(loaded, image::load_firmware(io::real_system(), options.file, load));
  TRY(merged, merge_files(loaded, options, load));
  image::SparseImage& image = loaded.firmware.image;
  TRY_VOID(change(image, options));
  TRY(split, image::split(image, regions));
  view::ImageResult result{loaded, merged};
  result.regions = &regions;
  result.split = &split;
  std::optional<image::Loaded> other;
  std::optional<image::Comparison> comparison;
  if (!options.against.empty()) {
    TRY(second, load_further(options.against, load));
    other = std::move(second);
    comparison = image::compare(image, other->firmware.image);
    result.comparison = &*comparison;
  }
  std::optional<image::ReadBackReport> explained;
  if (!options.read_back.empty()) {
    TRY(read_back, load_further(options.read_back, load));
    TRY(report, image::explain(image, read_back.firmware.image, rules));
    explained = std::move(report);
    result.read_back = &*explained;
  }
  if (!options.output.empty()) {
    TRY_VOID(write(options, loaded.firmware));
  }
  if (options.json) {
    say(view::json_of(result));
  } else if (options.output != "-") {
    print(loaded, merged);
    if (!regions.empty()) {
      print(regions, split);
    }
    if (comparison) {
      print(*comparison, image, other->firmware.image);
    }
    if (explained) {
      print(*explained);
    }
  }
  const bool differs =
      (comparison && !comparison->same()) || (explained && explained->unexplained_bytes() != 0);
  return differs ? 1 : 0;
}

} // namespace cardseal::tool
