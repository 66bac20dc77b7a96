// The main of every test program.
#ifdef CARDSEAL_CATCH_3
#include <catch2/catch_session.hpp>
int main(int argc, char** argv) {
  return Catch::Session().run(argc, argv);
}
#else
#define CATCH_CONFIG_MAIN
#include <catch2/catch.hpp>
#endif
