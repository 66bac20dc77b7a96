// The files that a release names, read.
#pragma once

#include <memory>
#include <vector>

#include "crypto/sha256.h"
#include "image/load.h"
#include "io/system.h"
#include "job/release_xml.h"
#include "package/package.h"
#include "profile/board.h"
#include "profile/device.h"
#include "profile/station.h"

namespace cardseal::job {

struct Inputs {
  profile::Device device;
  profile::Board board;
  std::vector<profile::Station> stations; // in the order of the release
  crypto::Digest image_digest{};          // of the file's whole image, as cardseal image prints it
  image::Loaded firmware;                 // without the device ID that the file may state
  std::vector<std::uint8_t> stated_id; // as the device would answer it; empty: the file states none
  std::vector<package::Document> documents;   // in the order of the release; may be empty files
  std::unique_ptr<package::Package> previous; // null: the release names no file of one
};

// `folder` is that of release.xml. Everything that can't be read, not only the first.
xml::All<Inputs> read_inputs(io::System& system, const ReleaseFile& release,
                             const io::Path& folder);

} // namespace cardseal::job
