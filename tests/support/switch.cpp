// The switch of the modules whose checks can be left out (base/check_switch.h): the number of the
// check comes from the environment. Linked only to the programs that tests/switch runs.
#include <cstdint>
#include <cstdlib>

extern "C" std::uint16_t cardseal_switched_off;
std::uint16_t cardseal_switched_off = [] {
  const char* number = std::getenv("CARDSEAL_SWITCH_OFF");
  return static_cast<std::uint16_t>(number == nullptr ? 0 : std::atoi(number));
}();
