// The checksums among the facts. Inside this module.
#pragma once

#include "format/facts.h"
#include "job/inputs.h"

namespace cardseal::job {

// Over the whole image, unless it spans more than 16 MiB and nobody would sum its gaps; over the
// first region of code; the device's own, unprotected. The firmware lies within the device.
void put_checksums(const Inputs& in, format::Facts& out);

// What a station shows; left alone when there is no value to compare with.
void put_shown_checksum(const ReleaseFile& release, const Inputs& in,
                        const profile::PlainFile& file, format::PlainFileFacts& out);

} // namespace cardseal::job
