// What the register keeps of a card that is being written.
#pragma once

#include <optional>

#include "common.h"
#include "io/device.h"
#include "register/register.h"

namespace cardseal::tool {

class WrittenCard {
public:
  // Refused when the register could not note it. `results`: a station's are on the device. Without
  // --register nothing is kept.
  static Try<WrittenCard> open(const CardWriteOptions& options, const std::string& image_file,
                               const io::ReadFile& image, const io::DeviceFacts& device,
                               bool results);

  // Before the first byte: from here on the register takes no second card for written. What the
  // device held of this register's is noted as erased first.
  Try<void> begin();

  // What to do when the card was not written to its end.
  Error broken_off(Error error) const;

private:
  WrittenCard() = default;
  // The card that the device holds, when this register made it and it is about.
  std::optional<format::CardId> on_device(const std::string& device);
  Try<void> note_erased();

  std::optional<registry::Register> numbers_;
  format::CardId card_{};
  registry::FateNote note_;
  std::optional<format::CardId> written_over_;
};

} // namespace cardseal::tool
