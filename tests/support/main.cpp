// The main of every test program, and the switch of the test-only build (base/check_switch.h): the
// number of the check to leave out comes from the environment.
#include <cstdint>
#include <cstdlib>

#ifdef CARDSEAL_CHECK_SWITCH
extern "C" std::uint16_t cardseal_switched_off;
std::uint16_t cardseal_switched_off = [] {
  const char* number = std::getenv("CARDSEAL_SWITCH_OFF");
  return static_cast<std::uint16_t>(number == nullptr ? 0 : std::atoi(number));
}();
#endif

#ifdef CARDSEAL_CATCH_3
#include <catch2/catch_session.hpp>
int main(int argc, char** argv) {
  return Catch::Session().run(argc, argv);
}
#else
#define CATCH_CONFIG_MAIN
#include <catch2/catch.hpp>
#endif
