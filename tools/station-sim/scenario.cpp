#include "scenario.h"

#include <algorithm>
#include <charconv>
#include <sstream>

#include "base/number.h"
#include "io/file.h"

namespace cardseal::station_sim {
namespace {

constexpr std::uint64_t longest_scenario = 1 << 20; // bytes

using Words = std::vector<std::string>;

Words words_of(const std::string& line) {
  std::istringstream in(line.substr(0, line.find('#')));
  Words words;
  for (std::string word; in >> word;) {
    words.push_back(word);
  }
  return words;
}

template <class T>
bool number(const std::string& text, std::uint64_t low, std::uint64_t high, T& out) {
  std::uint64_t value = 0;
  const bool good = parse_uint(text, value) && value >= low && value <= high;
  out = good ? static_cast<T>(value) : out;
  return good;
}

bool board_event(const Words& w, Scenario& out) {
  BoardEvent event;
  if (!number(w[1], 1, 9'999'999, event.cycle) || !number(w[3], 1, 32, event.slot)) {
    return false;
  }
  if (w[4] == "verify-error") {
    event.fault = BoardFault::verify_error;
    out.boards.push_back(event);
    return w.size() == 6 && parse_address(w[5], out.boards.back().address);
  }
  const std::pair<const char*, BoardFault> plain[] = {
      {"no-board", BoardFault::no_board},
      {"wrong-device", BoardFault::wrong_device},
      {"wrong-revision", BoardFault::wrong_revision},
      {"other-number", BoardFault::other_number},
      {"over-current", BoardFault::over_current},
      {"locked", BoardFault::locked}};
  for (const auto& [word, fault] : plain) {
    if (w[4] == word) {
      event.fault = fault;
      out.boards.push_back(event);
      return w.size() == 5;
    }
  }
  return false;
}

bool cut(const Words& w, Scenario& out) {
  Cut one;
  one.card_only = w[2] == "card-pulled";
  const bool good = (one.card_only || w[2] == "power-cut") &&
                    number(w[1], 1, 9'999'999, one.cycle) && number(w[3], 1, 9'999'999, one.write);
  out.cuts.push_back(one);
  return good;
}

bool take(const Words& w, Scenario& out) {
  if (w.size() == 2 && w[0] == "tries") {
    return number(w[1], 1, 3, out.tries);
  }
  if (w.size() == 2 && w[0] == "seed") {
    return number(w[1], 0, 999'999'999, out.seed);
  }
  if (w.size() == 2 && w[0] == "log-records") {
    return number(w[1], 0, 9'999'999, out.log_records.emplace());
  }
  if (w.size() == 2 && w[0] == "log-damaged") {
    return number(w[1], 1, 9'999'999, out.log_damaged.emplace());
  }
  if (w.size() == 3 && w[0] == "slot" && w[2] == "off") {
    std::uint8_t slot = 0;
    const bool good = number(w[1], 1, 32, slot);
    out.off.insert(slot);
    return good;
  }
  if (w.size() == 4 && w[0] == "slot" && w[2] == "loose-contact") {
    std::uint8_t slot = 0;
    return number(w[1], 1, 32, slot) && number(w[3], 0, 100, out.loose[slot]);
  }
  if (w.size() >= 5 && w[0] == "cycle" && w[2] == "slot") {
    return board_event(w, out);
  }
  return w.size() == 4 && w[0] == "cycle" && cut(w, out);
}

// Steele, Lea and Flood, "Fast splittable pseudorandom number generators" (2014): the mixing step.
std::uint64_t mixed(std::uint64_t x) {
  x += 0x9E3779B97F4A7C15;
  x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9;
  x = (x ^ (x >> 27)) * 0x94D049BB133111EB;
  return x ^ (x >> 31);
}

} // namespace

bool parse_address(const std::string& text, std::uint64_t& out) {
  const char* const end = text.data() + text.size();
  const auto taken = text.starts_with("0x") ? std::from_chars(text.data() + 2, end, out, 16)
                                            : std::from_chars(text.data(), end, out, 10);
  return taken.ec == std::errc() && taken.ptr == end;
}

const BoardEvent* Scenario::board(std::uint32_t cycle, std::uint8_t slot) const {
  const auto at = std::find_if(boards.begin(), boards.end(), [&](const BoardEvent& one) {
    return one.cycle == cycle && one.slot == slot;
  });
  return at == boards.end() ? nullptr : &*at;
}

const Cut* Scenario::cut(std::uint32_t cycle) const {
  const auto at =
      std::find_if(cuts.begin(), cuts.end(), [&](const Cut& one) { return one.cycle == cycle; });
  return at == cuts.end() ? nullptr : &*at;
}

std::string Scenario::found(std::uint32_t cycle, std::uint8_t slot, std::uint8_t attempt) const {
  if (!contact(cycle, slot, attempt)) {
    return "NO-CONTACT";
  }
  const BoardEvent* event = board(cycle, slot);
  switch (event == nullptr ? BoardFault::no_board : event->fault) {
  case BoardFault::over_current:
    return "OVER-CURRENT";
  case BoardFault::wrong_device:
    return "WRONG-DEVICE";
  case BoardFault::wrong_revision:
    return "WRONG-REVISION";
  case BoardFault::locked:
    return "LOCKED";
  default:
    return {};
  }
}

bool Scenario::contact(std::uint32_t cycle, std::uint8_t slot, std::uint8_t attempt) const {
  const auto at = loose.find(slot);
  const std::uint64_t draw =
      mixed(mixed(mixed(seed) + cycle) + std::uint64_t{256} * slot + attempt) % 100;
  return at == loose.end() || draw >= at->second;
}

Try<Scenario> read_scenario(io::System& system, const std::string& file) {
  const auto bytes = io::read_file(system, file, longest_scenario);
  if (!bytes) {
    return Unexpected(bytes.error());
  }
  std::istringstream in{std::string(text_of(*bytes))};
  Scenario scenario;
  std::uint32_t line_number = 0;
  for (std::string line; std::getline(in, line);) {
    ++line_number;
    const Words words = words_of(line);
    if (!words.empty() && !take(words, scenario)) {
      Error error;
      error.kind = ErrorKind::bad_data;
      error.code = "scenario-line";
      error.what = "this is no event of a scenario";
      error.place.file = file;
      error.place.line = line_number;
      error.found = line;
      error.expected = "such as 'slot 4 loose-contact 40' or 'cycle 3 power-cut 5'";
      error.hint = "station-sim --help lists them";
      return Unexpected(std::move(error));
    }
  }
  return scenario;
}

} // namespace cardseal::station_sim
