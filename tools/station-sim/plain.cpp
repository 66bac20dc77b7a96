#include "plain.h"

#include <algorithm>
#include <bit>

#include <fmt/format.h>

#include "base/number.h"
#include "fat32/reader.h"
#include "image/load.h"

namespace cardseal::station_sim {
namespace {

constexpr std::uint64_t longest_file = std::uint64_t{1} << 26; // bytes

Error sim_error(const char* code, std::string what, std::string found, std::string hint) {
  Error error;
  error.kind = ErrorKind::bad_data;
  error.code = code;
  error.what = std::move(what);
  error.found = std::move(found);
  error.hint = std::move(hint);
  return error;
}

Try<image::Loaded> read_plain(io::System& system, const std::string& card,
                              const std::string& name) {
  auto opened = io::ReadFile::open(system, card);
  if (!opened) {
    return Unexpected(std::move(opened).error());
  }
  fat32::FileSource source(*opened);
  auto volume = fat32::Volume::open(source);
  if (!volume) {
    return Unexpected(std::move(volume).error());
  }
  const fat32::Entry* entry = volume->find(name);
  if (entry == nullptr || entry->folder) {
    return Unexpected(sim_error("sim-file", "there is no such file on the card", name,
                                "its set-up sheet names it; cardseal card list shows all"));
  }
  auto bytes = volume->read_all(*entry, longest_file);
  if (!bytes) {
    return Unexpected(std::move(bytes).error());
  }
  return image::load_firmware(*bytes, name);
}

class PlainRun {
public:
  PlainRun(const image::SparseImage& image, const PlainSettings& settings, const Scenario& scenario,
           const profile::Device* device, const std::vector<std::uint64_t>& dumps)
      : image_(image), settings_(settings), scenario_(scenario), device_(device), dumps_(dumps) {}

  Try<PlainReport> work() {
    while (left() > 0) {
      ++report_.cycles;
      for (std::uint8_t slot = 1; slot <= 32 && left() > 0; ++slot) {
        if (board_in(slot)) {
          if (auto done = board(slot); !done) {
            return Unexpected(std::move(done).error());
          }
        }
      }
      if (report_.used == 0 && report_.cycles > settings_.boards) {
        break; // nobody ever puts a board in
      }
    }
    return std::move(report_);
  }

private:
  std::uint64_t left() const {
    return std::min<std::uint64_t>(settings_.boards, settings_.units) - report_.used;
  }

  bool board_in(std::uint8_t slot) const {
    const BoardEvent* event = scenario_.board(report_.cycles, slot);
    return (settings_.slots >> (slot - 1) & 1U) != 0 && scenario_.off.count(slot) == 0 &&
           (event == nullptr || event->fault != BoardFault::no_board);
  }

  // One board with its number, tried as often as the operator presses the key.
  Try<void> board(std::uint8_t slot) {
    const std::uint64_t place = report_.used++;
    Board board(device_);
    std::string outcome;
    for (std::uint8_t attempt = 1; attempt <= scenario_.tries && outcome != "GOOD"; ++attempt) {
      outcome = scenario_.found(report_.cycles, slot, attempt);
      outcome = outcome.empty() ? program(board, slot, place) : outcome;
      ++report_.outcomes[outcome];
    }
    if (outcome != "GOOD") {
      report_.scrap.push_back(place);
      return {};
    }
    ++report_.good;
    if (std::find(dumps_.begin(), dumps_.end(), place) == dumps_.end()) {
      return {};
    }
    auto hex = board.as_hex();
    if (!hex) {
      return Unexpected(std::move(hex).error());
    }
    report_.dumps[place] = std::move(*hex);
    return {};
  }

  std::string program(Board& board, std::uint8_t slot, std::uint64_t place) const {
    board.erase();
    for (const image::Segment& segment : image_.segments()) {
      board.write(segment.address, image_.from(segment.address));
    }
    for (const PlainSerial& serial : settings_.serials) {
      board.write(serial.address, serial.bytes(place));
    }
    const BoardEvent* event = scenario_.board(report_.cycles, slot);
    if (event != nullptr && event->fault == BoardFault::verify_error) {
      board.spoil(event->address);
    }
    return holds(board, place) ? "GOOD" : "VERIFY";
  }

  // The file, and over it the serials.
  bool holds(const Board& board, std::uint64_t place) const {
    Board wanted(device_);
    for (const image::Segment& segment : image_.segments()) {
      wanted.write(segment.address, image_.from(segment.address));
    }
    for (const PlainSerial& serial : settings_.serials) {
      wanted.write(serial.address, serial.bytes(place));
      if (!board.holds(serial.address, serial.bytes(place))) {
        return false;
      }
    }
    return board == wanted && wanted.bytes() >= image_.size();
  }

  const image::SparseImage& image_;
  const PlainSettings& settings_;
  const Scenario& scenario_;
  const profile::Device* device_;
  const std::vector<std::uint64_t>& dumps_;
  PlainReport report_;
};

} // namespace

std::string counted_up(const std::string& first, std::uint64_t step) {
  std::size_t digits = 0;
  while (digits < first.size() && digits < 18 && first[first.size() - digits - 1] >= '0' &&
         first[first.size() - digits - 1] <= '9') {
    ++digits;
  }
  std::uint64_t number = 0;
  for (const char c : first.substr(first.size() - digits)) {
    number = 10 * number + static_cast<std::uint64_t>(c - '0');
  }
  const std::string next = fmt::format("{:0{}}", number + step, digits);
  return digits == 0 || next.size() > digits ? std::string()
                                             : first.substr(0, first.size() - digits) + next;
}

io::Bytes PlainSerial::bytes(std::uint64_t step) const {
  std::uint64_t number = 0;
  if (binary == 0) {
    const std::string text = counted_up(first, step);
    return {text.begin(), text.end()};
  }
  if (!parse_uint(first, number) || (binary < 8 && (number + step) >> (8 * binary) != 0)) {
    return {};
  }
  io::Bytes out(binary);
  for (std::size_t i = 0; i < out.size(); ++i) {
    out[i] = static_cast<std::uint8_t>((number + step) >> (8 * i));
  }
  return out;
}

Try<PlainReport> work_plain(io::System& system, const std::string& card,
                            const PlainSettings& settings, const Scenario& scenario,
                            const profile::Device* device,
                            const std::vector<std::uint64_t>& dumps) {
  const std::uint64_t last = std::max<std::uint64_t>(settings.units, 1) - 1;
  for (const PlainSerial& serial : settings.serials) {
    if (serial.bytes(last).empty()) {
      return Unexpected(sim_error("sim-serial", "this serial can't be counted up so far",
                                  serial.first,
                                  "it has as many digits, or bytes, as the last one"));
    }
  }
  const auto loaded = read_plain(system, card, settings.file);
  if (!loaded) {
    return Unexpected(loaded.error());
  }
  return PlainRun(loaded->firmware.image, settings, scenario, device, dumps).work();
}

} // namespace cardseal::station_sim
