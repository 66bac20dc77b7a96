# cmake -C tools/release.cmake -B build -G Ninja
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(CARDSEAL_TESTS ON CACHE BOOL "")
