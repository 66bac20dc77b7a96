// The checks of a release against the files it names; each adds what it finds. Inside this module.
#pragma once

#include <string>

#include "diag/finding.h"
#include "job/inputs.h"

namespace cardseal::job {

void check_firmware(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_device(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_configuration(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_previous(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_supply(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_verify(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_serial(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_work(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_abilities(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_fit(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_limits(const ReleaseFile& release, const Inputs& in, Findings& findings);
void check_sources(const Inputs& in, Findings& findings);
void check_times(const ReleaseFile& release, const Inputs& in, Findings& findings);
// Last: sets aside what the release's deviations name, and says what they can't.
void apply_deviations(const ReleaseFile& release, Findings& findings);

// "0x7FF0 to 0x7FF7"; `end` is behind the last address.
std::string spell_range(std::uint64_t from, std::uint64_t end);
// The same, with the device's own address of the first byte where it counts otherwise:
// "0x1000E to 0x1000F (0x8007 in the device)".
std::string spell_place(const profile::Device& device, std::uint64_t from, std::uint64_t end);
// "flash 0x0 to 0x7FFF, eeprom 0x810000 to 0x8103FF"
std::string spell_regions(const profile::Device& device);
// Where in its file the firmware's byte at `address` stands; the file alone for an absent one.
Place firmware_place(const Inputs& in, std::uint64_t address);
// How many of the image's bytes lie in the region.
std::uint64_t bytes_in(const image::SparseImage& image, const profile::Region& region);
// The last part of a path of the release.
std::string file_name(const std::string& path);

} // namespace cardseal::job
