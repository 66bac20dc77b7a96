#include "job/facts_sums.h"

#include <algorithm>

#include "image/device_sum.h"
#include "image/operations.h"
#include "job/config_words.h"
#include "job/put.h"

namespace cardseal::job {
namespace {

constexpr std::uint64_t longest_image_summed = std::uint64_t{1} << 24; // bytes; 16 MiB

const profile::Region& first_code(const profile::Device& device) {
  return *std::find_if(device.regions.begin(), device.regions.end(),
                       [](const auto& region) { return region.kind == profile::RegionKind::code; });
}

image::BlankRange blank_region(const profile::Region& region) {
  return {{region.address, region.size}, region.erased, region.word_bytes()};
}

// From the image's first byte to its last, with the code's blank word standing as it would there.
std::optional<image::BlankRange> blank_image(const image::SparseImage& image,
                                             const profile::Region& code) {
  const std::optional<image::Segment> extent = image::extent(image);
  if (!extent || extent->length > longest_image_summed) {
    return std::nullopt;
  }
  std::uint32_t word = 0;
  for (unsigned i = 0; i < code.word_bytes(); ++i) {
    const std::uint64_t in_word = (extent->address + i) % code.word_bytes(); // regions start at one
    word |= (code.erased >> (8 * in_word) & 0xFFU) << (8 * i);
  }
  return image::BlankRange{*extent, word, code.word_bytes()};
}

void put_sum(const image::SparseImage& image, std::string_view name, std::string_view over,
             const image::BlankRange& range, std::vector<format::Checksum>& out) {
  const Try<std::uint32_t> value = image::sum_over(image, *image::find_sum(name), {&range, 1});
  if (value) {
    out.push_back({put<format::Text<32>>(name), put<format::Id>(over), *value, range.word});
  }
}

void put_device_sum(const Inputs& in, std::vector<format::Checksum>& out) {
  const std::vector<image::MaskedWords> memory = summed_memory(in.device);
  if (const Try<std::uint16_t> value = image::device_sum_16(in.firmware.firmware.image, memory)) {
    out.push_back({put<format::Text<32>>(format::device_sum_name),
                   put<format::Id>(in.device.sum->region), *value, memory.front().memory.word});
  }
}

// The device's regions of code in rising order; what lies between them is no code memory.
std::vector<image::Segment> code_memory(const profile::Device& device) {
  std::vector<image::Segment> out;
  for (const profile::Region& region : device.regions) {
    if (region.kind == profile::RegionKind::code) {
      out.push_back({region.address, region.size});
    }
  }
  std::sort(out.begin(), out.end(),
            [](const auto& a, const auto& b) { return a.address < b.address; });
  return out;
}

// The image without its configuration.
image::SparseImage without_configuration(const Inputs& in) {
  std::vector<image::Segment> rest;
  for (const profile::Region& region : in.device.regions) {
    if (region.kind != profile::RegionKind::config) {
      rest.push_back({region.address, region.size});
    }
  }
  return image::crop(in.firmware.firmware.image, rest);
}

std::vector<image::BlankRange> shown_ranges(const Inputs& in, const profile::ShownChecksum& shown,
                                            const image::SparseImage& image) {
  std::vector<image::BlankRange> ranges;
  if (shown.over == profile::SumRange::image_span) {
    if (const auto extent = image::extent(image)) {
      ranges.push_back({*extent, shown.fill, 1});
    }
    return ranges;
  }
  for (const image::Segment& code : code_memory(in.device)) {
    ranges.push_back({code, shown.fill, 1});
  }
  if (shown.configuration && in.device.configuration) {
    for (const profile::ConfigWord& word : in.device.configuration->words) {
      ranges.push_back({{word.address, word.length}, shown.fill, 1});
    }
  }
  return ranges;
}

std::optional<std::uint32_t> shown_value(const Inputs& in, const profile::ShownChecksum& shown) {
  const image::SparseImage& whole = in.firmware.firmware.image;
  if (shown.algorithm == "device-sum-16") {
    if (!in.device.sum) {
      return std::nullopt;
    }
    const auto value = image::device_sum_16(whole, summed_memory(in.device));
    return value ? std::optional<std::uint32_t>(*value) : std::nullopt;
  }
  const bool cut = shown.over == profile::SumRange::image_span && !shown.configuration;
  const image::SparseImage shortened = cut ? without_configuration(in) : image::SparseImage();
  const image::SparseImage& image = cut ? shortened : whole;
  const auto value =
      image::sum_over(image, *image::find_sum(shown.algorithm), shown_ranges(in, shown, image));
  return value ? std::optional<std::uint32_t>(*value) : std::nullopt;
}

} // namespace

void put_checksums(const Inputs& in, format::Facts& out) {
  const image::SparseImage& image = in.firmware.firmware.image;
  const profile::Region& code = first_code(in.device);
  std::vector<format::Checksum> sums;
  if (const auto range = blank_image(image, code)) {
    for (const char* name : {"CRC-16/IBM-3740", "CRC-32/ISO-HDLC", "byte-sum-16", "byte-sum-32"}) {
      put_sum(image, name, "image", *range, sums);
    }
  }
  for (const char* name : {"CRC-32/ISO-HDLC", "byte-sum-16"}) {
    put_sum(image, name, code.id, blank_region(code), sums);
  }
  if (in.device.sum) {
    put_device_sum(in, sums);
  }
  std::sort(sums.begin(), sums.end(),
            [](const auto& a, const auto& b) { // as a sealed text needs it
              return a.name.view() != b.name.view() ? a.name.view() < b.name.view()
                                                    : a.over.view() < b.over.view();
            });
  for (const format::Checksum& sum : sums) {
    out.checksums.add(sum);
  }
}

void put_shown_checksum(const ReleaseFile& release, const Inputs& in,
                        const profile::PlainFile& file, format::PlainFileFacts& out) {
  if (!file.checksum || (file.checksum->after_serial && release.serial)) {
    return;
  }
  const std::optional<std::uint32_t> value = shown_value(in, *file.checksum);
  if (!value) {
    return;
  }
  const bool own = file.checksum->algorithm == "device-sum-16";
  out.shown_checksum =
      put<format::Text<32>>(own ? format::device_sum_name : file.checksum->algorithm);
  const std::uint64_t digits = (std::uint64_t{1} << (4 * file.checksum->digits)) - 1;
  out.shown_value = static_cast<std::uint32_t>(*value & digits);
}

} // namespace cardseal::job
