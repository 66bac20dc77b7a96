// A planned volume written in one pass, every sector once, in ascending order. Same plan and
// content, same bytes. What is to be zero is passed to the sink as such, so that a new file keeps
// holes there: on disk an image takes its content, 4 bytes a used cluster in each FAT, and a few
// blocks. Sectors outside planned files and folders in the data area are left to the sink: holes in
// a new file, old bytes on a device.
#pragma once

#include <functional>

#include "fat32/plan.h"
#include "fat32/sectors.h"

namespace cardseal::fat32 {

// Fills `out` with the file's bytes from `offset` on; asked in ascending order, whole file, never
// past its size, and not at all for an empty one.
using ContentSource =
    std::function<Try<void>(const PlannedFile& file, std::uint64_t offset, ByteSpan out)>;

// Errors are those of the source and the sink; after one the sink holds a part of the volume.
Try<void> write_volume(const VolumePlan& plan, const ContentSource& content, SectorSink& sink);

// The boot sector and FSInfo of a plan, as they are written.
using Sector = std::array<std::uint8_t, format::fat::sector_bytes>;
Sector boot_sector_of(const VolumePlan& plan);
Sector fsinfo_sector_of(const VolumePlan& plan);
Sector mbr_of(const VolumePlan& plan);

} // namespace cardseal::fat32
