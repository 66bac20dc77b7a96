#include "commands.h"
#include "common.h"

#include <chrono>
#include <random>

#include <unistd.h>

#include <fmt/format.h>

#include "card/verify.h"
#include "card/write.h"
#include "card_writing.h"
#include "written_card.h"

namespace cardseal::tool {
namespace {

constexpr double mib = 1'048'576;

std::string or_unknown(const std::string& text) {
  return text.empty() ? "unknown" : text;
}

std::string listed(const std::vector<std::string>& names) {
  std::string out;
  for (const std::string& name : names) {
    out += (out.empty() ? "" : ", ") + escaped(name);
  }
  return out.empty() ? "none" : out;
}

void describe_device(const io::DeviceFacts& d) {
  say(fmt::format("device     {}  {}", d.path, d.file ? "a file" : d.name));
  if (!d.file) {
    say(fmt::format("model      {}, serial {}", or_unknown(d.model), or_unknown(d.serial)));
    say(fmt::format("removable  {}", d.removable ? "yes" : "no"));
    say(fmt::format("parts      {}", listed(d.partitions)));
    say(fmt::format("mounted    {}", listed(d.mounted)));
  }
  say(fmt::format("size       {} bytes, {:.1f} MiB", d.bytes, static_cast<double>(d.bytes) / mib));
  say(fmt::format("id         {}", d.id));
}

Error not_confirmed(const std::string& confirmed, const io::DeviceFacts& device) {
  return at(
      refused("not-confirmed",
              confirmed.empty() ? "everything on this device would be lost"
                                : "this is not the device that was confirmed",
              confirmed.empty() ? "no --confirm" : confirmed, "--confirm " + device.id,
              "nothing was written; compare the lines above with the card in your hand first"),
      device.path);
}

// On a terminal one line that is written over; else nothing.
class Meter {
public:
  void operator()(const card::WriteProgress& progress) {
    if (isatty(STDERR_FILENO) == 0) {
      return;
    }
    if (progress.step != step_) {
      step_ = progress.step;
      began_ = std::chrono::steady_clock::now();
    }
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began_;
    const double rate = static_cast<double>(progress.done) / mib / std::max(took.count(), 0.001);
    const double left = static_cast<double>(progress.of - progress.done) / mib / rate;
    fmt::print(stderr, "\r{} {:.0f} of {:.0f} MiB, {:.1f} MiB/s, {:.0f} s left   ",
               progress.step == card::WriteStep::write ? "written" : "compared",
               static_cast<double>(progress.done) / mib, static_cast<double>(progress.of) / mib,
               rate, left);
    if (progress.done == progress.of) {
      fmt::print(stderr, "\n");
    }
  }

private:
  std::optional<card::WriteStep> step_;
  std::chrono::steady_clock::time_point began_;
};

card::WriteOptions write_options(const CardWriteOptions& options) {
  card::WriteOptions out;
  out.full = options.full;
  std::random_device random;
  for (std::uint8_t& byte : out.nonce) {
    byte = static_cast<std::uint8_t>(random());
  }
  out.progress = Meter();
  return out;
}

Error same_medium(const std::string& device) {
  return usage_error("the image itself lies on this device", device,
                     "a device that the image is not on");
}

Error still_needed(const std::string& device) {
  return at(refused("card-holds-results", "the card holds results that a station wrote", "", "",
                    "cardseal reconcile first; then --used overwrites them"),
            device);
}

// Once more of what was opened: the reader may show another card by now.
Try<void> check_still_it(const CardWriteOptions& options, const io::Device& device,
                         const io::DeviceFacts& seen, std::uint64_t image) {
  TRY(now, device.facts());
  if (now.id != seen.id || now.number != seen.number) {
    return Unexpected(not_confirmed(seen.id, now));
  }
  return card::check_target(now, image, {options.large, options.fixed});
}

} // namespace

Try<void> verify_image(const CardWriteOptions& options, const std::string& image) {
  if (options.root.empty()) {
    note("signatures are not looked at: --root would verify the image first");
    return {};
  }
  TRY(root, seal::read_root(io::real_system(), options.root));
  TRY(file, io::ReadFile::open(io::real_system(), image));
  fat32::FileSource source(file);
  TRY(report, card::verify_card(source, root));
  if (report.sound()) {
    return {};
  }
  return Unexpected(
      at(refused("image-not-good", "this card image does not verify", "", "",
                 report.touched()
                     ? "a system had the image mounted and left files or marks on it; make it "
                       "again from the package; nothing was written"
                     : "cardseal card verify says why; nothing was written"),
         image));
}

Try<void> write_one_card(const CardWriteOptions& options, const CardToWrite& card,
                         const Confirm& confirm, bool& begun) {
  io::System& system = io::real_system();
  TRY(image, io::ReadFile::open(system, card.image));
  TRY(facts, io::look_at_device(system, card.device));
  describe_device(facts);
  if (io::is_same_medium(facts, card.image)) {
    return Unexpected(same_medium(card.device));
  }
  TRY_VOID(card::check_target(facts, image.size(), {options.large, options.fixed}));
  TRY_VOID(verify_image(options, card.image));
  TRY(results, card::holds_results(system, card.device));
  if (results && !options.used) {
    return Unexpected(still_needed(card.device));
  }
  TRY(record, WrittenCard::open(options, card.image, image, facts, results));
  TRY_VOID(confirm(facts));
  TRY(device, io::Device::open(system, card.device));
  TRY_VOID(check_still_it(options, device, facts, image.size()));
  begun = true;
  TRY_VOID(record.begin());
  Try<card::WriteReport> written = card::write_to_device(image, device, write_options(options));
  if (!written) {
    return Unexpected(record.broken_off(std::move(written).error()));
  }
  say(fmt::format("written    {} bytes, all read back and compared; {} places looked at over its "
                  "length",
                  written->written, written->marks));
  return {};
}

Ran run_card_write(const CardWriteOptions& options) {
  if (options.words.size() < 2) {
    return Unexpected(usage_error("what is written, or where to, is not said", options.words[0],
                                  "IMAGE DEVICE, or several images and the device last"));
  }
  if (options.words.size() > 2) {
    return run_card_write_set(options);
  }
  const auto confirm = [&](const io::DeviceFacts& device) -> Try<void> {
    return options.confirm == device.id ? Try<void>()
                                        : Unexpected(not_confirmed(options.confirm, device));
  };
  bool begun = false;
  TRY_VOID(write_one_card(options, {options.words[0], options.words[1]}, confirm, begun));
  note(
      "take the card out by your system's way of ejecting it; cardseal card verify DEVICE reads it "
      "once more");
  return 0;
}

} // namespace cardseal::tool
