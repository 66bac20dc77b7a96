#include "job/inputs.h"

#include <algorithm>

#include "image/operations.h"
#include "io/file.h"

namespace cardseal::job {
namespace {

image::Format format_of(FirmwareFormat format) {
  switch (format) {
  case FirmwareFormat::intel_hex:
    return image::Format::intel_hex;
  case FirmwareFormat::raw:
    return image::Format::raw;
  case FirmwareFormat::s_record:
    return image::Format::s_record;
  case FirmwareFormat::elf:
    return image::Format::elf;
  }
  return image::Format::intel_hex;
}

// One ELF file counts all its addresses in one way; a device that does not has no value here.
std::optional<std::uint32_t> address_unit(const profile::Device& device) {
  const std::uint32_t unit = device.regions.empty() ? 1 : device.regions.front().address_unit;
  const bool alike =
      std::all_of(device.regions.begin(), device.regions.end(),
                  [&](const profile::Region& one) { return one.address_unit == unit; });
  return alike ? std::optional(unit) : std::nullopt;
}

Error mixed_units(const FirmwareRef& wanted, const profile::Device& device) {
  Error error;
  error.kind = ErrorKind::config;
  error.code = "elf-mixed-units";
  error.what = "an ELF file can't be mapped to this device";
  error.place = wanted.place;
  error.found = "regions of " + device.id + " with different address units";
  error.expected = "one address unit";
  error.hint = "release the HEX file that the build makes of it";
  return error;
}

// Takes the device ID that the file may state out of the image: it is no memory.
std::vector<std::uint8_t> take_stated_id(const profile::Device& device, image::SparseImage& image) {
  std::vector<std::uint8_t> stated;
  if (!device.device_id || !device.device_id->file_address) {
    return stated;
  }
  const std::uint64_t first = *device.device_id->file_address;
  const std::uint64_t end = first + device.device_id->value.size();
  for (std::uint64_t at = first; at < end; ++at) {
    if (const auto byte = image.at(at)) {
      stated.push_back(*byte);
    }
  }
  if (device.device_id->file_reversed) {
    std::reverse(stated.begin(), stated.end());
  }
  if (!stated.empty()) {
    const std::uint64_t last = ~std::uint64_t{0};
    std::vector<image::Segment> rest{{end, last - end}};
    if (first != 0) {
      rest.push_back({0, first});
    }
    image = image::crop(image, rest);
  }
  return stated;
}

class InputReader {
public:
  InputReader(io::System& system, const io::Path& folder) : system_(system), folder_(folder) {}

  template <class T>
  void profile(const ProfileRef& wanted, xml::All<T> (*read)(const xml::Document&), T& out) {
    xml::All<T> value = xml::read_as(system_, folder_ / wanted.file, read);
    if (value) {
      out = std::move(value).value();
    } else {
      errors_.insert(errors_.end(), value.error().begin(), value.error().end());
    }
  }

  // Read last: a linked ELF file counts addresses as the device does.
  void firmware(const FirmwareRef& wanted, const profile::Device& device, image::Loaded& out) {
    image::LoadOptions options;
    options.format = format_of(wanted.format);
    if (wanted.format == FirmwareFormat::raw) {
      options.raw_address = wanted.address;
    } else if (wanted.format == FirmwareFormat::elf) {
      options.elf_unit = address_unit(device);
      if (!options.elf_unit) {
        errors_.push_back(mixed_units(wanted, device));
        return;
      }
    }
    if (wanted.elf_by) {
      options.elf_mode =
          *wanted.elf_by == ElfBy::sections ? image::ElfMode::sections : image::ElfMode::segments;
    }
    options.hex = {wanted.missing_end_allowed, wanted.comments_allowed};
    take(image::load_firmware(system_, folder_ / wanted.file, options), out);
  }

  void previous(const Changes& wanted, std::unique_ptr<package::Package>& out) {
    Try<package::Package> read = package::read(system_, folder_ / wanted.package);
    if (read) {
      out = std::make_unique<package::Package>(std::move(*read));
    } else {
      errors_.push_back(std::move(read).error());
    }
  }

  void document(const DocumentRef& wanted, package::Document& out) {
    out.name = wanted.name;
    take(io::read_file(system_, folder_ / wanted.file, package::max_package), out.content);
  }

  xml::Errors& errors() { return errors_; }

private:
  template <class T>
  void take(Try<T> value, T& out) {
    if (value) {
      out = std::move(value).value();
    } else {
      errors_.push_back(std::move(value).error());
    }
  }

  io::System& system_;
  const io::Path& folder_;
  xml::Errors errors_;
};

} // namespace

xml::All<Inputs> read_inputs(io::System& system, const ReleaseFile& release,
                             const io::Path& folder) {
  InputReader reader(system, folder);
  Inputs inputs;
  reader.profile(release.device, profile::read_device, inputs.device);
  reader.profile(release.board, profile::read_board, inputs.board);
  inputs.stations.resize(release.stations.size());
  for (std::size_t i = 0; i < release.stations.size(); ++i) {
    reader.profile(release.stations[i], profile::read_station, inputs.stations[i]);
  }
  inputs.documents.resize(release.documents.size());
  for (std::size_t i = 0; i < release.documents.size(); ++i) {
    reader.document(release.documents[i], inputs.documents[i]);
  }
  if (release.changes) {
    reader.previous(*release.changes, inputs.previous);
  }
  reader.firmware(release.firmware, inputs.device, inputs.firmware);
  if (!reader.errors().empty()) {
    return Unexpected(std::move(reader.errors()));
  }
  inputs.image_digest = inputs.firmware.firmware.image.digest();
  inputs.stated_id = take_stated_id(inputs.device, inputs.firmware.firmware.image);
  return inputs;
}

} // namespace cardseal::job
