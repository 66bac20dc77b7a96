#include "job/inputs.h"

#include "io/file.h"

namespace cardseal::job {
namespace {

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

  void firmware(const FirmwareRef& wanted, image::Loaded& out) {
    image::LoadOptions options;
    options.format = image::Format::intel_hex;
    if (wanted.format == FirmwareFormat::raw) {
      options.format = image::Format::raw;
      options.raw_address = wanted.address;
    }
    take(image::load_firmware(system_, folder_ / wanted.file, options), out);
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
  reader.firmware(release.firmware, inputs.firmware);
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
  if (!reader.errors().empty()) {
    return Unexpected(std::move(reader.errors()));
  }
  return inputs;
}

} // namespace cardseal::job
