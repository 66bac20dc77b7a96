// One card image onto one device: what `card write` does for each.
#pragma once

#include <functional>

#include "common.h"
#include "io/device.h"

namespace cardseal::tool {

// Whether everything on this device may be lost; it was shown before.
using Confirm = std::function<Try<void>(const io::DeviceFacts&)>;

struct CardToWrite {
  std::string image;
  std::string device;
};

// `begun` becomes true before the first byte is written.
Try<void> write_one_card(const CardWriteOptions& options, const CardToWrite& card,
                         const Confirm& confirm, bool& begun);

// Refused unless the image is good by --root; without one a note says that nobody looked.
Try<void> verify_image(const CardWriteOptions& options, const std::string& image);

// Several images, each onto a card of its own, asked for at a terminal. The last word is the
// device.
Ran run_card_write_set(const CardWriteOptions& options);

} // namespace cardseal::tool
