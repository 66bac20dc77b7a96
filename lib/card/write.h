// A card image onto a memory card, and proof that it is there.
//
// Order: sector 0 is cleared first and written last, so that a card that was begun and not finished
// shows no volume. Between lie marks over the whole length (a card that holds less than it says, or
// loses writes, is found before its bytes are trusted), what the volume uses, and a comparison of
// every byte read back from the medium.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>

#include "io/device.h"
#include "io/file.h"

namespace cardseal::card {

// Most of what a station's card may hold: 2 GiB.
inline constexpr std::uint64_t usual_card_bytes = 2'147'483'648;

struct WriteAllowed {
  bool large = false; // a device above usual_card_bytes
  bool fixed = false; // one that does not say it can be taken out
};

// Refuses (kind refused) what must not be overwritten: a part of a device, one that is mounted or
// in use, one that can't be written, one too small, and without leave a large or fixed one. `image`
// in bytes.
Try<void> check_target(const io::DeviceFacts& device, std::uint64_t image,
                       const WriteAllowed& allowed);

enum class WriteStep : std::uint8_t { write, compare };

struct WriteProgress {
  WriteStep step = WriteStep::write;
  std::uint64_t done = 0; // bytes
  std::uint64_t of = 0;
};

struct WriteOptions {
  bool full = false;                    // every byte of the image, not only what the volume uses
  std::array<std::uint8_t, 16> nonce{}; // new for each run: marks of an earlier one don't count
  std::function<void(const WriteProgress&)> progress; // may be empty
};

struct WriteReport {
  std::uint64_t written = 0; // bytes, marks not counted
  std::uint64_t compared = 0;
  std::uint32_t marks = 0; // places looked at over the card's length
};

// How much of an image counts: up to the end of the last cluster in use. Refuses what is no sound
// FAT32 volume.
Try<std::uint64_t> used_bytes(const io::ReadFile& image);

// Does a card's run log hold anything? False for what is no card of ours.
Try<bool> holds_results(io::System& system, const io::Path& device);

// `device` is as large as the image or larger; what is behind the image stays as it is.
Try<WriteReport> write_to_device(const io::ReadFile& image, io::Device& device,
                                 const WriteOptions& options);

} // namespace cardseal::card
